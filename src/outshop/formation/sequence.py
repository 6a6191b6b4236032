"""The train as a constraint model: which vehicle stands in which place, and which way round.

Places are counted from the engine. Whether the train hauls is demanded at chosen heads of the
line only; :mod:`outshop.formation.solve` adds the heads that a proposed train breaks. Every
such demand is kept by every train that hauls, so the model never loses a good train, and its
bound is a true bound.
"""

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from typing import Any

import numpy as np

from outshop.formation.platform import is_coach
from outshop.formation.scene import Vehicle
from outshop.formation.task import Task, units

MASS_STEPS = 1000  # whole steps a gram
SLOPE_STEPS = 10_000  # whole steps a per mille


def empty_model() -> Any:
    """Give a constraint model without anything in it."""
    from ortools.sat.python import cp_model  # more than a second to load

    return cp_model.CpModel()


@dataclass(slots=True)
class TrainModel:
    """The variables of one model.

    Parameters
    ----------
    model : CpModel
        The model.
    groups : list of list of Vehicle
        Vehicles that differ by name alone, exchangeable.
    at : dict (group, place, turned) -> bool variable
        Which stands where.
    used : list of bool variable
        Whether a place holds a vehicle; no gaps.
    """

    task: Task
    places: int
    model: Any = field(default_factory=empty_model)
    groups: list[list[Vehicle]] = field(default_factory=list)
    at: dict[tuple[int, int, int], Any] = field(default_factory=dict)
    used: list[Any] = field(default_factory=list)
    load: list[Any] = field(default_factory=list)
    begin: list[Any] = field(default_factory=list)
    end: list[Any] = field(default_factory=list)
    middle: list[Any] = field(default_factory=list)
    behind: dict[tuple[int, int], Any] = field(default_factory=dict)
    demanded: set[int] = field(default_factory=set)

    def here(self, group: int, place: int) -> list[Any]:
        """Give the variables of one group at one place, either way round."""
        return [self.at[key] for key in ((group, place, 0), (group, place, 1)) if key in self.at]

    @property
    def filled(self) -> Any:
        """Whether there is a train at all."""
        return self.used[0]

    @property
    def count(self) -> Any:
        """Number of vehicles."""
        return sum(self.used)

    @property
    def length(self) -> Any:
        """Length of the vehicles in steps."""
        step = self.task.step
        return sum(
            (units(self.groups[g][0].length_mm) // step) * x for (g, _, _), x in self.at.items()
        )


def group_alike(vehicles: Sequence[Vehicle], apart: Sequence[str] = ()) -> list[list[Vehicle]]:
    """Gather vehicles that differ by name alone; those named in ``apart`` stay single."""
    groups: dict[Any, list[Vehicle]] = defaultdict(list)
    for vehicle in vehicles:
        key = vehicle if vehicle.name in apart else replace(vehicle, name="")
        groups[key].append(vehicle)
    return list(groups.values())


def build(task: Task, places: int, apart: Sequence[str] = (), *, model: Any = None) -> TrainModel:
    """Build the model of choice, order, turning and fit (no hauling yet).

    Parameters
    ----------
    task : Task
        The question.
    places : int
        Most vehicles the train may have.
    apart : sequence of str
        Vehicles that must keep their own variable.
    model : CpModel, optional
        A model of several trains to add this one to.
    """
    built = TrainModel(task, places, empty_model() if model is None else model)
    built.groups = group_alike(task.vehicles, apart)
    _choose(built)
    _couple(built)
    _fit(built)
    _stand_at_platform(built)
    return built


def _choose(built: TrainModel) -> None:
    model = built.model
    for g, members in enumerate(built.groups):
        turns = (0,) if members[0].couplings[0] == members[0].couplings[1] else (0, 1)
        for k in range(built.places):
            for turned in turns:
                built.at[g, k, turned] = model.new_bool_var(f"at{g}_{k}_{turned}")
        variables = [x for k in range(built.places) for x in built.here(g, k)]
        if len(members) == 1:
            model.add_at_most_one(variables)
        else:
            model.add(sum(variables) <= len(members))
    for k in range(built.places):
        full = model.new_bool_var(f"used{k}")
        here = [x for g in range(len(built.groups)) for x in built.here(g, k)]
        model.add_exactly_one([*here, full.negated()])
        if k:
            model.add_implication(full, built.used[-1])
        built.used.append(full)
    for name in built.task.scene.wish.fixed:
        for g, members in enumerate(built.groups):
            if members[0].name == name:
                here = [x for k in range(built.places) for x in built.here(g, k)]
                model.add(sum(here) == built.filled)


def _couple(built: TrainModel) -> None:
    model, rear = built.model, built.task.locomotive.couplings[1]
    types = {rear} | {c for members in built.groups for c in members[0].couplings}
    if len(types) == 1:
        return
    joint = [
        {name: model.new_bool_var(f"joint{k}_{name}") for name in sorted(types)}
        for k in range(built.places + 1)
    ]
    for row in joint:
        model.add_exactly_one(row.values())
    model.add(joint[0][rear] == 1)
    for (g, k, turned), x in built.at.items():
        ends = built.groups[g][0].couplings
        model.add_implication(x, joint[k][ends[turned]])
        model.add_implication(x, joint[k + 1][ends[1 - turned]])


def _fit(built: TrainModel) -> None:
    model, step = built.model, built.task.step
    model.add(built.length <= built.task.room_units // step)
    lengths = [units(members[0].length_mm) // step for members in built.groups]
    start: Any = 2 * (units(built.task.locomotive.length_mm) // step)
    for k in range(built.places):
        here = sum(lengths[g] * x for g in range(len(lengths)) for x in built.here(g, k))
        most = 2 * (units(built.task.locomotive.length_mm) + built.task.room_units) // step
        end = model.new_int_var(0, most, f"end{k}")
        middle = model.new_int_var(0, most, f"middle{k}")
        model.add(end == start + 2 * here)
        model.add(middle == start + here)
        heaviest = max((round(m[0].mass_g * MASS_STEPS) for m in built.groups), default=0)
        load = model.new_int_var(0, heaviest, f"load{k}")
        model.add(
            load
            == sum(
                round(built.groups[g][0].mass_g * MASS_STEPS) * x
                for g in range(len(lengths))
                for x in built.here(g, k)
            )
        )
        built.begin.append(start)
        built.end.append(end)
        built.middle.append(middle)
        built.load.append(load)
        start = end


def _stand_at_platform(built: TrainModel) -> None:
    """All coaches lie between a first and a last point no further apart than the platform."""
    platform = built.task.platform_units
    coaches = [g for g, members in enumerate(built.groups) if is_coach(members[0])]
    if platform is None or not coaches:
        return
    model, step = built.model, built.task.step
    most = 2 * (units(built.task.locomotive.length_mm) + built.task.room_units) // step
    first, last = model.new_int_var(0, most, "first"), model.new_int_var(0, most, "last")
    model.add(last - first <= 2 * (platform // step))
    for k in range(built.places):
        coach = model.new_bool_var(f"coach{k}")
        model.add(coach == sum(x for g in coaches for x in built.here(g, k)))
        model.add(first <= built.begin[k]).only_enforce_if(coach)
        model.add(last >= built.end[k]).only_enforce_if(coach)


def demand_haul(built: TrainModel, head: int) -> None:
    """Demand that the train hauls when its head stands at ``head`` (half walk units)."""
    if head in built.demanded:
        return
    built.demanded.add(head)
    task, model = built.task, built.model
    profile, step = task.profile, task.step
    scale = MASS_STEPS * SLOPE_STEPS  # one per mille of a gram is 1/1000 gram-force
    slope = profile.effective
    first = units(task.locomotive.length_mm)
    own = int(np.searchsorted(profile.borders, head - first, side="right"))
    room = task.locomotive.available_g * 1000 - task.locomotive.mass_g * profile.grade[own]
    # the thresholds of middles (from the engine's front) at which a section begins
    limits = [(head - int(b)) // step for b in profile.borders]
    terms = [_effort(built, k, limits, slope) for k in range(built.places)]
    rolling = sum(
        int(np.floor(members[0].mass_g * members[0].rolling_permille * scale)) * x
        for g, members in enumerate(built.groups)
        for k in range(built.places)
        for x in built.here(g, k)
    )
    # masses are rounded to whole steps: give back what rounding may have added
    slack = int(built.places * float(np.abs(slope).max()) * SLOPE_STEPS * 0.5) + 1
    model.add(rolling + sum(terms) <= int(np.ceil(room * scale)) + slack)


def _effort(built: TrainModel, place: int, limits: list[int], slope: Any) -> Any:
    """Give a variable that is at least load x slope of the section under the middle."""
    model, load = built.model, built.load[place]
    low, high = _reach(built, place)
    # section s lies at limits[s] < middle <= limits[s - 1]; 0 before the line, n + 1 behind it
    bands = []
    for section in range(len(slope)):
        top = limits[section - 1] if section else None
        bottom = limits[section] if section < len(limits) else None
        if (top is None or top >= low) and (bottom is None or bottom < high):
            bands.append((section, bottom, top))
    steps = [int(np.floor(slope[s] * SLOPE_STEPS)) for s, _, _ in bands]
    if len(set(steps)) == 1:
        return steps[0] * load
    ceiling = round(max(m[0].mass_g for m in built.groups) * MASS_STEPS)
    effort = model.new_int_var(min(*steps, 0) * ceiling, max(*steps, 0) * ceiling, "")
    model.add(effort >= min(steps) * load)
    for value, (_, bottom, top) in zip(steps, bands, strict=True):
        if value == min(steps):
            continue
        reasons = []
        if bottom is not None and bottom >= low:
            reasons.append(_behind(built, place, bottom))
        if top is not None and top < high:
            reasons.append(_behind(built, place, top).negated())
        model.add(effort >= value * load).only_enforce_if(reasons)
    return effort


def _behind(built: TrainModel, place: int, limit: int) -> Any:
    """Give the variable that tells whether the middle at a place lies beyond a limit."""
    if (place, limit) not in built.behind:
        model, middle = built.model, built.middle[place]
        told = model.new_bool_var(f"behind{place}_{limit}")
        model.add(middle >= limit + 1).only_enforce_if(told)
        model.add(middle <= limit).only_enforce_if(told.negated())
        if place and (place - 1, limit) in built.behind:
            model.add_implication(built.behind[place - 1, limit], told)
        built.behind[place, limit] = told
    return built.behind[place, limit]


def _reach(built: TrainModel, place: int) -> tuple[int, int]:
    """Smallest and largest middle that a used place can have, in half steps."""
    step = built.task.step
    lengths = sorted(units(v.length_mm) // step for members in built.groups for v in members)
    first = units(built.task.locomotive.length_mm) // step
    low = 2 * (first + sum(lengths[:place])) + lengths[min(place, len(lengths) - 1)]
    room = 2 * (first + built.task.room_units // step) - lengths[0]
    longest = lengths[::-1][: place + 1]
    high = min(room, 2 * (first + sum(longest)) - longest[-1])
    return low, max(low, high)


def read_train(built: TrainModel, solver: Any) -> tuple[Vehicle, ...]:
    """Give the train that the solver found, from the engine backwards."""
    stock = [list(members) for members in built.groups]
    found: dict[int, int] = {}
    for (g, k, _), x in built.at.items():
        if solver.boolean_value(x):
            found[k] = g
    return tuple(stock[found[k]].pop(0) for k in sorted(found))


def hint(built: TrainModel, train: Sequence[Vehicle]) -> None:
    """Tell the solver a train to start from."""
    from outshop.formation.joints import turning

    turned = turning(built.task.locomotive.couplings[1], train) or (False,) * len(train)
    index = {v.name: g for g, members in enumerate(built.groups) for v in members}
    wanted = set()
    for k, (vehicle, back) in enumerate(zip(train, turned, strict=True)):
        g = index[vehicle.name]
        wanted.add((g, k, int(back) if (g, k, 1) in built.at else 0))
    built.model.clear_hints()
    for key, x in built.at.items():
        built.model.add_hint(x, key in wanted)
