"""From the parts to be reached to the least opening that reaches them.

A plan is an AND/OR graph: a removal may become possible in several ways (the body off, or
the cap from below), each way a set of removals that must be off before. Wanted is a
smallest set that reaches the goals in some valid order; among the smallest, the one that
takes the fewest minutes.
"""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import NamedTuple

from outshop.errors import InputError, KnowledgeError, MissingError

MOST_BRANCHES = 100_000  # then the best found so far is given, marked as not proven


@dataclass(frozen=True, slots=True)
class Removal:
    """Something that comes off, and how it goes back.

    Parameters
    ----------
    id, title, text : str
        Its key, what to do, and how.
    back_title, back_text : str
        The reverse.
    ways : tuple of tuple of str
        Alternatives; each is the set of removals that must be off before. Empty means
        that nothing must be off.
    minutes : float
        Off, in minutes; putting back counts the same.
    fastening : str
        What holds it: ``screw``, ``clip``, ``wire``, ``spring``, ``press`` or words.
    remember : str
        Orientation: screw length and place, polarity, rod side, crank position.
    tools, cautions : tuple of str
        What must lie ready; caution ids.
    part : str
        The part whose absence from the model makes this removal needless.
    late : bool
        Whether it goes back only after the function test.
    never_with : tuple of str
        Removals that should not be off at the same time (the other side's rods).
    bag : bool
        Whether its loose parts get a labelled bag.
    """

    id: str
    title: str
    text: str = ""
    back_title: str = ""
    back_text: str = ""
    ways: tuple[tuple[str, ...], ...] = ()
    minutes: float = 5.0
    fastening: str = ""
    remember: str = ""
    tools: tuple[str, ...] = ()
    cautions: tuple[str, ...] = ()
    part: str = ""
    late: bool = False
    never_with: tuple[str, ...] = ()
    bag: bool = True

    def __post_init__(self) -> None:
        """Check once, at the door."""
        if not self.id:
            message = f"the removal {self.title!r} needs a key"
            raise InputError(message)
        if not 0 <= self.minutes <= 24 * 60:
            message = f"{self.title}: minutes must lie between 0 and 1440; got {self.minutes}"
            raise InputError(message)


@dataclass(frozen=True, slots=True)
class StripPlan:
    """A model's own plan.

    Parameters
    ----------
    name : str
        What it is a plan of.
    removals : tuple of Removal
        In the order in which they are shown.
    reach : mapping of str to tuple of str
        Part id to the removals that reach it; ``chassis`` stands for the works without body.
    source : str
        Where it comes from.

    Raises
    ------
    MissingError
        A way, a reach or a ``never_with`` names a removal that is not in the plan.
    InputError
        Two removals have one key.
    """

    name: str
    removals: tuple[Removal, ...]
    reach: Mapping[str, tuple[str, ...]] = field(default_factory=dict)
    source: str = ""

    def __post_init__(self) -> None:
        """Check once, at the door."""
        names = [r.id for r in self.removals]
        twice = {n for n in names if names.count(n) > 1}
        if twice:
            message = f"the plan holds {', '.join(sorted(twice))} twice; give each its own key"
            raise InputError(message)
        for r in self.removals:
            self._check(f"{r.title or r.id} waits for", {n for way in r.ways for n in way})
            self._check(f"{r.title or r.id} is never off with", r.never_with)
        for part, wanted in self.reach.items():
            self._check(f"{part} is reached by", wanted)

    def _check(self, what: str, wanted: Iterable[str]) -> None:
        names = [r.id for r in self.removals]
        for name in wanted:
            if name not in names:
                message = f"{what} {name!r}, which is not in the plan; it has {', '.join(names)}"
                raise MissingError(message)

    def removal(self, name: str) -> Removal:
        """Give one removal by its key.

        Raises
        ------
        MissingError
            It is not in the plan.
        """
        self._check("asked for is", [name])
        return next(r for r in self.removals if r.id == name)


