"""What the page of clocks asks for: a few lines of times, and the run's clip and sound."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from django import forms
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from outshop.bench.motion.clocks import Kind, Timing
from outshop.bench.readings import number_list
from outshop.errors import InputError
from outshop.pages import fields
from outshop.pages.fields import NumberField
from outshop.records.models import Recording

LINES = 4
LONGEST_CELL = 200  # characters
MOTION = "motion"  # the programme of a clip
KINDS = (
    (Kind.STOP_WATCH.value, gettext_lazy("stop-watch")),
    (Kind.GATES.value, gettext_lazy("light gates")),
    (Kind.LAPS.value, gettext_lazy("laps of a loop")),
)


class RunForm(forms.Form):
    """The clip, the sound and the wheel of the run."""

    clip = forms.ChoiceField(label=gettext_lazy("Clip of the run"), required=False)
    sound = forms.ChoiceField(label=gettext_lazy("Sound of the run"), required=False)
    loop_mm = NumberField(
        label=gettext_lazy("Loop, mm"),
        required=False,
        help_text=gettext_lazy("For the laps heard in the sound."),
    )
    wheel_mm = NumberField(label=gettext_lazy("Driving wheel on the tread, mm"), required=False)
    wheel_tolerance_mm = NumberField(
        label=gettext_lazy("Right within, mm"),
        required=False,
        help_text=gettext_lazy("19 times in 20; 0.1 if left empty."),
    )
    rolling = forms.BooleanField(
        label=gettext_lazy("Nothing slips: light, on the level"),
        required=False,
        help_text=gettext_lazy("Then the true ratio of the drive is found."),
    )

    def __init__(self, *args: Any, recordings: list[Recording], **options: Any) -> None:
        super().__init__(*args, **options)
        none = [("", _("none"))]
        clips = [r for r in recordings if r.programme == MOTION]
        sounds = [r for r in recordings if r.programme != MOTION]
        for name, offered in (("clip", clips), ("sound", sounds)):
            field = self.fields[name]
            if isinstance(field, forms.ChoiceField):
                field.choices = none + [(str(r.pk), _written(r)) for r in offered]

    def clean(self) -> dict[str, Any]:
        """Refuse lengths below zero."""
        cleaned = super().clean() or {}
        for name in ("loop_mm", "wheel_mm", "wheel_tolerance_mm"):
            value = cleaned.get(name)
            if value is not None and value < 0:
                self.add_error(name, _("A length below 0 mm cannot be."))
        return cleaned


@dataclass(frozen=True, slots=True)
class ClockLine:
    """One line of the grid as it stands."""

    number: int
    kind: str
    way: str
    times: str
    laps: str


def lines_of(typed: Mapping[str, str]) -> list[ClockLine]:
    """Give the grid's lines with what was typed."""
    return [
        ClockLine(
            n,
            typed.get(f"kind{n}", Kind.STOP_WATCH.value),
            *(typed.get(f"{name}{n}", "") for name in ("way", "times", "laps")),
        )
        for n in range(1, LINES + 1)
    ]


def names() -> list[str]:
    """Give the names of all fields that are kept as typed."""
    grid = [f"{name}{n}" for n in range(1, LINES + 1) for name in ("kind", "way", "times", "laps")]
    return [*grid, *RunForm.base_fields]


def timings(typed: Mapping[str, str]) -> list[Timing]:
    """Read the grid; lines without times are left out.

    Raises
    ------
    InputError
        The sentence names the line.
    """
    return [_timing(line) for line in lines_of(typed) if line.times]


def _timing(line: ClockLine) -> Timing:
    try:
        way = fields.number_or_none(line.way, _("Way"))
        laps = fields.number_or_none(line.laps, _("Laps"))
        if way is None:
            raise InputError(_("the times need their way, in mm"))  # noqa: TRY301 - one sentence
        if laps is not None and (laps != laps // 1 or laps < 1):
            raise InputError(_("count whole laps"))  # noqa: TRY301
        kind = next((k for k in Kind if k.value == line.kind), Kind.STOP_WATCH)
        return Timing(kind, way, tuple(number_list(line.times, "s")), int(laps or 1))
    except InputError as problem:
        message = _("Line %(n)d: %(problem)s") % {"n": line.number, "problem": problem}
        raise InputError(message) from problem


def _written(recording: Recording) -> str:
    return f"{recording.taken_at:%Y-%m-%d %H:%M}, {recording.get_role_display()}"
