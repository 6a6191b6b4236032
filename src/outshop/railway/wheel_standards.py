"""Limits for wheel sets: NEM 310 (2009, 1977 and garden sizes), NMRA S-4.2, RP-25."""

import re
from dataclasses import dataclass

from outshop.errors import InputError
from outshop.railway.tables import number, rows

GAUGE_TOLERANCE_MM = 0.11  # 31.8 and 32 differ by more; 44.85 and 45, 19.05 and 19.1 must not
QUANTITIES = ("back_to_back", "check_gauge", "flange_height", "flange_thickness", "tyre_width")
_NAMES = {
    "nem310": ("NEM310", None),
    "nem3101977": ("NEM310", "1977"),
    "nem3102009": ("NEM310", "2009"),
    "nem310g": ("NEM310", "2010 G"),
    "s42": ("S-4.2", None),
    "nmras42": ("S-4.2", None),
    "s4": ("S-4.2", None),
    "rp25": ("RP-25", None),
    "nmrarp25": ("RP-25", None),
}


@dataclass(frozen=True, slots=True)
class Limit:
    """The allowed range of one measure of a wheel set.

    Parameters
    ----------
    quantity : str
        One of ``QUANTITIES``.
    low_mm, high_mm : float or None
        Both ends belong to the range; None where the standard sets no such end.
    source, note : str
        Sheet and edition; what is doubtful about the row.
    """

    quantity: str
    low_mm: float | None
    high_mm: float | None
    source: str
    note: str = ""


@dataclass(frozen=True, slots=True)
class WheelStandard:
    """One row of a wheel standard: a gauge, or a contour code."""

    name: str
    edition: str
    size: str
    gauge_mm: float
    limits: tuple[Limit, ...]

    def limit(self, quantity: str) -> Limit | None:
        """Give the limit of a quantity, or None where the standard is silent."""
        return next((x for x in self.limits if x.quantity == quantity), None)


def standard_names() -> tuple[str, ...]:
    """Give the names that :func:`wheel_standard` knows best."""
    return ("NEM310", "NEM310:1977", "NEM310G", "S-4.2", "RP-25")


def wheel_standard(name: str, gauge_mm: float, size: str = "") -> WheelStandard:
    """Find the limits for a gauge.

    Parameters
    ----------
    name : str
        ``NEM310`` (the newest edition that has the gauge), ``NEM310:1977``, ``S-4.2``, ``RP-25``.
    gauge_mm : float
        Track gauge, mm.
    size : str
        Scale or contour code where one gauge has several rows: ``Nn3``, ``code 88``.

    Raises
    ------
    InputError
        No such standard, or it does not know this gauge or size.
    """
    standard, edition = _named(name)
    known = _all(standard, edition)
    fits = [s for s in known if abs(s.gauge_mm - gauge_mm) <= _tolerance(gauge_mm)]
    if not fits:
        gauges = ", ".join(f"{g:g}" for g in sorted({s.gauge_mm for s in known}))
        message = f"{name} does not know the gauge {gauge_mm:g} mm; it knows {gauges}"
        raise InputError(message)
    if not size:
        return fits[0]
    wanted = size.casefold().removeprefix("code").strip()
    for fit in known:
        if fit.size.casefold().removeprefix("code").strip() == wanted:
            return fit
    sizes = ", ".join(s.size for s in known if s.size) or "no separate sizes"
    message = f"{name} does not know the size {size!r}; it knows {sizes}"
    raise InputError(message)


def _tolerance(gauge_mm: float) -> float:
    return max(GAUGE_TOLERANCE_MM, 0.007 * gauge_mm)  # 31.8 for 32, 44.85 for 45


def _named(name: str) -> tuple[str, str | None]:
    key = re.sub(r"[^a-z0-9]", "", name.casefold())
    if key not in _NAMES:
        message = f"{name!r} is no wheel standard: use one of {', '.join(standard_names())}"
        raise InputError(message)
    return _NAMES[key]


def _all(standard: str, edition: str | None) -> list[WheelStandard]:
    """Collect rows; the table lists the newest edition first."""
    grouped: dict[tuple[str, str, float], list[Limit]] = {}
    for row in rows("wheels"):
        gauge = number(row["gauge_mm"])
        if row["standard"] != standard or gauge is None:
            continue
        if edition is not None and row["edition"] != edition:
            continue
        source = f"{row['source']}, {row['edition']}" if row["edition"] else row["source"]
        limit = Limit(
            row["quantity"], number(row["low_mm"]), number(row["high_mm"]), source, row["note"]
        )
        grouped.setdefault((row["edition"], row["size"], gauge), []).append(limit)
    return [
        WheelStandard(standard, edition_, size, gauge, tuple(limits))
        for (edition_, size, gauge), limits in grouped.items()
    ]
