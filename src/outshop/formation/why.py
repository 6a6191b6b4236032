"""Why no train can be made up, and the smallest change that helps."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from itertools import combinations
from math import ceil

from outshop.formation.exact import Demand, prove
from outshop.formation.haul import haul_over
from outshop.formation.rules import rules_of
from outshop.formation.scene import Range, Scene
from outshop.formation.task import Task, units

LIGHTEST_TRIED = 60  # shelf vehicles looked at when a cause is sought; more only cost time
MOST_DEMANDS = 8
SMALL_SHELF = 10  # vehicles up to which every question is closed in a moment
SURE_S = 5.0  # given to each such question, so that a busy machine changes no answer


@dataclass(frozen=True, slots=True)
class Why:
    """Smallest set of demands that clash, and changes that would cure it, smallest first."""

    why: tuple[str, ...]
    smallest_fix: tuple[str, ...]

    def as_json(self) -> dict[str, list[str]]:
        """Give the contract's JSON shape."""
        return {"why": list(self.why), "smallest_fix": list(self.smallest_fix)}


@dataclass(frozen=True, slots=True)
class Clause:
    """One demand that can be lifted: its key, its sentence, and what lifting it means."""

    key: str
    sentence: str
    fix: str


def explain(task: Task, seconds: float = 4.0) -> Why:
    """Explain an impossible task."""
    plain = _plain_reasons(task)
    if plain is not None:
        return plain
    clauses = _clauses(task)
    least = SURE_S if len(task.vehicles) <= SMALL_SHELF else 0.2
    each = max(least, seconds / (2 * len(clauses) + 2))
    single = [c for c in clauses if _possible(task, [d for d in clauses if d != c], each)]
    core = _smallest_core(task, clauses, each)
    fixes = [_measured(task, c, each) for c in single]
    if not fixes:
        fixes = ["several of these must give way together: " + "; ".join(c.fix for c in core)]
    return Why(tuple(c.sentence for c in core), tuple(fixes))


def _plain_reasons(task: Task) -> Why | None:
    """Find the causes that need no search."""
    scene, wish = task.scene, task.scene.wish
    tightest = min((s.radius_mm for s in scene.line if s.radius_mm), default=0.0)
    engine = scene.locomotive
    if tightest and engine.min_radius_mm > tightest:
        return Why(
            (
                (
                    f"{engine.name} needs a radius of {engine.min_radius_mm:g} mm, "
                    f"the line has {tightest:g} mm"
                ),
            ),
            (f"widen the curve of {tightest:g} mm, or take another locomotive",),
        )
    alone = haul_over(task.profile, engine, ())
    if alone.needed_g > engine.available_g + 1e-9:
        return Why(
            (
                (
                    f"{engine.name} cannot climb section {alone.section} alone: its weight asks "
                    f"{alone.needed_g:.4g} g there, it pulls {engine.available_g:.4g} g"
                ),
            ),
            (
                (
                    f"ease the grade of section {alone.section} to "
                    f"{1000 * engine.available_g / engine.mass_g:.3g} per mille, or raise the pull"
                ),
            ),
        )
    lost = [(n, why) for n, why in task.aside if n in wish.fixed]
    if lost:
        return Why(
            tuple(f"{name!r} is fixed, but {why}" for name, why in lost),
            tuple(f"leave {name!r} free" for name, _ in lost),
        )
    if not scene.vehicles:
        return Why(("there are no vehicles on the shelf",), ("add a [[vehicle]]",))
    if not task.vehicles:
        return Why(_gathered(task.aside), _shelf_fix(task))
    if task.room_units <= 0:
        return Why(
            (
                (
                    f"the loops take {wish.loop_mm:g} mm, the locomotive alone is "
                    f"{engine.length_mm:g} mm long"
                ),
            ),
            (f"a loop longer than {engine.length_mm:g} mm",),
        )
    return None


def _gathered(aside: Iterable[tuple[str, str]]) -> tuple[str, ...]:
    """Give one sentence for each reason, with the vehicles it holds for."""
    found: dict[str, list[str]] = {}
    for name, reason in aside:
        found.setdefault(reason, []).append(name)
    return tuple(f"{', '.join(names)}: {reason}" for reason, names in found.items())


def _shelf_fix(task: Task) -> tuple[str, ...]:
    wish = task.scene.wish
    fixes = []
    if wish.year is not None and any("not in" in why for _, why in task.aside):
        from outshop.railway.edtf_years import read_years

        ends = [
            end
            for v in task.scene.vehicles
            if v.years
            for end in (read_years(v.years).first, read_years(v.years).last)
            if end is not None
        ]
        if ends:
            near = min(ends, key=lambda y: abs(y - (wish.year or 0)))
            fixes.append(f"choose the year {near} instead of {wish.year}")
    if any("does not run in" in why for _, why in task.aside) and task.recipe:
        fixes.append(f"add one of {', '.join(task.recipe.kinds)} to the shelf, or drop the recipe")
    return tuple(fixes) or ("add vehicles that may run",)


