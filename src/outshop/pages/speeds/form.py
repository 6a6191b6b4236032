"""What the speed table's page asks for: a grid of readings and what belongs to all of them."""

from collections.abc import Mapping
from dataclasses import dataclass

from django import forms
from django.http import HttpRequest
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from outshop.bench.motion.speed_rows import DOWN, FORWARD, STEP, UP, VOLT
from outshop.bench.motion.speed_typed import (
    COLUMNS,
    FULL_SIZE_SPEEDS,
    MODEL_SPEEDS,
    TIMES,
    TypedLine,
)
from outshop.pages.fields import NumberField
from outshop.records.models import Recording

LINES, MORE, MOST_LINES = 8, 4, 64
LONGEST_CELL = 80  # characters
LARGEST_FILE = 4_000_000  # bytes; a table of bench runs has a few thousand


class TableForm(forms.Form):
    """What holds for the whole table."""

    role = forms.ChoiceField(
        label=gettext_lazy("Taken"), choices=Recording.Role.choices, required=False
    )
    unit = forms.ChoiceField(
        label=gettext_lazy("Settings in"),
        choices=((VOLT, gettext_lazy("volts")), (STEP, gettext_lazy("throttle steps"))),
        required=False,
    )
    holds = forms.ChoiceField(
        label=gettext_lazy("The cells hold"),
        choices=(
            (TIMES, gettext_lazy("seconds over the way")),
            (MODEL_SPEEDS, gettext_lazy("m/s of the model")),
            (FULL_SIZE_SPEEDS, gettext_lazy("km/h at full size")),
        ),
        required=False,
    )
    way_mm = NumberField(label=gettext_lazy("Way, mm"), required=False)
    nominal = NumberField(
        label=gettext_lazy("Nominal setting"),
        required=False,
        help_text=gettext_lazy("Nominal voltage or top step; the top speed is taken there."),
    )
    full_size_km_h = NumberField(
        label=gettext_lazy("Full-size top speed, km/h"),
        required=False,
        help_text=gettext_lazy("For the band of NEM 661: light, level, run in."),
    )

    def clean(self) -> dict[str, object]:
        """Fall back on the first choice where none was sent."""
        cleaned = super().clean() or {}
        for name, usual in (("unit", VOLT), ("holds", TIMES), ("role", Recording.Role.OTHER)):
            cleaned[name] = cleaned.get(name) or str(usual)
        return cleaned


@dataclass(frozen=True, slots=True)
class Cell:
    """One field of the grid."""

    name: str
    label: str
    value: str


@dataclass(frozen=True, slots=True)
class GridLine:
    """One line of the grid: the setting, then a cell a column."""

    setting: Cell
    cells: tuple[Cell, ...]


def grid(typed: Mapping[str, str], lines: int) -> list[GridLine]:
    """Give the grid with what was typed in it."""
    return [
        GridLine(
            _cell(typed, f"s{n}", _("Line %(n)d: setting") % {"n": n}),
            tuple(
                _cell(
                    typed,
                    f"c{n}_{k}",
                    _("Line %(n)d: %(column)s") % {"n": n, "column": column_name(*column)},
                )
                for k, column in enumerate(COLUMNS)
            ),
        )
        for n in range(1, lines + 1)
    ]


def column_name(direction: str, sweep: str) -> str:
    """Give a column's name in words."""
    way = _("forward") if direction == FORWARD else _("reverse")
    going = {UP: _("raising"), DOWN: _("lowering")}.get(sweep, "")
    return f"{way}, {going}" if going else way


def typed_of(request: HttpRequest) -> dict[str, str]:
    """Give what was typed in the grid and the fields, empty ones left out."""
    names = ["s", *(f"c_{k}" for k in range(len(COLUMNS)))]
    cells = [
        f"{name[0]}{n}{name[1:]}" for n in range(1, lines_of(request) + 1) for name in names
    ]  # fmt: skip
    given = {name: request.POST.get(name, "").strip() for name in (*TableForm.base_fields, *cells)}
    return {name: text[:LONGEST_CELL] for name, text in given.items() if text}


def lines_of(request: HttpRequest) -> int:
    """Give how many lines the grid that was sent has."""
    sent = request.POST.get("lines", "")
    return min(int(sent), MOST_LINES) if sent.isdecimal() and int(sent) > 0 else LINES


def lines_for(typed: Mapping[str, str]) -> int:
    """Give how many lines it takes to show what was typed, with some to spare."""
    used = [int(digits) for name in typed if (digits := name[1:].partition("_")[0]).isdecimal()]
    return min(MOST_LINES, max([LINES, *(n + 1 for n in used)]))


def typed_lines(typed: Mapping[str, str], lines: int) -> list[TypedLine]:
    """Give the grid's lines as the bench takes them."""
    return [
        TypedLine(
            typed.get(f"s{n}", ""),
            {column: typed.get(f"c{n}_{k}", "") for k, column in enumerate(COLUMNS)},
        )
        for n in range(1, lines + 1)
    ]


def _cell(typed: Mapping[str, str], name: str, label: str) -> Cell:
    return Cell(name, label, typed.get(name, ""))
