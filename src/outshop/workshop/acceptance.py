"""Is it as good as it should be? Against its own past, its best, and its sisters.

Robust on purpose: one bad evening must not move the band. With few readings there is no
band, and silence is the answer.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from typing import Literal

import numpy as np
from scipy.special import stdtrit

from outshop.errors import InputError
from outshop.estimate import Estimate, NotMeasurable, Reading

FEWEST_FOR_BAND = 5  # below this a band would be wider than any use; our choice
FEWEST_FOR_DRIFT = 6  # Kendall's test cannot reach 1 % two-sided with fewer (exact table)
DRIFT_CONFIDENCE = 0.99  # a false alarm in a hundred looks; our choice
MAD_TO_SIGMA = 1.4826  # 1/Φ⁻¹(3/4): median absolute deviation to σ of a normal law
# Small-sample factors of the MAD (Croux and Rousseeuw 1992, table 1, n = 2 to 9; from memory).
MAD_SMALL = {2: 1.196, 3: 1.495, 4: 1.363, 5: 1.206, 6: 1.200, 7: 1.140, 8: 1.129, 9: 1.107}

Better = Literal["lower", "higher"]
Place = Literal["inside", "better", "worse", "no band"]


@dataclass(frozen=True, slots=True)
class Band:
    """Where the next reading should fall if nothing has changed.

    Parameters
    ----------
    centre, low, high : float
        Median and the ends of the band, in ``unit``.
    unit : str
        Of the readings.
    readings : int
        How many it stands on.
    """

    centre: float
    low: float
    high: float
    unit: str
    readings: int


def band(values: Sequence[float], unit: str, *, confidence: float = 0.95) -> Band | NotMeasurable:
    """Give the robust prediction band of the next reading.

    Parameters
    ----------
    values : array [shape=(n,)]
        Earlier readings of one quantity, all in ``unit``.
    unit : str
        Their unit.
    confidence : float
        Chance that the next reading falls inside when nothing has changed.

    Raises
    ------
    InputError
        A value is not finite.

    Notes
    -----
    Median ± t(n−1)·s·√(1 + π/(2n)), with s the scaled median absolute deviation and π/2 the
    variance of a normal sample's median against its mean.
    """
    x = np.asarray(values, dtype=float)
    if not np.isfinite(x).all():
        message = "an earlier reading is not a number; leave it out"
        raise InputError(message)
    if x.size < FEWEST_FOR_BAND:
        reason = f"{x.size} earlier readings are too few for a band; {FEWEST_FOR_BAND} are needed"
        return NotMeasurable(reason, unit)
    centre = float(np.median(x))
    small = MAD_SMALL.get(x.size, x.size / (x.size - 0.8))
    sigma = MAD_TO_SIGMA * small * float(np.median(np.abs(x - centre)))
    # The MAD is half as efficient as the standard deviation (37 % for a normal law), so it
    # carries fewer degrees of freedom.
    freedom = max(0.37 * (x.size - 1), 1.5)
    reach = float(stdtrit(freedom, 0.5 + confidence / 2))
    half = reach * sigma * math.sqrt(1 + math.pi / (2 * x.size))
    return Band(centre, centre - half, centre + half, unit, int(x.size))


def place(reading: Reading, known: Band | NotMeasurable, better: Better) -> Place:
    """Tell where a reading lies: only a whole interval outside the band counts as outside.

    Raises
    ------
    InputError
        The units differ.
    """
    if isinstance(known, NotMeasurable) or isinstance(reading, NotMeasurable):
        return "no band"
    if reading.unit != known.unit:
        message = f"the reading is in {reading.unit}, the band in {known.unit}; compare like units"
        raise InputError(message)
    if reading.high < known.low:
        return "better" if better == "lower" else "worse"
    if reading.low > known.high:
        return "worse" if better == "lower" else "better"
    return "inside"


def best_ever(readings: Sequence[Estimate], better: Better) -> Estimate | None:
    """Give the best reading so far, judged by the cautious end of its interval."""
    if not readings:
        return None
    if better == "lower":
        return min(readings, key=lambda r: r.high)
    return max(readings, key=lambda r: r.low)


@dataclass(frozen=True, slots=True)
class Drift:
    """How a quantity moves over the years.

    Parameters
    ----------
    per_year : Estimate
        Theil–Sen slope in unit per year with its interval at 99 %.
    alarm : bool
        Whether it gets worse beyond chance.
    """

    per_year: Estimate
    alarm: bool


def drift(
    days: Sequence[date], values: Sequence[float], unit: str, better: Better
) -> Drift | NotMeasurable:
    """Find a drift over the years by the Theil–Sen slope (Sen 1968).

    Parameters
    ----------
    days : sequence of date [shape=(n,)]
        When each reading was taken.
    values : array [shape=(n,)]
        The readings, in ``unit``.

    Raises
    ------
    InputError
        Lengths differ or a value is not finite.
    """
    if len(days) != len(values):
        message = f"each day needs one reading; got {len(days)} days and {len(values)} readings"
        raise InputError(message)
    y = np.asarray(values, dtype=float)
    if not np.isfinite(y).all():
        message = "a reading is not a number; leave it out"
        raise InputError(message)
    years = np.asarray([day.toordinal() for day in days], dtype=float) / 365.25
    if y.size < FEWEST_FOR_DRIFT or np.unique(years).size < FEWEST_FOR_DRIFT:
        reason = f"a drift needs readings of at least {FEWEST_FOR_DRIFT} days; got {y.size}"
        return NotMeasurable(reason, f"{unit}/year")
    from scipy.stats import theilslopes  # slow to load, rarely needed

    slope, _, low, high = (float(part) for part in theilslopes(y, years, alpha=DRIFT_CONFIDENCE))
    per_year = Estimate(slope, low, high, f"{unit}/year", DRIFT_CONFIDENCE, "Theil–Sen slope")
    return Drift(per_year, low > 0 if better == "lower" else high < 0)
