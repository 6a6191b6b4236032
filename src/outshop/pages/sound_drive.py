"""Entering the drive: poles by choice, teeth as counted, or the ratio alone, or nothing."""

from typing import Any

from django import forms
from django.core.exceptions import ValidationError
from django.utils.translation import gettext_lazy as _

from outshop.errors import OutshopError
from outshop.pages.fields import NumberField
from outshop.pages.piece_form import read_stages, write_stages
from outshop.records import services
from outshop.records.models import Edition, Piece, Recording

USUAL_POLES = (3, 5, 7)
POLES = (*USUAL_POLES, *(n for n in range(2, 25) if n not in USUAL_POLES))
KEYS = ("wheel_diameter_mm", "armature_poles", "stages", "ratio")


class DriveForm(forms.Form):
    """What a person knows of a drive; every field may stay empty."""

    armature_poles = forms.TypedChoiceField(
        label=_("Armature poles"),
        required=False,
        coerce=int,
        empty_value=None,
        choices=[("", _("not known")), *((n, str(n)) for n in POLES)],
        help_text=_("As many as the commutator has segments; usually 3 or 5."),
    )
    stages = forms.CharField(
        label=_("Gear teeth, as counted"),
        required=False,
        max_length=300,
        help_text=_("Driving/driven, from the motor outwards: 12/54, 1/20 for a worm."),
    )
    ratio = NumberField(
        label=_("Or the ratio alone"),
        required=False,
        min_value=0.01,
        max_value=100_000,
        help_text=_("Motor turns for one turn of the wheel; counted teeth give it by themselves."),
    )
    wheel_diameter_mm = NumberField(
        label=_("Driven wheel, diameter in mm"),
        required=False,
        min_value=0.1,
        max_value=200,
        help_text=_("Over the tread."),
    )

    def clean_stages(self) -> list[dict[str, int]]:
        """Turn the text into stages."""
        return read_stages(self.cleaned_data["stages"])

    def clean(self) -> dict[str, Any]:
        """Hold the whole against the bench, which tells a ratio that contradicts the teeth."""
        from outshop.bench.sound.drive import drive_from_table

        cleaned = super().clean() or self.cleaned_data
        if not self.errors:
            try:
                drive_from_table(self.table())
            except OutshopError as problem:
                raise ValidationError(str(problem)) from problem
        return cleaned

    def table(self) -> dict[str, Any]:
        """Give the drive as the record keeps it; only what was filled in."""
        data = {key: self.cleaned_data.get(key) for key in KEYS}
        return {key: value for key, value in data.items() if value}


def initial_of(piece: Piece) -> dict[str, Any]:
    """Give what the form shows: the piece's drive, or its edition's."""
    known = piece.known_drive
    return known | {"stages": write_stages(known.get("stages", []))}


@services.use_case
def keep(piece: Piece, table: dict[str, Any], version: int) -> None:
    """Keep a drive with the edition, so that its next piece has it; without one, on the piece."""
    edition: Edition | None = piece.edition
    if edition is None:
        services.change_piece(piece=piece, version=version, drive=table)
        return
    # an own drive would hide the edition's
    services.change_piece(piece=piece, version=version, drive={})
    if edition.drive != table:
        services.change_edition(edition=edition, drive=table)


def outdated(recording: Recording) -> bool:
    """Whether the drive on record is another than the one the recording was measured with."""
    from outshop.bench.sound.drive import drive_from_table

    if recording.result is None or recording.programme == "motion":
        return False
    table = recording.piece.known_drive
    if table and recording.piece.known_scale:
        table.setdefault("scale", recording.piece.known_scale)
    try:
        now = drive_from_table(table) if table else None
        then = recording.result.get("drive")
        return now != (drive_from_table(then) if then else None)
    except OutshopError:
        return False
