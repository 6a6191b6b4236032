"""The rules of order as one finite automaton: what the path bound may put behind what.

Each rule of place, order, nearness or small number is a machine that reads vehicles from the engine
backwards; couplings are one more. Their product, without the states from which no end is allowed
and with those that say the same merged, tells for each state and vehicle the next state. A rule
that would make the product too large is left out: the bound stays true, only looser.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from outshop.formation.recipes import Rule, selects
from outshop.formation.task import Task

MOST_STATES = 24
MOST_COUNTED = 2  # a number up to which vehicles are counted by states, not by a price

State = Any  # what a machine remembers; hashable
Flags = tuple[bool, ...]


@dataclass(frozen=True, slots=True)
class Machine:
    """One rule read along the train.

    Parameters
    ----------
    start : hashable
        The state behind the engine.
    step : callable (state, flags of a vehicle) -> state or None
        None: the rule is broken for good.
    final : callable state -> bool
        Whether the train may end here.
    flags : tuple of Flags
        What each vehicle is to the rule.
    """

    start: State
    step: Callable[[State, Flags], State | None]
    final: Callable[[State], bool]
    flags: tuple[Flags, ...]


@dataclass(frozen=True, slots=True)
class Shape:
    """What may follow what.

    Parameters
    ----------
    who : array of int, shape (variants,)
        Vehicle of each variant: as it is, and turned where its couplings differ.
    follow : array of int, shape (states, variants)
        The state behind a variant that stands in a state; ``states`` (one too many) when it may
        not stand there. The train begins in state 0.
    final : array of bool, shape (states,)
        Whether the train may end in a state.
    """

    who: NDArray[np.int64]
    follow: NDArray[np.int64]
    final: NDArray[np.bool_]

    @property
    def is_empty(self) -> bool:
        """Tell whether no vehicle at all may stand behind the engine."""
        return not bool((self.follow[0] < len(self.final)).any())


def shape_of(task: Task, rules: Sequence[Rule]) -> Shape:
    """Give the shape that couplings and rules of order leave.

    Parameters
    ----------
    task : Task
        The question.
    rules : sequence of Rule
        Rules that are kept.
    """
    machines: list[Machine] = []
    shape = _product(task, machines)
    for rule in rules:
        machine = _machine(task, rule)
        if machine is None:
            continue
        larger = _product(task, [*machines, machine])
        if larger is not None:
            machines.append(machine)
            shape = larger
    if shape is None:  # too many couplings: any may follow any
        numbers = np.arange(len(task.vehicles))
        return Shape(numbers, np.zeros((1, len(numbers)), dtype=np.int64), np.ones(1, dtype=bool))
    return shape


def near_engine(rules: Sequence[Rule]) -> list[Rule]:
    """Give the rules that say what may stand next to the engine: a small shape, quickly priced."""
    found = []
    for rule in rules:
        args = rule.args
        single = rule.test == "count" and args.get("max", 2) <= 1
        place = rule.test == "place" and args["at"] in {"first", "not-first"}
        if single or place or (rule.test == "apart" and args.get("away_from") == "locomotive"):
            found.append(rule)
    return found


def _product(task: Task, machines: Sequence[Machine]) -> Shape | None:
    variants = _variants(task)
    signs = [tuple(m.flags[i] for m in machines) for i in range(len(task.vehicles))]
    kinds = [(front, rear, signs[i]) for i, front, rear in variants]
    classes = list(dict.fromkeys(kinds))
    begin = (task.locomotive.couplings[1], tuple(m.start for m in machines))
    known, ahead, table = {begin: 0}, [begin], []
    while ahead:
        joint, states = ahead.pop(0)
        row = []
        for front, rear, sign in classes:
            after = _after(machines, states, sign) if front == joint else None
            if after is None:
                row.append(-1)
                continue
            state = (rear, after)
            if state not in known:
                if len(known) >= 4 * MOST_STATES:
                    return None
                known[state] = len(known)
                ahead.append(state)
            row.append(known[state])
        table.append(row)
    final = [all(m.final(s) for m, s in zip(machines, states, strict=True)) for _, states in known]
    follow = np.array(table, dtype=np.int64).reshape(len(known), len(classes))
    follow, ends = _merged(*_alive(follow, np.array(final)))
    if len(follow) > MOST_STATES:
        return None
    column = {kind: k for k, kind in enumerate(classes)}
    columns = [column[kind] for kind in kinds]
    return Shape(np.array([i for i, _, _ in variants], dtype=np.int64), follow[:, columns], ends)


def _variants(task: Task) -> list[tuple[int, str, str]]:
    found = []
    for i, vehicle in enumerate(task.vehicles):
        front, rear = vehicle.couplings
        found += [(i, a, b) for a, b in sorted({(front, rear), (rear, front)})]
    return found


def _after(
    machines: Sequence[Machine], states: tuple[State, ...], sign: tuple[Flags, ...]
) -> tuple[State, ...] | None:
    found = []
    for machine, state, flags in zip(machines, states, sign, strict=True):
        after = machine.step(state, flags)
        if after is None:
            return None
        found.append(after)
    return tuple(found)


def _alive(
    follow: NDArray[np.int64], final: NDArray[np.bool_]
) -> tuple[NDArray[np.int64], NDArray[np.bool_]]:
    """Leave out states from which the train cannot end (the first stays)."""
    alive = final.copy()
    while True:
        more = alive | np.where(follow >= 0, alive[follow], False).any(axis=1)
        if (more == alive).all():
            break
        alive = more
    alive[0] = True
    number = np.full(len(follow) + 1, -1)
    number[np.flatnonzero(alive)] = np.arange(alive.sum())
    return number[follow[alive]], final[alive]


def _merged(
    follow: NDArray[np.int64], final: NDArray[np.bool_]
) -> tuple[NDArray[np.int64], NDArray[np.bool_]]:
    """Merge states that say the same of all that follows (Moore's refinement)."""
    block = final.astype(np.int64)
    while True:
        ahead = np.where(follow >= 0, block[follow], -1)
        names: dict[tuple[int, ...], int] = {}
        rows = np.column_stack([block, ahead]).tolist()
        fresh = np.array([names.setdefault(tuple(row), len(names)) for row in rows])
        if len(names) == len(set(block.tolist())):
            break
        block = fresh
    first = [int(np.flatnonzero(fresh == b)[0]) for b in range(len(names))]
    merged = np.where(follow[first] >= 0, fresh[follow[first]], len(names))
    return merged, final[first]


def _machine(task: Task, rule: Rule) -> Machine | None:
    """Give the machine of a rule; None for rules that are not about order."""
    args = rule.args
    if rule.test == "order":
        return _order(task, args["groups"], bool(args.get("either_way")))
    if rule.test not in {"place", "together", "apart", "count"}:
        return None
    chosen = _flags(task, [args["select"]])
    if rule.test == "count":
        return _count(chosen, int(args.get("min", 0)), args.get("max"))
    if rule.test == "place":
        return _place(chosen, args["at"])
    if rule.test == "together":
        return Machine(0, _together, _always, chosen)
    between = int(args["between"])
    if args.get("away_from") == "locomotive":
        return Machine(0, lambda k, f: None if f[0] and k < between else min(k + 1, between),
                       _always, chosen)  # fmt: skip
    both = _flags(task, [args["select"], args.get("away_from", args["select"])])
    return _apart(both, between)


def _flags(task: Task, groups: Sequence[Sequence[str]]) -> tuple[Flags, ...]:
    wish = task.scene.wish
    return tuple(
        tuple(any(selects(s, v, wish) for s in group) for group in groups) for v in task.vehicles
    )


def _always(_state: State) -> bool:
    return True


def _count(chosen: tuple[Flags, ...], least: int, most: int | None) -> Machine | None:
    top = least if most is None else most + 1
    if top > MOST_COUNTED or (most is None and least == 0):
        return None

    def step(state: State, flags: Flags) -> State | None:
        number = int(state) + flags[0]
        if most is not None and number > most:
            return None
        return min(number, top)

    return Machine(0, step, lambda s: int(s) >= least, chosen)


def _place(chosen: tuple[Flags, ...], at: str) -> Machine:
    """Read a place: at the head, past it, and at the tail."""
    if at == "not-first":
        return Machine(0, lambda s, f: None if f[0] and s == 0 else 1, _always, chosen)
    if at == "not-last":
        return Machine(0, lambda _s, f: int(f[0]), lambda s: s == 0, chosen)
    if at == "last":
        return Machine(0, lambda s, f: None if s and not f[0] else int(f[0]), _always, chosen)

    def step(state: State, flags: Flags) -> State | None:
        if state == "head":
            return "head" if flags[0] else "past"
        if state == "past":
            return "past" if not flags[0] else "tail" if at == "ends" else None
        return "tail" if flags[0] else None

    return Machine("head", step, _always, chosen)


def _together(state: State, flags: Flags) -> State | None:
    """Read one run only: 0 before it, 1 in it, 2 behind it."""
    if flags[0]:
        return None if state == 2 else 1
    return 2 if state else 0


def _apart(both: tuple[Flags, ...], between: int) -> Machine:
    """Remember how far back the last of each stands."""

    def step(state: State, flags: Flags) -> State | None:
        one, other = state
        if (flags[0] and other <= between) or (flags[1] and one <= between):
            return None
        far = between + 1
        return (1 if flags[0] else min(one + 1, far), 1 if flags[1] else min(other + 1, far))

    return Machine((between + 1, between + 1), step, _always, both)


def _order(task: Task, groups: Sequence[Sequence[str]], either_way: bool) -> Machine:
    """Remember the last rank and the way it went: 1 rising, -1 falling, 0 not known yet."""

    def step(state: State, flags: Flags) -> State | None:
        last, way = state
        for rank in (r for r, inside in enumerate(flags) if inside):
            if last is not None and rank != last:
                turn = 1 if rank > last else -1
                if (way and turn != way) or (turn < 0 and not either_way):
                    return None
                way = turn
            last = rank
        return (last, way)

    return Machine((None, 0), step, _always, _flags(task, groups))
