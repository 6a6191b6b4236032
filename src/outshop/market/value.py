"""What a piece is worth: hedonic regression of log price on few sales, with sensible priors.

log price = base + condition + box + papers + working + years since the newest sale x trend.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

import numpy as np

from outshop.errors import InputError
from outshop.estimate import Estimate, NotMeasurable, Reading
from outshop.market.comparables import Comparable
from outshop.market.regression import Array, Fit, Prior, regress

FEWEST = 3  # sales; below that nothing is said; judgement
NAMES = ("base", "condition", "box", "papers", "working", "trend")
# Effects on log price: mean and deviation. Judgement, no source; a few dozen sales override them.
BELIEFS = {
    "condition": (1.2, 0.5),  # scrap to as new: about a factor of 3.3
    "box": (0.25, 0.15),
    "papers": (0.05, 0.08),
    "working": (0.30, 0.20),
    "trend": (0.0, 0.04),  # per year
}
NOISE, NOISE_CASES = 0.30, 4.0  # one sale scatters by about a third; judgement
DAYS = 365.25


@dataclass(frozen=True, slots=True)
class Subject:
    """The piece to be valued."""

    condition: float
    box: bool
    papers: bool
    working: bool


@dataclass(frozen=True, slots=True)
class Value:
    """Market value and what it rests on.

    Parameters
    ----------
    price : Reading
        80 % prediction interval for one sale, in the sales' currency; or too few to say.
    trend_percent : Reading
        Change per year.
    fit : Fit or None
    sales : int
    """

    price: Reading
    trend_percent: Reading
    fit: Fit | None
    sales: int


def value_piece(
    sales: Sequence[Comparable], subject: Subject, today: date, confidence: float = 0.8
) -> Value:
    """Value a piece from comparable sales in one currency.

    Parameters
    ----------
    sales : sequence of Comparable
    subject : Subject
    today : date
        The value is asked for this day.
    confidence : float

    Raises
    ------
    InputError
        The sales are in several currencies.
    """
    codes = {sale.code for sale in sales}
    if len(codes) > 1:
        message = (
            f"the sales are in {' and '.join(sorted(codes))}: convert them to one currency first"
        )
        raise InputError(message)
    unit = codes.pop() if codes else ""
    if len(sales) < FEWEST:
        reason = f"{len(sales)} sales are too few to say; {FEWEST} are the least"
        nothing = NotMeasurable(reason, unit)
        return Value(nothing, NotMeasurable(reason, "percent"), None, len(sales))
    fit = fit_sales(sales, today)
    row = np.array([1.0, subject.condition, subject.box, subject.papers, subject.working, 0.0])
    log_price = fit.predict(row, confidence=confidence)
    price = log_price.map(lambda x: float(np.exp(x)), unit)
    trend = fit.coefficient("trend").map(lambda x: 100 * float(np.expm1(x)), "percent")
    return Value(price, trend, fit, len(sales))


def course(
    found: Value, subject: Subject, days: Sequence[date], today: date
) -> list[tuple[date, Estimate]]:
    """Follow the price of one more sale over the days; empty when too few sales are known.

    The interval has the confidence of :func:`value_piece`'s default, 80 %.
    """
    if found.fit is None:
        return []
    fixed = [1.0, subject.condition, subject.box, subject.papers, subject.working]
    followed = []
    for day in days:
        row = np.array([*fixed, (day - today).days / DAYS])
        price = found.fit.predict(row).map(lambda x: float(np.exp(x)), "")
        followed.append((day, price))
    return followed


def fit_sales(sales: Sequence[Comparable], today: date) -> Fit:
    """Fit the hedonic regression; base free, all else shrunk towards :data:`BELIEFS`."""
    columns = np.array(
        [
            [1.0, s.condition, s.box, s.papers, s.working, (s.sold - today).days / DAYS]
            for s in sales
        ]
    )
    response: Array = np.log([float(s.price) for s in sales])
    means = np.array([0.0, *(BELIEFS[n][0] for n in NAMES[1:])])
    deviations = np.array([np.inf, *(BELIEFS[n][1] for n in NAMES[1:])])
    prior = Prior(means, deviations, NOISE, NOISE_CASES)
    return regress(columns, response, NAMES, prior, robust=True)
