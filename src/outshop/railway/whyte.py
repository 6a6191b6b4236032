"""Whyte notation: wheels leading, driving, trailing.

Whyte cannot tell a truck from carrying axles held in the main frame; the most usual reading
is given first. A prime is taken to be usual where the carrying group has two axles or more,
or there are three or more driven axles; otherwise the old rigid form is (2-2-2 is 1A1).
"""

import re
from itertools import product

from outshop.errors import NotationError
from outshop.railway.axle_groups import AxleGroup, Unit

PATTERN = re.compile(r"\d{1,2}(?:-\d{1,2})+(?:\+\d{1,2}(?:-\d{1,2})+)*")
_FEWEST_PARTS, _MOST_PARTS = 3, 5  # 0-6-0 to the triplex 2-8-8-8-4


def read_units(text: str) -> tuple[Unit, ...]:
    """Read Whyte notation, such as ``4-6-2+2-6-4``, in its most usual meaning.

    Raises
    ------
    NotationError
        The number of parts or of wheels cannot be.
    """
    parts = [_axles_of(text, unit) for unit in text.split("+")]
    return tuple(_unit(p, garratt=len(parts) > 1) for p in parts)


def readings(text: str) -> tuple[str, ...]:
    """Give every UIC arrangement that one Whyte text may mean, the most usual first.

    Raises
    ------
    NotationError
        It is no Whyte notation.
    """
    first = "+".join(u.uic for u in read_units(text))
    choices = []
    for unit in text.split("+"):
        lead, *driven, trail = _axles_of(text, unit)
        middles = ["".join(map(_letter, driven))]
        if len(driven) > 1:
            middles.append("".join(_letter(d) + "'" for d in driven[:-1]) + _letter(driven[-1]))
        choices.append(
            ["".join(c) for c in product(_carrying_forms(lead), middles, _carrying_forms(trail))]
        )
    every = ("+".join(units) for units in product(*choices))
    return tuple(dict.fromkeys((first, *every)))


def write(units: tuple[Unit, ...]) -> str | None:
    """Write engine units in Whyte notation, or None where there is none.

    There is none for motor bogies (no driven axle in the main frame) and for
    carrying axles between driven ones.
    """
    parts = [_write_unit(u.groups, len(units)) for u in units if u.kind == "engine"]
    if not parts or any(u.kind == "trailer" for u in units):
        return None
    return "+".join(p for p in parts if p) if all(parts) else None


def _axles_of(text: str, unit: str) -> list[int]:
    wheels = [int(n) for n in unit.split("-")]
    if not _FEWEST_PARTS <= len(wheels) <= _MOST_PARTS:
        message = f"{text!r} is no Whyte notation: {unit!r} needs leading, driving and trailing"
        raise NotationError(f"{message} wheels, such as 2-6-0")
    if odd := [w for w in wheels if w % 2]:
        message = f"{text!r}: wheels come in pairs, but {odd[0]} is odd; count wheels, not axles"
        raise NotationError(message)
    if not all(wheels[1:-1]):
        message = f"{text!r}: the driving wheels in the middle cannot be 0"
        raise NotationError(message)
    return [w // 2 for w in wheels]


def _unit(axles: list[int], *, garratt: bool) -> Unit:
    lead, *driven, trail = axles
    usual = max(lead, trail) > 1 or sum(driven) > 2  # see the module's text
    groups = [AxleGroup(lead, driven=False, pivoted=usual)] if lead else []
    articulated = len(driven) > 1 or garratt
    for place, count in enumerate(driven):
        pivoted = len(driven) > 1 and place < len(driven) - 1
        bracketed = (place == 0 and lead and pivoted) or (garratt and (lead or trail))
        groups.append(
            AxleGroup(
                count,
                driven=True,
                pivoted=pivoted and not bracketed,
                bracket=0 if bracketed else None,
            )
        )
    if groups and not groups[0].driven and groups[1].bracket is not None:
        groups[0] = AxleGroup(lead, driven=False, pivoted=usual or articulated, bracket=0)
    if trail:
        bracket = 0 if garratt else None
        groups.append(AxleGroup(trail, driven=False, pivoted=usual or articulated, bracket=bracket))
    return Unit(tuple(groups))


def _write_unit(groups: tuple[AxleGroup, ...], units: int) -> str | None:
    driven = [i for i, g in enumerate(groups) if g.driven]
    if not driven or any(not g.driven for g in groups[driven[0] : driven[-1]]):
        return None
    coupled = [groups[i] for i in driven]
    if units == 1 and (coupled[-1].pivoted or coupled[-1].bracket is not None):
        return None
    if units > 1 and len(coupled) > 1:
        return None
    lead = sum(g.count for g in groups[: driven[0]])
    trail = sum(g.count for g in groups[driven[-1] + 1 :])
    return "-".join(str(2 * n) for n in (lead, *(g.count for g in coupled), trail))


def _letter(count: int) -> str:
    return AxleGroup(count, driven=True).sign


def _carrying_forms(count: int) -> list[str]:
    return [f"{count}'", str(count)] if count else [""]
