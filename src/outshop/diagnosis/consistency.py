"""Cross-checks of the whole knowledge: names, doubles, circles, empty groups."""

from collections import Counter
from collections.abc import Iterable, Iterator, Mapping
from typing import TYPE_CHECKING

from outshop.diagnosis.model import Weighting
from outshop.diagnosis.terms import BANDS, MOTORS, OUTLINES, SYSTEMS, UNKNOWN, nearest
from outshop.errors import KnowledgeError

if TYPE_CHECKING:
    from outshop.diagnosis.knowledge_base import Knowledge

OPENINGS = ("nothing", "body", "motor", "strip")

Reference = tuple[str, str, Iterable[str], Iterable[str]]  # entry, kind, names used, names known


def check_consistency(knowledge: "Knowledge") -> None:
    """Raise the sentence for the first thing that does not hold together."""
    _no_doubles(knowledge)
    for entry, kind, used, known in _references(knowledge):
        pool = set(known)
        for name in used:
            if name not in pool:
                message = (
                    f"{entry} names the {kind} '{name}', which is not there"
                    f"{nearest(name, pool)}; correct the name or add an entry"
                )
                raise KnowledgeError(message)
    _no_circle({s.id: s.implies for s in knowledge.signs})
    _shares(knowledge)
    _healthy(knowledge)


def _no_doubles(knowledge: "Knowledge") -> None:
    tables = {
        "group": [g.id for g in knowledge.groups],
        "cause": [c.id for c in knowledge.causes],
        "sign": [s.id for s in knowledge.signs],
        "pattern": [p.id for p in knowledge.patterns],
        "check": [c.id for c in knowledge.checks],
        "quantity": [q.key for q in knowledge.quantities],
        "stop": [s.id for s in knowledge.stops],
    }
    for kind, ids in tables.items():
        for name, count in Counter(ids).items():
            if count > 1:
                message = f"{kind} '{name}' is there {count} times; keep one and rename the rest"
                raise KnowledgeError(message)


def _context(entry: str, context: Weighting, history: set[str]) -> Iterator[Reference]:
    yield entry, "system", context.system, SYSTEMS
    yield entry, "motor", context.motor, MOTORS
    yield entry, "age band", context.years, BANDS
    yield entry, "outline", context.outline, OUTLINES
    yield entry, "history sign", context.history, history


def _references(knowledge: "Knowledge") -> Iterator[Reference]:
    yield from _from_groups_and_causes(knowledge)
    yield from _from_signs(knowledge)
    yield from _from_the_rest(knowledge)


def _from_groups_and_causes(knowledge: "Knowledge") -> Iterator[Reference]:
    groups = {g.id for g in knowledge.groups}
    signs, history = _sign_ids(knowledge)
    checks = {c.id for c in knowledge.checks}
    for group in knowledge.groups:
        yield from _context(f"group '{group.id}'", group.context, history)
    for cause in knowledge.causes:
        entry = f"cause '{cause.id}'"
        yield entry, "group", [cause.group], groups
        yield entry, "check", [cause.confirm], checks
        yield entry, "sign", cause.signs, signs
        yield from _context(entry, cause.context, history)


def _from_signs(knowledge: "Knowledge") -> Iterator[Reference]:
    groups = {g.id for g in knowledge.groups}
    families = {g.family for g in knowledge.groups}
    causes = {c.id for c in knowledge.causes}
    signs, _ = _sign_ids(knowledge)
    for sign in knowledge.signs:
        entry = f"sign '{sign.id}'"
        yield entry, "family", sign.family, families
        yield entry, "group", sign.group, groups
        yield entry, "cause", sign.cause, causes
        yield entry, "sign", (*sign.implies, *sign.excludes), signs
        for when in sign.when:
            yield entry, "group", when.group, groups
            yield entry, "cause", when.cause, causes
            yield from _conditions(entry, when.system, when.motor, when.years)


def _from_the_rest(knowledge: "Knowledge") -> Iterator[Reference]:
    groups = {g.id for g in knowledge.groups}
    signs, history = _sign_ids(knowledge)
    for pattern in knowledge.patterns:
        entry = f"pattern '{pattern.id}'"
        yield entry, "sign", (*pattern.yes, *pattern.no), signs | history
        yield entry, "group", pattern.factor, groups
        yield from _conditions(entry, pattern.system, pattern.motor, pattern.years)
    for check in knowledge.checks:
        entry = f"check '{check.id}'"
        yield entry, "opening", [check.opens], OPENINGS
        yield entry, "sign", check.tells, signs
        yield from _conditions(entry, check.system, check.motor, ())
    for quantity in knowledge.quantities:
        entry = f"quantity '{quantity.key}'"
        sides = [side for side in (quantity.above, quantity.below) if side]
        words = [x for v in quantity.verdicts.values() for x in (*v.yes, *v.no)]
        yield entry, "sign", (*(s.sign for s in sides), *words, *quantity.same_as), signs
        for side in sides:
            yield entry, "system", side.by_system, SYSTEMS
    for stop in knowledge.stops:
        entry = f"stop '{stop.id}'"
        yield entry, "sign", (*stop.signs, *stop.cleared_by), signs
        yield entry, "group", [stop.group] if stop.group else [], groups
        yield entry, "age band", stop.years, BANDS


def _sign_ids(knowledge: "Knowledge") -> tuple[set[str], set[str]]:
    """Ids of signs other than history, and of history signs."""
    history = {s.id for s in knowledge.signs if s.kind == "history"}
    return {s.id for s in knowledge.signs} - history, history


def _conditions(
    entry: str, system: Iterable[str], motor: Iterable[str], years: Iterable[str]
) -> Iterator[Reference]:
    yield entry, "system", system, (*SYSTEMS, UNKNOWN)
    yield entry, "motor", motor, (*MOTORS, UNKNOWN)
    yield entry, "age band", years, (*BANDS, UNKNOWN)


def _no_circle(implies: Mapping[str, tuple[str, ...]]) -> None:
    """Walk the implications; a sign that leads back to itself is an error."""
    for start in implies:
        trail = [start]
        todo = [(start, iter(implies[start]))]
        while todo:
            _, following = todo[-1]
            step = next(following, None)
            if step is None:
                todo.pop()
                trail.pop()
            elif step in trail:
                loop = " -> ".join([*trail[trail.index(step) :], step])
                message = f"sign '{start}' implies itself in a loop: {loop}; remove one 'implies'"
                raise KnowledgeError(message)
            else:
                trail.append(step)
                todo.append((step, iter(implies.get(step, ()))))


def _shares(knowledge: "Knowledge") -> None:
    total = dict.fromkeys((g.id for g in knowledge.groups), 0.0)
    for cause in knowledge.causes:
        total[cause.group] += cause.share
    for group, share in total.items():
        if share == 0:
            message = f"group '{group}' has no cause; add one to causes/ or remove the group"
            raise KnowledgeError(message)


def _healthy(knowledge: "Knowledge") -> None:
    for sign in knowledge.signs:
        if not sign.healthy:
            continue
        own = {c.id: c.signs[sign.id] for c in knowledge.causes if sign.id in c.signs}
        for name, value in {**sign.family, **sign.group, **sign.cause, **own}.items():
            if value > sign.usual:
                message = (
                    f"sign '{sign.id}' is a healthy sign: '{name}' has {value}, more than "
                    f"'usual' {sign.usual}; a cause can only hinder it"
                )
                raise KnowledgeError(message)
