"""The table of named orders: how loud each tone of the drive is."""

from collections.abc import Mapping
from typing import Any

import numpy as np

from outshop.bench.sound.drive import Drive
from outshop.bench.sound.evidence import TOLERANCE
from outshop.bench.sound.names import named_orders, shaft_orders
from outshop.bench.sound.speed import Candidate

SIDE_LEAST_DB = 6.0  # side bands below this are not listed; ours
SINE = 3.0103  # dB: a full-scale sine has mean square 1/2


def order_table(
    best: Candidate, drive: Drive, full_scale_db: float | None
) -> tuple[Mapping[str, Any], ...]:
    """List each named order in range with its level and how far it stands out.

    Parameters
    ----------
    best : Candidate
        The reading of the motor's speed.
    drive : Drive
        The drive.
    full_scale_db : float or None
        Level of a full-scale sine; None counts as 0 dB.

    Returns
    -------
    tuple of mapping
        Keys of the contract, ``heard``, and ``side_bands`` with the shaft that makes them.
    """
    offset = SINE + (full_scale_db or 0.0)
    shafts = dict(shaft_orders(drive))
    rows: list[Mapping[str, Any]] = []
    highest = best.spectrum.frequency_hz[-1] * 0.9
    for order in named_orders(drive):
        frequency = order.order * best.mean
        if not 1.0 < frequency < highest:
            continue
        peak = _peak(best, frequency)
        level, excess = best.spectrum.level_db[peak], best.spectrum.excess_db[peak]
        rows.append(
            {
                "name": order.name,
                "shaft": order.shaft,
                "order": order.order,
                "frequency_hz": frequency,
                "level_db": float(level) + offset,
                "error_db": float(best.spectrum.error_db[peak]),
                "prominence_db": float(excess),
                "heard": bool(excess >= best.lines.threshold_db),
                "side_bands": _side_bands(best, order.order, shafts),
            }
        )
    return tuple(rows)


def _peak(best: Candidate, frequency: float) -> int:
    """Index of the strongest bin within the tolerance of a frequency."""
    spectrum = best.spectrum
    step = spectrum.frequency_hz[1]
    reach = TOLERANCE * frequency + step
    first = max(0, int((frequency - reach) / step))
    last = int((frequency + reach) / step) + 2
    return first + int(np.argmax(spectrum.level_db[first:last]))


def _side_bands(
    best: Candidate, order: float, shafts: Mapping[str, float]
) -> list[dict[str, float | str]]:
    """Side bands at ± one turn of a shaft, where both stand out and can be told apart."""
    found: list[dict[str, float | str]] = []
    least_hz = 6 * best.spectrum.frequency_hz[1]
    for name, turns in shafts.items():
        if turns * best.mean < least_hz or order <= turns:
            continue
        at = [_peak(best, (order + sign * turns) * best.mean) for sign in (-1, 1)]
        pair = best.spectrum.excess_db[at]
        if pair.min() > SIDE_LEAST_DB:
            found.append({"shaft": name, "order": turns, "prominence_db": float(pair.mean())})
    return found
