"""Read one unit in UIC notation: letters, digits, primes and brackets.

Rules after UIC leaflet 650: a letter is that many driven axles, a digit that many carrying
axles, ``o`` separate motors, a prime an own bogie, a bracket a sub-frame with several groups.
"""

import re

from outshop.errors import NotationError
from outshop.railway.axle_groups import MOST_IN_A_GROUP, AxleGroup

_TOKEN = re.compile(r"(?P<sign>[A-Z]|\d)(?P<o>o?)(?P<prime>'?)|(?P<open>\()|(?P<close>\)'?)")


def read_unit(text: str) -> tuple[AxleGroup, ...]:
    """Read the groups of one unit, such as ``(2'D)D2'``.

    Raises
    ------
    NotationError
        A sign is none, a bracket is open, empty or inside another, a letter is too high.
    """
    groups: list[AxleGroup] = []
    opened_at: int | None = None
    brackets = position = 0
    while position < len(text):
        match = _TOKEN.match(text, position)
        if not match:
            message = f"{text!r} is no wheel arrangement: {text[position]!r} cannot stand there"
            raise NotationError(message)
        if match["open"]:
            if opened_at is not None:
                message = f"{text!r}: a bracket cannot stand inside a bracket"
                raise NotationError(message)
            opened_at = len(groups)
        elif match["close"]:
            _close(text, groups, opened_at, brackets)
            opened_at, brackets = None, brackets + 1
        else:
            groups.append(_group(text, match))
        position = match.end()
    if opened_at is not None:
        message = f"{text!r}: the bracket is not closed"
        raise NotationError(message)
    return tuple(groups)


def _group(text: str, match: re.Match[str]) -> AxleGroup:
    sign = match["sign"]
    driven = sign.isalpha()
    count = ord(sign) - ord("A") + 1 if driven else int(sign)
    if not 1 <= count <= MOST_IN_A_GROUP:
        top = chr(ord("A") + MOST_IN_A_GROUP - 1)
        message = f"{text!r}: {sign} would be {count} axles in one group; A to {top} and 1 to 8 are"
        raise NotationError(f"{message} known")
    return AxleGroup(count, driven, bool(match["o"]) and count > 1, bool(match["prime"]))


def _close(text: str, groups: list[AxleGroup], opened_at: int | None, number: int) -> None:
    """Mark the groups of the bracket just closed; one group alone is simply a bogie."""
    if opened_at is None:
        message = f"{text!r}: a bracket is closed that was not opened"
        raise NotationError(message)
    members = groups[opened_at:]
    if not members:
        message = f"{text!r}: the bracket is empty"
        raise NotationError(message)
    alone = len(members) == 1
    groups[opened_at:] = [
        AxleGroup(g.count, g.driven, g.own_motors, g.pivoted or alone, None if alone else number)
        for g in members
    ]