@dataclass(frozen=True, slots=True)
class StripDown:
    """What comes off, in a valid order.

    Parameters
    ----------
    removals : tuple of Removal
        In the order of taking off.
    minutes : float
        Off and back together, in minutes.
    late : frozenset of str
        What goes back only after the function test; it came off first.
    proven : bool
        Whether it is proven to be smallest.
    warnings : tuple of str
        For example that both sides' rods would be off at once.
    """

    removals: tuple[Removal, ...]
    minutes: float
    late: frozenset[str] = frozenset()
    proven: bool = True
    warnings: tuple[str, ...] = ()

    @property
    def reassembly(self) -> tuple[Removal, ...]:
        """The same in reverse."""
        return self.removals[::-1]


def least_opening(
    plan: StripPlan, goals: Iterable[str], *, absent: Iterable[str] = ()
) -> StripDown:
    """Find the smallest valid opening that takes off every removal in ``goals``.

    Parameters
    ----------
    plan : StripPlan
        The model's plan.
    goals : iterable of str
        Keys of removals that must be off; see :func:`goals_for` to start from parts.
    absent : iterable of str
        Part ids that this model does not have: their removals count as done.

    Raises
    ------
    MissingError
        A goal is not in the plan.
    KnowledgeError
        A goal can never be reached because removals wait for each other; the loop is named.
    """
    wanted = tuple(dict.fromkeys(goals))
    for name in wanted:
        plan.removal(name)
    gone = {r.id for r in plan.removals if r.part and r.part in set(absent)}
    ways = _simplified(plan, gone)
    wanted = tuple(name for name in wanted if name not in gone)
    _check_loops(ways, wanted)
    cost = {r.id: r.minutes for r in plan.removals}
    rivals = {r.id: frozenset(r.never_with) for r in plan.removals}
    search = _Search(ways, cost, rivals)
    search.run(wanted)
    warnings: list[str] = []
    if search.best is None:
        # Apart is not possible: allow both, and say so.
        search = _Search(ways, cost, {})
        search.run(wanted)
        warnings = _together(plan, search.best.chosen if search.best else {})
    best = search.best
    if best is None:  # unreachable goals were refused above
        message = "the plan has no valid order; look for removals that wait for each other"
        raise KnowledgeError(message)
    late = _late(plan, best.chosen)
    order = _order(plan, best.chosen, late)
    minutes = 2 * sum(r.minutes for r in order)
    proven = search.branches <= MOST_BRANCHES
    return StripDown(order, minutes, late, proven, tuple(warnings))


def goals_for(plan: StripPlan, parts: Iterable[str]) -> tuple[str, ...]:
    """Give the removals that reach the named parts; a part without an entry needs none."""
    return tuple(dict.fromkeys(name for part in parts for name in plan.reach.get(part, ())))


def find_loop(plan: StripPlan) -> tuple[str, ...]:
    """Give a loop of removals that can never come off, first key repeated at the end, or ()."""
    ways = _simplified(plan, set())
    stuck = set(ways) - _reachable(ways)
    return _loop(ways, stuck) if stuck else ()


class _Found(NamedTuple):
    """A solution: its cost, and for each removal the way by which it comes off."""

    cost: tuple[int, float]
    chosen: dict[str, frozenset[str]]


class _Search:
    """Branch and bound: settle one needed removal after another by each of its ways."""

    def __init__(
        self,
        ways: Mapping[str, Sequence[frozenset[str]]],
        cost: Mapping[str, float],
        rivals: Mapping[str, frozenset[str]],
    ) -> None:
        self.ways = ways
        self.cost = cost
        self.rivals = rivals
        self.best: _Found | None = None
        self.branches = 0

    def run(self, wanted: Sequence[str]) -> None:
        """Search from the goals."""
        if self._agree(set(wanted)):
            self._settle({}, frozenset(wanted))

    def _settle(self, chosen: dict[str, frozenset[str]], needed: frozenset[str]) -> None:
        self.branches += 1
        if self.branches > MOST_BRANCHES:
            return
        cost = (len(needed), sum(self.cost[name] for name in needed))
        if self.best is not None and cost >= self.best.cost:
            return
        open_ones = [name for name in needed if name not in chosen]
        if not open_ones:
            self.best = _Found(cost, dict(chosen))
            return
        # The one with the fewest ways first; its name decides ties, so that runs agree.
        name = min(open_ones, key=lambda n: (len(self.ways[n]), n))
        for way in sorted(self.ways[name], key=lambda w: (len(w - needed), sorted(w))):
            grown = needed | way
            if self._agree(grown) and not _waits_for_itself(name, way, chosen):
                self._settle({**chosen, name: way}, grown)

    def _agree(self, needed: Iterable[str]) -> bool:
        """Tell whether no two of the needed exclude each other."""
        group = set(needed)
        return not any(self.rivals.get(name, frozenset()) & group for name in group)


