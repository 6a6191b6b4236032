"""The form of a piece, and its way to and from the record."""

import re
from typing import Any

from django import forms
from django.core.exceptions import ValidationError
from django.urls import reverse_lazy
from django.utils.translation import gettext_lazy as _

from outshop.errors import NotationError
from outshop.pages.fields import NumberField
from outshop.railway import arrangement as arrangements
from outshop.records.models import Edition, Piece
from outshop.records.models.checks import check_arrangement, check_edtf, check_scale

LONG = 300  # characters of one line
STAGE = re.compile(r"\s*(\d{1,4})\s*[/:]\s*(\d{1,4})\s*")
EDITION_FIELDS = ("maker", "edition_name", "edition_number")
DRIVE_FIELDS = ("wheel_diameter_mm", "armature_poles", "stages")
PLAIN_FIELDS = (
    "name",
    "road_number",
    "kind",
    "state",
    "scale",
    "arrangement",
    "length_mm",
    "mass_g",
    "shows",
    "arrived_on",
    "place",
    "notes",
)
HAULED = (Piece.Kind.COACH, Piece.Kind.WAGON, Piece.Kind.OTHER)
MOST = 1_000_000  # grams or millimetres; beyond it is a slip of the pen


def read_stages(text: str) -> list[dict[str, int]]:
    """Read gear stages written as ``12/54, 1/20``."""
    stages = []
    for part in re.split(r"[,;\n]", text):
        if not part.strip():
            continue
        match = STAGE.fullmatch(part)
        if not match or "0" in (match[1].strip("0") or "0", match[2].strip("0") or "0"):
            raise ValidationError(
                _("“%(part)s” is no gear stage: write driving and driven teeth as 12/54")
                % {"part": part.strip()}
            )
        stages.append({"driver_teeth": int(match[1]), "driven_teeth": int(match[2])})
    return stages


def write_stages(stages: list[dict[str, int]]) -> str:
    """Write gear stages as they are typed."""
    return ", ".join(f"{s['driver_teeth']}/{s['driven_teeth']}" for s in stages)


def _number(label: Any, help_text: Any = "", most: float = MOST) -> NumberField:
    return NumberField(
        label=label, help_text=help_text, required=False, min_value=0.1, max_value=most
    )


class PieceForm(forms.Form):
    """Everything that a person may type about a piece."""

    name = forms.CharField(
        label=_("Name"), max_length=LONG, help_text=_("As you call it: class, railway or nickname.")
    )
    road_number = forms.CharField(label=_("Road number"), max_length=LONG, required=False)
    kind = forms.ChoiceField(label=_("Kind"), choices=Piece.Kind.choices)
    state = forms.ChoiceField(label=_("State"), choices=Piece.State.choices)
    scale = forms.CharField(
        label=_("Scale"),
        max_length=20,
        required=False,
        validators=[check_scale],
        help_text=_("By name or ratio: H0, N, 1:87."),
    )
    arrangement = forms.CharField(
        label=_("Axles, engine and tender"),
        max_length=80,
        required=False,
        validators=[check_arrangement],
        help_text=_(
            "Letters are driven axles, digits carrying ones, front first: 1'D1', Bo'Bo', 2-8-2. "
            "A tender follows a plus: 1'D1'+2'2'."
        ),
        widget=forms.TextInput(
            attrs={
                "autocapitalize": "off",
                "autocomplete": "off",
                "spellcheck": "false",
                "hx-get": reverse_lazy("arrangement_preview"),
                "hx-target": "#preview",
                "hx-trigger": "input changed delay:250ms",
            }
        ),
    )
    maker = forms.CharField(label=_("Maker"), max_length=LONG, required=False)
    edition_name = forms.CharField(label=_("Name of the edition"), max_length=LONG, required=False)
    edition_number = forms.CharField(label=_("Article number"), max_length=LONG, required=False)
    wheel_diameter_mm = _number(_("Driven wheel, diameter in mm"), _("Over the tread."), 1000)
    armature_poles = forms.IntegerField(
        label=_("Armature poles"),
        required=False,
        min_value=2,
        max_value=24,
        help_text=_("Usually 3 or 5."),
    )
    stages = forms.CharField(
        label=_("Gear stages"),
        required=False,
        max_length=LONG,
        help_text=_("Teeth, driving/driven, from the motor outwards: 12/54, 1/20 for a worm."),
    )
    length_mm = _number(_("Length over buffers in mm"))
    mass_g = _number(_("Mass in g"))
    shows = forms.CharField(
        label=_("Shows the years"),
        max_length=100,
        required=False,
        validators=[check_edtf],
        help_text=_("1958, 1950/1968, 1958~ for about, 195X for the fifties."),
    )
    arrived_on = forms.DateField(
        label=_("Arrived on"),
        required=False,
        widget=forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d"),
    )
    place = forms.CharField(
        label=_("Place"), max_length=LONG, required=False, help_text=_("Cabinet, drawer, line.")
    )
    notes = forms.CharField(
        label=_("Notes"), required=False, max_length=20_000, widget=forms.Textarea
    )

    def clean_stages(self) -> list[dict[str, int]]:
        """Turn the text into stages."""
        return read_stages(self.cleaned_data["stages"])

    def clean(self) -> dict[str, Any]:
        """Ask for a driven axle where there is a motor."""
        data = super().clean() or self.cleaned_data
        if data.get("kind") not in HAULED and data.get("arrangement"):
            try:
                arrangements.parse(data["arrangement"])
            except NotationError as problem:
                self.add_error("arrangement", str(problem))
        return data

    def clean_scale(self) -> str:
        """Keep the scale as it was typed."""
        return str(self.cleaned_data["scale"]).strip()

    @property
    def more_open(self) -> bool:
        """Whether one of the folded fields holds an error."""
        return any(name in self.errors for name in (*DRIVE_FIELDS, *PLAIN_FIELDS[6:]))

    def drive(self) -> dict[str, Any]:
        """Give the drive as the record keeps it; only what was filled in."""
        data = {name: self.cleaned_data.get(name) for name in DRIVE_FIELDS}
        return {name: value for name, value in data.items() if value}

    def plain(self) -> dict[str, Any]:
        """Give the fields that go to the piece unchanged."""
        return {name: self.cleaned_data[name] for name in PLAIN_FIELDS}

    def edition(self) -> dict[str, str]:
        """Give the edition's fields; empty when nothing was typed about it."""
        maker, name, number = (self.cleaned_data[field].strip() for field in EDITION_FIELDS)
        if not (maker or name or number):
            return {}
        return {"maker": maker, "name": name or number or maker, "number": number}


def initial_of(piece: Piece) -> dict[str, Any]:
    """Give what the form shows for a kept piece."""
    edition: Edition | None = piece.edition
    drive = piece.known_drive
    known = {name: getattr(piece, name) for name in PLAIN_FIELDS}
    return known | {
        "maker": edition.maker if edition else "",
        "edition_name": edition.name if edition else "",
        "edition_number": edition.number if edition else "",
        "wheel_diameter_mm": drive.get("wheel_diameter_mm"),
        "armature_poles": drive.get("armature_poles"),
        "stages": write_stages(drive.get("stages", [])),
    }