def _clauses(task: Task) -> list[Clause]:
    wish, engine = task.scene.wish, task.locomotive
    found = [
        Clause(
            "force",
            f"the train must haul with {engine.available_g:.4g} g of pull",
            "more pull, lighter or freer running vehicles",
        )
    ]
    if wish.loop_mm is not None:
        found.append(Clause("loop", f"the loops take {wish.loop_mm:g} mm", "a longer loop"))
    ends = {c for v in task.vehicles for c in v.couplings} | {engine.couplings[1]}
    if len(ends) > 1:
        found.append(
            Clause(
                "couplings",
                "every joint must couple (there are " + ", ".join(sorted(ends)) + ")",
                "a vehicle with a second coupling",
            )
        )
    found += [Clause(f"fixed:{n}", f"{n!r} is fixed", f"leave {n!r} free") for n in wish.fixed]
    for rule in rules_of(task.recipe, wish):
        if rule.strength == "forbidden":
            found.append(
                Clause(
                    f"rule:{rule.id}",
                    f"{rule.id}: {rule.why}",
                    f"give up the rule {rule.id!r}{_lacking(task, rule.args)}",
                )
            )
    return found


def _lacking(task: Task, args: object) -> str:
    from collections.abc import Mapping

    from outshop.formation.recipes import selects

    if not isinstance(args, Mapping) or "select" not in args or not args.get("min"):
        return ""
    have = [v for v in task.vehicles if any(selects(s, v, task.scene.wish) for s in args["select"])]
    if len(have) >= args["min"]:
        return ""
    return f", or add a vehicle of kind {' or '.join(args['select'])} (the shelf has {len(have)})"


def _possible(task: Task, clauses: Sequence[Clause], seconds: float) -> bool:
    """Tell whether some train of one vehicle or more keeps just these demands."""
    keys = {c.key for c in clauses}
    lifted = _lifted(task, keys)
    loose = frozenset(
        r.id for r in rules_of(task.recipe, task.scene.wish) if f"rule:{r.id}" not in keys
    )
    if not lifted.vehicles or lifted.room_units <= 0:
        return False
    most = min(len(lifted.vehicles), 40)
    answer = prove(lifted, Demand("believable", most, loose=loose, any_will_do=True), seconds)
    return answer.train is not None


def _lifted(task: Task, keys: set[str]) -> Task:
    scene: Scene = task.scene
    engine, vehicles = scene.locomotive, task.vehicles[:LIGHTEST_TRIED]
    fixed = tuple(n for n in scene.wish.fixed if f"fixed:{n}" in keys)
    wish = replace(scene.wish, fixed=fixed)
    vehicles = (*vehicles, *(v for v in task.vehicles[LIGHTEST_TRIED:] if v.name in fixed))
    if "couplings" not in keys:
        engine = replace(engine, couplings=("any", "any"))
        vehicles = tuple(replace(v, couplings=("any", "any")) for v in vehicles)
    room = task.room_units
    if "loop" not in keys:
        room = sum(units(v.length_mm) for v in vehicles)
    if "force" not in keys:
        engine = replace(engine, pull_g=1e9, low_g=None)
        vehicles = tuple(replace(v, rolling=Range(0.0, 0.0, 0.0)) for v in vehicles)
    return replace(
        task,
        locomotive=engine,
        vehicles=vehicles,
        room_units=room,
        scene=replace(scene, locomotive=engine, wish=wish),
    )


def _smallest_core(task: Task, clauses: list[Clause], seconds: float) -> list[Clause]:
    """Give a smallest set of demands that cannot be kept together."""
    core = list(clauses)
    for clause in clauses:
        rest = [c for c in core if c != clause]
        if not _possible(task, rest, seconds):
            core = rest
    if len(clauses) <= MOST_DEMANDS:
        for size in range(1, len(core)):
            for some in combinations(clauses, size):
                if not _possible(task, some, seconds):
                    return list(some)
    return core


def _measured(task: Task, clause: Clause, seconds: float) -> str:
    """Say how far a demand must give way, where that can be counted."""
    if clause.key == "loop":
        shortest = _shortest_loop(task, seconds)
        return f"a loop of {shortest:g} mm" if shortest else clause.fix
    if clause.key == "force":
        least = _least_pull(task, seconds)
        return f"a pull of {least:.4g} g ({clause.fix})" if least else clause.fix
    return clause.fix


def _shortest_loop(task: Task, seconds: float) -> float | None:
    """Bisect the shortest loop that lets some train through."""
    low, high = 0, sum(units(v.length_mm) for v in task.vehicles)
    step = task.step
    while high - low > step and high - low > units(1.0):
        mid = (low + high) // 2 // step * step
        if mid <= low:
            break
        wider = replace(task, room_units=mid)
        if _possible(wider, _clauses(task), seconds):
            high = mid
        else:
            low = mid
    return float(ceil((high + units(task.locomotive.length_mm)) / 1_000_000))


def _least_pull(task: Task, seconds: float) -> float | None:
    low, high = task.locomotive.available_g, task.locomotive.available_g * 2
    for _ in range(12):
        if _possible(_pulling(task, high), _clauses(task), seconds):
            break
        low, high = high, high * 2
    else:
        return None
    while high - low > 0.01 * high:
        mid = (low + high) / 2
        if _possible(_pulling(task, mid), _clauses(task), seconds):
            high = mid
        else:
            low = mid
    return high


def _pulling(task: Task, pull: float) -> Task:
    engine = replace(task.locomotive, pull_g=pull, low_g=None, high_g=None)
    return replace(task, locomotive=engine, scene=replace(task.scene, locomotive=engine))
