"""What stands on a piece's page: sections in order, each made of parts.

A room adds its own line to ``PARTS``: the section it belongs to, a template, and a function
that gives what the template shows as ``data``.
"""

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

from django.utils.functional import Promise
from django.utils.translation import gettext_lazy as _

from outshop.pages import care, piece_sections, standing, trouble
from outshop.pages.clocks import views as clocks
from outshop.pages.dating import years
from outshop.pages.market import values
from outshop.pages.meter import views as meter
from outshop.pages.speeds import views as speeds
from outshop.records.models import Piece

SECTIONS: tuple[tuple[str, Promise], ...] = (
    ("identity", _("Identity")),
    ("condition", _("Condition")),
    ("bench", _("Bench")),
    ("jobs", _("Jobs")),
    ("trains", _("Trains")),
    ("papers", _("Papers")),
)


@dataclass(frozen=True, slots=True)
class Part:
    """One part of a section."""

    section: str
    template: str
    data: Callable[[Piece], Any]


PARTS: tuple[Part, ...] = (
    Part("identity", "piece/_identity.html", piece_sections.identity),
    Part("identity", "dating/_piece.html", years.on_piece_page),
    Part("condition", "piece/_condition.html", piece_sections.condition),
    Part("condition", "trouble/_piece.html", trouble.on_piece_page),
    Part("bench", "piece/_bench.html", piece_sections.bench),
    Part("bench", "standing/_piece.html", standing.of_piece),
    Part("bench", "meter/_piece.html", meter.on_piece_page),
    Part("bench", "speeds/_piece.html", speeds.on_piece_page),
    Part("bench", "clocks/_piece.html", clocks.on_piece_page),
    Part("jobs", "piece/_jobs.html", piece_sections.jobs),
    Part("jobs", "care/_piece.html", care.part_of_piece),
    Part("papers", "piece/_papers.html", piece_sections.papers),
    Part("papers", "market/_piece.html", values.on_piece_page),
)


@dataclass(frozen=True, slots=True)
class ShownPart:
    """A part with its data at hand."""

    template: str
    data: Any


@dataclass(frozen=True, slots=True)
class ShownSection:
    """A section that has something to show."""

    id: str
    name: str | Promise
    parts: tuple[ShownPart, ...]


def sections_of(piece: Piece) -> list[ShownSection]:
    """Give the sections of a piece's page; one without parts is left out."""
    shown = []
    for key, name in SECTIONS:
        parts = tuple(ShownPart(p.template, p.data(piece)) for p in PARTS if p.section == key)
        if parts:
            shown.append(ShownSection(key, name, parts))
    return shown
