"""Estimates become soft evidence: how much a reading speaks for each side of a limit."""

import math

from scipy.special import log_ndtr

from outshop.diagnosis.model import Quantity, Side
from outshop.estimate import Estimate

# A single reading never shifts the odds of its sign further than this (judgement): the limit,
# the meter and the reader may all be wrong.
_MOST_ODDS = 60.0
_TINY = 1e-9
_VERDICT = (0.05, 0.95)

Soft = tuple[str, float, float]  # sign, likelihood if absent, likelihood if there


def soft_evidence(quantity: Quantity, reading: Estimate | str, system: str | None) -> list[Soft]:
    """Weigh one reading for each sign that its quantity speaks of.

    The true value is taken as normal around the reading with the width of its interval (on a
    logarithmic scale for ratios); the limit as normal with the quantity's blur. The chance
    that the value lies beyond the limit, as odds, is the likelihood ratio of the sign.
    """
    if isinstance(reading, str):
        verdict = quantity.verdicts[reading]
        absent, there = _VERDICT
        return [(s, absent, there) for s in verdict.yes] + [(s, there, absent) for s in verdict.no]
    found = []
    for side, sense in ((quantity.above, 1.0), (quantity.below, -1.0)):
        if side is not None:
            distance = sense * _distance(quantity, side, reading, system)
            odds = math.exp(float(log_ndtr(distance)) - float(log_ndtr(-distance)))
            odds = min(_MOST_ODDS, max(1 / _MOST_ODDS, odds))
            found.append((side.sign, 1 / (1 + odds), odds / (1 + odds)))
    return found


def _distance(quantity: Quantity, side: Side, reading: Estimate, system: str | None) -> float:
    """Distance of the reading beyond the limit, in standard deviations of both together."""
    limit = side.limit_for(system)
    if quantity.scale == "plain":
        spread = math.hypot(quantity.blur, reading.standard_error)
        return (reading.value - limit) / spread
    at = reading.at_confidence(0.95)
    low, value, high = (max(_TINY, x) for x in (at.low, at.value, at.high))
    width = (math.log(high) - math.log(low)) / (2 * 1.959964)  # 97.5 % point of the normal law
    return math.log(value / limit) / math.hypot(math.log(quantity.blur), width)
