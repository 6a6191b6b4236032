"""A measured top speed against the band of NEM 661."""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from outshop.bench.motion.clocks import at_scale
from outshop.errors import InputError
from outshop.estimate import Estimate, Reading
from outshop.railway.scales import Scale
from outshop.railway.speed_bands import SpeedBand, speed_band

WITHIN, FAST, SLOW, OPEN = "within", "too_fast", "too_slow", "undecided"
FULL_SIZE_KM_H = (3.0, 600.0)  # our fence against typing slips


@dataclass(frozen=True, slots=True)
class TopVerdict:
    """Whether the top speed lies in the band.

    Parameters
    ----------
    verdict : str
        ``within``, ``too_fast``, ``too_slow`` or ``undecided``.
    band : SpeedBand or None
        None where the norm lists no such size.
    sentence : str
        What it means.
    """

    verdict: str
    band: SpeedBand | None
    sentence: str

    def as_json(self) -> dict[str, Any]:
        """Give a plain shape."""
        band = self.band
        return {
            "verdict": self.verdict,
            "low_km_h": None if band is None else band.low_km_h,
            "high_km_h": None if band is None else band.high_km_h,
            "low_m_s": None if band is None else band.low_m_s,
            "high_m_s": None if band is None else band.high_m_s,
            "source": "" if band is None else band.source,
            "sentence": self.sentence,
        }


def judge_top(tops: Sequence[Reading], full_size_km_h: float, scale: Scale) -> TopVerdict:
    """Judge the top speeds of both directions (m/s) by the norm's band.

    A speed is in or out only when its whole interval is (the guarded rule of JCGM 106:2012, 8).
    Where the norm allows nothing above (size I and up), an interval that holds the one speed is
    as near as can be told. The worst direction decides.

    Raises
    ------
    InputError
        No such full-size speed.
    """
    if not (
        math.isfinite(full_size_km_h) and FULL_SIZE_KM_H[0] <= full_size_km_h <= FULL_SIZE_KM_H[1]
    ):
        low, high = FULL_SIZE_KM_H
        message = f"a full-size top speed of {full_size_km_h:g} km/h cannot be: {low:g} to {high:g}"
        raise InputError(message)
    band = speed_band(full_size_km_h, scale)
    if band is None:
        return TopVerdict(OPEN, None, f"NEM 661 has no band for {scale.name}")
    found = [at_scale(top, scale) for top in tops]
    speeds = [s for s in found if isinstance(s, Estimate)]
    span = f"{band.low_km_h:g} to {band.high_km_h:g} km/h ({band.source})"
    if not speeds:
        return TopVerdict(OPEN, band, f"no top speed to hold against {span}")
    for speed in speeds:
        said = f"{speed.value:.0f} km/h at full size ({speed.low:.0f} to {speed.high:.0f})"
        if speed.low > band.high_km_h:
            return TopVerdict(FAST, band, f"{said} is faster than {span}")
        if speed.high < band.low_km_h:
            return TopVerdict(SLOW, band, f"{said} is slower than {span}")
    one_speed = band.high_km_h == band.low_km_h
    if all(_inside(s, band) for s in speeds):
        near = ": as near as can be told, the norm allows nothing above" if one_speed else ""
        return TopVerdict(WITHIN, band, f"the top speed lies within {span}{near}")
    return TopVerdict(OPEN, band, f"the interval reaches over an end of {span}: not decided")


def _inside(speed: Estimate, band: SpeedBand) -> bool:
    if band.low_km_h == band.high_km_h:
        return speed.low <= band.low_km_h <= speed.high
    return band.low_km_h <= speed.low and speed.high <= band.high_km_h
