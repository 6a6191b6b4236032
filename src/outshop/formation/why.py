"""Why no train can be made up, and the smallest change that helps."""

from collections.abc import Iterable
from dataclasses import dataclass, replace
from itertools import combinations, islice
from math import ceil

from outshop.formation.counted import Clash, counted_clash
from outshop.formation.exact import Train
from outshop.formation.haul import haul_over
from outshop.formation.possible import SMALL_SHELF, Asked
from outshop.formation.rules import rules_of
from outshop.formation.task import Task, units

MOST_DEMANDS = 8
MOST_TOGETHER, MOST_SETS = 3, 60  # demands lifted at once, and sets of them looked at
SURE_S = 5.0  # given to each such question, so that a busy machine changes no answer
LEAST_S = 0.2  # given to each question about a large shelf
FIRST_SHARE = 0.4  # of the time, for the question whether there is a train at all


@dataclass(frozen=True, slots=True)
class Why:
    """Smallest set of demands that clash, and changes that would cure it, smallest first.

    Parameters
    ----------
    why, smallest_fix : tuple of str
        Sentences.
    proven : bool
        False where time ran out: then no train was found, but one may exist, or the set of
        demands may not be the smallest; a sentence in ``why`` says which.
    train : tuple of Vehicle or None
        A train that turned up all the same: then the task is possible.
    """

    why: tuple[str, ...]
    smallest_fix: tuple[str, ...]
    proven: bool = True
    train: Train | None = None

    def as_json(self) -> dict[str, list[str] | bool]:
        """Give the contract's JSON shape."""
        return {
            "why": list(self.why),
            "smallest_fix": list(self.smallest_fix),
            "proven": self.proven,
        }


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
    small = len(task.vehicles) <= SMALL_SHELF
    asked = Asked(task, seconds, SURE_S if small else LEAST_S)
    clash = None if small else counted_clash(task)
    if clash is not None:
        return _counted(asked, clash, clauses)
    first = asked.possible(_keys(clauses), FIRST_SHARE * seconds)
    if first.train is not None:
        return Why((), (), proven=False, train=first.train)
    if not first.closed:
        return Why(
            (
                (
                    f"no train was found in the time given, among {len(task.vehicles)} vehicles; "
                    "it is not proven that there is none"
                ),
            ),
            ("give more time, or lift one of: " + "; ".join(c.fix for c in clauses),),
            proven=False,
        )
    single = [c for c in clauses if asked.has_train(_keys(d for d in clauses if d != c))]
    core, smallest = _smallest_core(asked, clauses)
    fixes = [_measured(asked, c, clauses) for c in single]
    if not fixes:
        fixes = _together(asked, clauses) or [
            "several things must give way together, among them: " + "; ".join(c.fix for c in core)
        ]
    why = tuple(c.sentence for c in core)
    if not smallest:
        why = (*why, "time ran out: fewer of these may clash already")
    return Why(why, tuple(fixes), proven=smallest)


def _counted(asked: Asked, clash: Clash, clauses: list[Clause]) -> Why:
    """Tell a clash that sums show, unless one demand alone cannot be kept.

    A cure is told only when a train was found with it.
    """
    by_key = {c.key: c for c in clauses}
    keys, fixes = clash.keys, clash.fixes
    if len(keys) > 1:
        for clause in clauses:
            answer = asked.possible(_keys([clause]))
            if answer.train is None and answer.closed:
                keys, fixes = (clause.key,), ((clause.key, ""),)
                break
    why = tuple(by_key[key].sentence for key in keys)
    task, every = asked.task, _keys(clauses)
    cured = []
    for key, sentence in fixes:
        if key == "loop" and sentence and asked.has_train(every, _just_long_enough(task)):
            cured.append(sentence)
        elif asked.has_train(every - {key}):
            clause = by_key[key]
            cured.append(clause.fix if key == "loop" else sentence or clause.fix)
    if cured:
        return Why(why, tuple(cured))
    named = [sentence or by_key[key].fix for key, sentence in fixes]
    return Why(why, ("more than one thing must give way; among them: " + "; or ".join(named),))


