"""Clashes that plain sums show, without any search: fixed vehicles too long or too heavy.

The force at the worst place is never below the rolling resistance alone, since the line's ends
are level and straight: fixed vehicles that roll too heavily cannot be hauled anywhere.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass

from outshop.formation.haul import TOLERANCE_G
from outshop.formation.rulerows import possible_rules
from outshop.formation.rules import rules_of
from outshop.formation.scene import Vehicle
from outshop.formation.task import Task, units
from outshop.formation.walk import UNITS


@dataclass(frozen=True, slots=True)
class Clash:
    """Keys of demands that cannot be kept together, the fewest, and what would cure it.

    Parameters
    ----------
    keys : tuple of str
        ``force``, ``loop``, ``fixed:NAME`` or ``rule:ID``.
    fixes : tuple of (key, sentence)
        Cures; an empty sentence stands for the usual one of that demand.
    """

    keys: tuple[str, ...]
    fixes: tuple[tuple[str, str], ...]


def counted_clash(task: Task) -> Clash | None:
    """Find a clash that sums show; None where there is none of that sort."""
    wish = task.scene.wish
    rules = rules_of(task.recipe, wish)
    left = possible_rules(task, rules)
    for rule in rules:
        if rule.strength == "forbidden" and rule not in left:
            key = f"rule:{rule.id}"
            return Clash((key,), ((key, ""),))
    fixed = [v for v in task.vehicles if v.name in wish.fixed]
    if wish.loop_mm is not None:
        room, engine = task.room_units, units(task.locomotive.length_mm)
        whole = (sum(units(v.length_mm) for v in fixed) + engine) / UNITS
        found = _too_much("loop", fixed, lambda v: units(v.length_mm), room)
        if found:
            return Clash(found.keys, (("loop", f"a loop of {whole:g} mm"), *found.fixes))
    most = task.locomotive.available_g + TOLERANCE_G
    found = _too_much("force", fixed, _rolling_g, most)
    if found:
        least = sum(_rolling_g(v) for v in fixed)
        cure = f"a pull of more than {least:.4g} g, which they ask for by rolling alone"
        return Clash(found.keys, (("force", cure), *found.fixes))
    return None


def _rolling_g(vehicle: Vehicle) -> float:
    return vehicle.mass_g * vehicle.rolling_permille / 1000


def _too_much(
    key: str, fixed: Sequence[Vehicle], size: Callable[[Vehicle], float], most: float
) -> Clash | None:
    """Give the fewest fixed vehicles that are too much together, and those whose absence helps."""
    total = sum(size(v) for v in fixed)
    if total <= most:
        return None
    chosen, so_far = [], 0.0
    for vehicle in sorted(fixed, key=size, reverse=True):
        chosen.append(vehicle)
        so_far += size(vehicle)
        if so_far > most:
            break
    cures = [v for v in fixed if total - size(v) <= most]
    keys = (key, *(f"fixed:{v.name}" for v in chosen))
    return Clash(keys, tuple((f"fixed:{v.name}", "") for v in cures))
