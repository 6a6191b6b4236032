"""Drawing a line by tapping pieces: each tap changes the list of sections, nothing else."""

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

from django.utils.functional import Promise
from django.utils.translation import gettext_lazy as _

from outshop.errors import InputError
from outshop.formation.checks import STEEPEST_PERMILLE
from outshop.records.models import LineSection

GRADE_STEP = 5.0  # per mille a tap
LENGTH_STEP = 50.0  # mm a tap
SHORTEST = 10.0  # mm; a piece is taken out, not shortened to nothing
MOST_SECTIONS = 500


@dataclass(frozen=True, slots=True)
class Tap:
    """One button of the drawing board and the key that does the same."""

    name: str
    words: str | Promise
    key: str
    shown: str


PIECES = (
    Tap("left", _("Curve left"), "ArrowLeft", "←"),
    Tap("straight", _("Straight"), "ArrowUp", "↑"),
    Tap("right", _("Curve right"), "ArrowRight", "→"),
)
CHANGES = (
    Tap("up", _("Up"), "+", "+"),
    Tap("down", _("Down"), "-", "-"),
    Tap("level", _("Level"), "0", "0"),
    Tap("longer", _("Longer"), "l", "L"),
    Tap("shorter", _("Shorter"), "s", "S"),
    Tap("mirror", _("Other way"), "m", "M"),
    Tap("loop", _("Loop"), "o", "O"),
    Tap("platform", _("Platform"), "p", "P"),
    Tap("out", _("Take out"), "Backspace", "⌫"),
    Tap("before", _("Piece before"), "PageUp", "Page ↑"),
    Tap("after", _("Piece after"), "PageDown", "Page ↓"),
)
KNOWN = {tap.name for tap in (*PIECES, *CHANGES)}


@dataclass(frozen=True, slots=True)
class Pen:
    """What the next piece is: length of a straight, radius and turn of a curve."""

    length_mm: float = 200.0
    radius_mm: float = 400.0
    turn_deg: float = 30.0


@dataclass(frozen=True, slots=True)
class Board:
    """The sections, and which of them, from 1, is at work; 0 when there is none."""

    sections: tuple[Mapping[str, Any], ...]
    at: int

    @property
    def chosen(self) -> Mapping[str, Any] | None:
        """Give the section at work."""
        return self.sections[self.at - 1] if self.at else None


def board(sections: Sequence[Mapping[str, Any]], at: int) -> Board:
    """Take in the sections, the last one at work where ``at`` names none."""
    number = len(sections)
    return Board(tuple(sections), at if 1 <= at <= number else number)


def tapped(before: Board, tap: str, pen: Pen) -> Board:
    """Do what a tap says.

    Raises
    ------
    InputError
        There is no such button, no piece to change, or no room for another one.
    """
    if tap not in KNOWN:
        message = _("%(tap)r is no button of the drawing board.") % {"tap": tap[:60]}
        raise InputError(message)
    if tap in {t.name for t in PIECES}:
        return _laid(before, tap, pen)
    chosen = before.chosen
    if chosen is None:
        raise InputError(str(_("Lay a piece first.")))
    if tap in ("before", "after"):
        step = 1 if tap == "after" else -1
        return replace(before, at=max(1, min(len(before.sections), before.at + step)))
    rest = list(before.sections)
    if tap == "out":
        del rest[before.at - 1]
        return board(rest, max(1, before.at - 1))
    rest[before.at - 1] = {**chosen, **_changed(chosen, tap)}
    return Board(tuple(rest), before.at)


def _laid(before: Board, tap: str, pen: Pen) -> Board:
    """Lay a piece behind the one at work; it goes on as steep as that one."""
    if len(before.sections) >= MOST_SECTIONS:
        raise InputError(str(_("The line has as many sections as one may have.")))
    grade = before.chosen["grade_permille"] if before.chosen else 0.0
    curve = tap != "straight"
    length = math.radians(pen.turn_deg) * pen.radius_mm if curve else pen.length_mm
    piece = {
        "length_mm": round(length, 1),
        "grade_permille": grade,
        "radius_mm": pen.radius_mm if curve else 0.0,
        "side": tap if curve else LineSection.Side.LEFT,
        "place": "",
        "name": "",
    }
    rest = list(before.sections)
    rest.insert(before.at, piece)
    return Board(tuple(rest), before.at + 1)


def _changed(piece: Mapping[str, Any], tap: str) -> dict[str, Any]:
    grade, length = piece["grade_permille"], piece["length_mm"]
    if tap in ("up", "down"):
        fresh = grade + (GRADE_STEP if tap == "up" else -GRADE_STEP)
        return {"grade_permille": max(-STEEPEST_PERMILLE, min(STEEPEST_PERMILLE, fresh))}
    if tap == "level":
        return {"grade_permille": 0.0}
    if tap in ("longer", "shorter"):
        fresh = length + (LENGTH_STEP if tap == "longer" else -LENGTH_STEP)
        return {"length_mm": max(min(SHORTEST, length), fresh)}
    if tap == "mirror":
        other = {"left": LineSection.Side.RIGHT, "right": LineSection.Side.LEFT}
        return {"side": other[piece["side"]]}
    return {"place": "" if piece["place"] == tap else tap}