def _just_long_enough(task: Task) -> Task:
    """Give the task with a loop that the fixed vehicles fill."""
    fixed = [v for v in task.vehicles if v.name in task.scene.wish.fixed]
    return replace(task, room_units=sum(units(v.length_mm) for v in fixed))


def _keys(clauses: Iterable[Clause]) -> frozenset[str]:
    return frozenset(c.key for c in clauses)


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
    if wish.couplers and engine.couplings[1] not in wish.couplers:
        return Why(
            (
                (
                    f"the line uncouples {', '.join(wish.couplers)}, "
                    f"{engine.name} has {engine.couplings[1]} at its rear"
                ),
            ),
            (f"give {engine.name} a coupling that the line uncouples",),
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
    if wish.platform_mm is not None:
        found.append(
            Clause(
                "platform",
                f"the platforms take {wish.platform_mm:g} mm of coaches",
                "a longer platform, or fewer coaches",
            )
        )
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


def _smallest_core(asked: Asked, clauses: list[Clause]) -> tuple[list[Clause], bool]:
    """Give a set of demands that cannot be kept together, and whether it is a smallest one.

    A demand is left out only when the rest is proven impossible; an unfinished question keeps it.
    """
    core, smallest = list(clauses), True
    for clause in clauses:
        rest = [c for c in core if c != clause]
        answer = asked.possible(_keys(rest))
        if answer.train is None and answer.closed:
            core = rest
        smallest &= answer.train is not None or answer.closed
    if len(clauses) <= MOST_DEMANDS:
        for size in range(1, len(core)):
            for some in combinations(clauses, size):
                answer = asked.possible(_keys(some))
                if answer.train is None and answer.closed:
                    return list(some), smallest
                smallest &= answer.train is not None
    return core, smallest


def _together(asked: Asked, clauses: list[Clause]) -> list[str]:
    """Give the fewest demands that help when they give way together, a sentence for each set."""
    every = _keys(clauses)
    for size in range(2, min(MOST_TOGETHER, len(clauses)) + 1):
        sets = islice(combinations(clauses, size), MOST_SETS)
        found = [some for some in sets if asked.has_train(every - _keys(some))]
        if found:
            return ["together: " + "; and ".join(c.fix for c in some) for some in found]
    return []


def _measured(asked: Asked, clause: Clause, clauses: list[Clause]) -> str:
    """Say how far a demand must give way, where that can be counted."""
    if clause.key == "loop":
        shortest = _shortest_loop(asked, clauses)
        return f"a loop of {shortest:g} mm" if shortest else clause.fix
    if clause.key == "force":
        least = _least_pull(asked, clauses)
        return f"a pull of {least:.4g} g ({clause.fix})" if least else clause.fix
    return clause.fix


def _shortest_loop(asked: Asked, clauses: list[Clause]) -> float | None:
    """Bisect the shortest loop that lets some train through."""
    task = asked.task
    low, high = 0, sum(units(v.length_mm) for v in task.vehicles)
    step = task.step
    while high - low > step and high - low > units(1.0):
        mid = (low + high) // 2 // step * step
        if mid <= low:
            break
        if asked.has_train(_keys(clauses), replace(task, room_units=mid)):
            high = mid
        else:
            low = mid
    return float(ceil((high + units(task.locomotive.length_mm)) / 1_000_000))


def _least_pull(asked: Asked, clauses: list[Clause]) -> float | None:
    """Bisect the least pull that is enough for some train, to one per cent."""
    task = asked.task
    low, high = task.locomotive.available_g, task.locomotive.available_g * 2
    for _ in range(12):
        if asked.has_train(_keys(clauses), _pulling(task, high)):
            break
        low, high = high, high * 2
    else:
        return None
    while high - low > 0.01 * high:
        mid = (low + high) / 2
        if asked.has_train(_keys(clauses), _pulling(task, mid)):
            high = mid
        else:
            low = mid
    return high


def _pulling(task: Task, pull: float) -> Task:
    engine = replace(task.locomotive, pull_g=pull, low_g=None, high_g=None)
    return replace(task, locomotive=engine, scene=replace(task.scene, locomotive=engine))
