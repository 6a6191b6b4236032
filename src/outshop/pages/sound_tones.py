"""The tones of a recording in plain words: what each is, and which follow the speed."""

import re
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from django.utils.translation import gettext as _

from outshop.reports.spectrogram import ToneLine

MOST_LINES = 8  # more cannot be read over one picture


@dataclass(frozen=True, slots=True)
class Tone:
    """One row of the table; ``number`` is its number in the picture, 0 if not drawn."""

    number: int
    shape: Mapping[str, Any]
    meaning: str
    sides: str


def tones_of(found: Mapping[str, Any]) -> list[Tone]:
    """Give the drive's tones, those drawn first, then by how far they stand out."""
    orders = sorted(found.get("orders", []), key=_weight)
    tones = []
    for place, order in enumerate(orders, 1):
        drawn = place if order.get("heard") and place <= MOST_LINES else 0
        tones.append(Tone(drawn, order, meaning(order["name"]), _sides(order)))
    return tones


def lines_of(found: Mapping[str, Any], tones: list[Tone]) -> list[ToneLine]:
    """Give what is drawn over the picture: numbered tones of the drive, then fixed tones."""
    track = [(p["t_s"], p["motor_speed"]) for p in found.get("track", [])]
    lines = [
        ToneLine(t.shape["name"], [(at, v * t.shape["order"]) for at, v in track])
        for t in tones
        if t.number
    ]
    end = found.get("duration_s", 0.0)
    lines += [
        ToneLine(s["name"], [(0.0, s["frequency_hz"]), (end, s["frequency_hz"])], fixed=True)
        for s in found.get("steady_tones", [])
    ]
    return lines


def meaning(name: str) -> str:
    """Say what makes a named tone."""
    base, _sign, times = name.partition(" ×")
    said = _base_meaning(base)
    if times:
        return _("%(times)s times as high as: %(said)s") % {"times": times, "said": said}
    return said


def _base_meaning(base: str) -> str:
    if base == "motor turn":
        return _("once per turn of the motor: an armature out of balance, a bent shaft")
    if base.startswith("once per pole"):
        return _("the armature's poles pulling past the magnet")
    if base.startswith("commutation"):
        return _("the brushes passing from segment to segment of the commutator")
    stage = re.fullmatch(r"stage (\d+) (worm )?mesh", base)
    if stage and stage[2]:
        return _("the worm's thread meeting the teeth of its wheel, stage %(n)s") % {"n": stage[1]}
    if stage:
        return _("teeth meeting teeth in gear stage %(n)s") % {"n": stage[1]}
    return base


def _weight(order: Mapping[str, Any]) -> tuple[bool, float]:
    return not order.get("heard"), -order["prominence_db"]


def _sides(order: Mapping[str, Any]) -> str:
    """Say at which shaft's turns the tone swells; that shaft is a suspect."""
    own = order["name"].startswith("motor turn")  # its neighbours are its own harmonics
    sides = order.get("side_bands", [])
    shafts = [s["shaft"] for s in sides if not (own and s["shaft"] == "motor")]
    if not shafts:
        return ""
    text = _("it swells once per turn of: %(shafts)s. Look at that one first.")
    return text % {"shafts": ", ".join(shafts)}