def _waits_for_itself(name: str, way: frozenset[str], chosen: Mapping[str, frozenset[str]]) -> bool:
    """Tell whether this way closes a loop among the ways chosen so far."""
    todo, seen = list(way), set(way)
    while todo:
        current = todo.pop()
        if current == name:
            return True
        fresh = chosen.get(current, frozenset()) - seen
        seen |= fresh
        todo.extend(fresh)
    return False


def _simplified(plan: StripPlan, gone: set[str]) -> dict[str, tuple[frozenset[str], ...]]:
    """Give each removal's ways without what is gone, and without ways that hold a smaller one."""
    simple = {}
    for r in plan.removals:
        ways = {frozenset(way) - gone for way in r.ways} or {frozenset()}
        simple[r.id] = tuple(w for w in ways if not any(other < w for other in ways))
    return simple


def _reachable(ways: Mapping[str, Sequence[frozenset[str]]]) -> set[str]:
    """Give every removal that can come off in some order."""
    done: set[str] = set()
    while True:
        fresh = {n for n, w in ways.items() if n not in done and any(way <= done for way in w)}
        if not fresh:
            return done
        done |= fresh


def _check_loops(ways: Mapping[str, Sequence[frozenset[str]]], wanted: Sequence[str]) -> None:
    stuck = set(ways) - _reachable(ways)
    for name in wanted:
        if name in stuck:
            loop = " → ".join(_loop(ways, stuck, name))
            message = f"these removals wait for each other: {loop}; take one link out of the plan"
            raise KnowledgeError(message)


def _loop(
    ways: Mapping[str, Sequence[frozenset[str]]], stuck: set[str], start: str = ""
) -> tuple[str, ...]:
    """Walk along what is stuck until a removal comes up again."""
    trail = [start or min(stuck)]
    while True:
        # A stuck removal has something stuck in each of its ways.
        ahead = min(name for way in ways[trail[-1]] for name in way if name in stuck)
        if ahead in trail:
            return (*trail[trail.index(ahead) :], ahead)
        trail.append(ahead)


def _late(plan: StripPlan, chosen: Mapping[str, frozenset[str]]) -> frozenset[str]:
    """Give what goes back after the function test: the late ones and all they wait for."""
    late: set[str] = set()
    todo = [r.id for r in plan.removals if r.id in chosen and r.late]
    while todo:
        name = todo.pop()
        if name not in late:
            late.add(name)
            todo.extend(chosen[name])
    return frozenset(late)


def _order(
    plan: StripPlan, chosen: Mapping[str, frozenset[str]], late: frozenset[str]
) -> tuple[Removal, ...]:
    """Order the chosen removals: what goes back last comes off first, then the plan's order."""
    left = sorted((r for r in plan.removals if r.id in chosen), key=lambda r: r.id not in late)
    done: list[Removal] = []
    off: set[str] = set()
    while left:
        ready = next(r for r in left if chosen[r.id] <= off)
        left.remove(ready)
        done.append(ready)
        off.add(ready.id)
    return tuple(done)


def _together(plan: StripPlan, chosen: Iterable[str]) -> list[str]:
    """Say which removals that should stay apart are off together."""
    off = set(chosen)
    pairs = {
        tuple(sorted((r.title, plan.removal(other).title)))
        for r in plan.removals
        if r.id in off
        for other in r.never_with
        if other in off
    }
    return [
        f"“{a}” and “{b}” would both be off: mark their positions first, "
        "or do one side, put it back, then the other"
        for a, b in sorted(pairs)
    ]
