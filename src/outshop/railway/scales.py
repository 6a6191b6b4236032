"""Scales, gauges and scale speed.

Names follow NEM 010 (``H0``, ``N``, ``I``), the British ratios (``00``, ``British 0``) and the
American ones (``HO``, ``O``). Spelling decides: ``H0`` with a zero is 1:87 after NEM,
``HO`` with the letter is 1:87.1 after NMRA.
"""

import math
import re
from dataclasses import dataclass
from functools import cache

from outshop.errors import NotationError
from outshop.railway.tables import rows

KM_H_PER_M_S = 3.6  # exact
KM_PER_MILE = 1.609344  # exact, international mile (1959)
RATIO_LIMITS = (1.0, 1000.0)  # our own fence against typing slips
_SYSTEMS = ("NEM", "British", "NMRA")  # first found wins when spelling does not decide


@dataclass(frozen=True, slots=True)
class Scale:
    """One scale.

    Parameters
    ----------
    name : str
        ``H0``; for a ratio that no standard names, ``1:50``.
    ratio : float
        Full-size length over model length: 87 means 1:87.
    system : str
        ``NEM``, ``British``, ``NMRA`` or empty.
    source, edition : str
        Where the ratio is published.
    aliases : tuple of str
        Other spellings.
    """

    name: str
    ratio: float
    system: str = ""
    source: str = ""
    edition: str = ""
    aliases: tuple[str, ...] = ()

    def model_mm(self, full_size_mm: float) -> float:
        """Turn a full-size length into the model's, both in mm."""
        return full_size_mm / self.ratio

    def full_size_mm(self, model_mm: float) -> float:
        """Turn a model length into the full-size one, both in mm."""
        return model_mm * self.ratio


@dataclass(frozen=True, slots=True)
class Gauge:
    """One model track gauge of a scale.

    Parameters
    ----------
    scale, suffix : str
        ``H0`` and ``e`` for H0e; the suffix is empty for standard gauge.
    gauge_mm : float
        Distance between the rails, mm.
    full_size_from_mm, full_size_below_mm : float
        Full-size gauges it stands for, lower end included, mm.
    source, edition : str
        Where it is published.
    """

    scale: str
    suffix: str
    gauge_mm: float
    full_size_from_mm: float
    full_size_below_mm: float
    source: str
    edition: str


@cache
def all_scales() -> tuple[Scale, ...]:
    """Give every scale of the table."""
    return tuple(
        Scale(
            row["name"],
            float(row["ratio"]),
            row["system"],
            row["source"],
            row["edition"],
            tuple(filter(None, row["aliases"].split(";"))),
        )
        for row in rows("scales")
    )


def scale(text: str | float) -> Scale:
    """Find a scale by name (``H0``, ``HO``, ``00``, ``I``) or ratio (``1:87``, ``87``).

    Parameters
    ----------
    text : str or float
        A number, or a text holding ``1:`` or ``1/`` or a decimal point, is a ratio; so is a whole
        number that is no scale's name. Capitals and blanks do not matter.

    Raises
    ------
    NotationError
        It is neither.
    """
    written = f"{text:g}" if isinstance(text, int | float) else text.strip()
    if isinstance(text, str) and (found := _named(written)):
        return found
    return _of_ratio(written)


def gauges(of: Scale) -> tuple[Gauge, ...]:
    """Give the gauges of a scale, standard gauge first; empty when none is published."""
    return tuple(
        Gauge(
            row["scale"],
            row["suffix"],
            float(row["gauge_mm"]),
            float(row["full_size_from_mm"]),
            float(row["full_size_below_mm"]),
            row["source"],
            row["edition"],
        )
        for row in rows("gauges")
        if row["scale"] == of.name and row["system"] == of.system
    )


def gauge_for(of: Scale, full_size_mm: float) -> Gauge | None:
    """Choose the model gauge for a full-size gauge (mm), or None when none is published."""
    for gauge in gauges(of):
        if gauge.full_size_from_mm <= full_size_mm < gauge.full_size_below_mm:
            return gauge
    return None


def scale_speed_km_h(speed_m_s: float, of: Scale | float) -> float:
    """Turn the model's speed (m/s) into scale speed (km/h): v x ratio x 3.6.

    Time is not scaled: the trade's custom, by which NEM 661 too reckons.
    """
    return speed_m_s * _ratio(of) * KM_H_PER_M_S


def model_speed_m_s(scale_speed_km_h: float, of: Scale | float) -> float:
    """Turn scale speed (km/h) into the model's speed (m/s)."""
    return scale_speed_km_h / KM_H_PER_M_S / _ratio(of)


def _ratio(of: Scale | float) -> float:
    return of.ratio if isinstance(of, Scale) else _checked(float(of), f"{of}")


def _named(written: str) -> Scale | None:
    """Find by exact spelling, then without regard to capitals, blanks and 0 against O."""
    for key in (_plain, _loose):
        wanted = key(written)
        hits = [s for s in all_scales() if wanted in {key(n) for n in (s.name, *s.aliases)}]
        if hits:
            return min(hits, key=lambda s: _SYSTEMS.index(s.system))
    return None


def _plain(name: str) -> str:
    return re.sub(r"[\s._-]", "", name).casefold()


def _loose(name: str) -> str:
    return _plain(name).replace("o", "0")


def _of_ratio(written: str) -> Scale:
    match = re.fullmatch(r"(?:1\s*[:/]\s*)?(\d+(?:[.,]\d+)?)", written)
    if not match:
        message = f"{written!r} is no scale: give a name such as H0 or N, or a ratio such as 1:87"
        raise NotationError(message)
    ratio = _checked(float(match[1].replace(",", ".")), written)
    for known in all_scales():
        if math.isclose(known.ratio, ratio):
            return known
    return Scale(f"1:{ratio:g}", ratio)


def _checked(ratio: float, written: str) -> float:
    low, high = RATIO_LIMITS
    if not low <= ratio <= high:
        message = f"scale {written} lies outside 1:{low:g} to 1:{high:g}: give a ratio such as 1:87"
        raise NotationError(message)
    return ratio
