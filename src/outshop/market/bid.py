"""How far to bid when value, condition and repair are uncertain.

Monte Carlo with a fixed seed. Regret means that the full price and the repair together exceed the
value. The ceiling is the highest bid whose chance of regret stays within what the person accepts.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal

import numpy as np
from numpy.typing import NDArray

from outshop.errors import InputError
from outshop.market.landed import Terms, highest_bid, landed

Array = NDArray[np.float64]
DRAWS = 20_000  # standard error of a 20 % regret chance: 0.3 %
SEED = 1825  # fixed, so that the same question gives the same answer


@dataclass(frozen=True, slots=True)
class Grade:
    """One condition the lot may turn out to have.

    Parameters
    ----------
    name : str
    chance : float
        Need not add to 1; they are scaled.
    value : float
        Middle value in that condition.
    spread : float
        Standard deviation of log value, 0.3 for about a third either way.
    """

    name: str
    chance: float
    value: float
    spread: float


@dataclass(frozen=True, slots=True)
class Repair:
    """One thing that may have to be put right.

    Parameters
    ----------
    name : str
    chance : float
        0 to 1.
    cost : float
        Parts and materials.
    minutes : float
        Own work.
    """

    name: str
    chance: float
    cost: float
    minutes: float = 0.0


@dataclass(frozen=True, slots=True)
class Ceiling:
    """How far to bid, and why.

    Parameters
    ----------
    bid : Decimal
        Highest bid on the house's ladder.
    budget : float
        Full price that the bid must stay within.
    regret : float
        Chance of regret at that bid.
    value, reserve : (float, float, float)
        10 %, middle and 90 % of value, and of repair.
    drivers : tuple of (name, share)
        What the uncertainty comes from, largest first; shares of explained rank variance.
    sentence : str
    warnings : tuple of str
    """

    bid: Decimal
    budget: float
    regret: float
    value: tuple[float, float, float]
    reserve: tuple[float, float, float]
    drivers: tuple[tuple[str, float], ...]
    sentence: str
    warnings: tuple[str, ...] = ()


def expected_maximum(bidders: int) -> float:
    """Give the mean of the largest of ``bidders`` standard normal draws.

    The winner of an auction is the one who judged the lot highest; with equal information the
    winning judgement is too high by this many standard deviations of one judgement.
    """
    from scipy import stats  # a second to load, and pages load this module at their start
    from scipy.integrate import quad

    def density(x: float) -> float:
        return float(bidders * x * stats.norm.pdf(x) * stats.norm.cdf(x) ** (bidders - 1))

    return float(quad(density, -8, 8)[0])


def bid_ceiling(
    grades: Sequence[Grade],
    repairs: Sequence[Repair],
    terms: Terms,
    *,
    accepted_regret: float = 0.2,
    hour_worth: float = 0.0,
    bidders: int = 1,
    judgement_spread: float = 0.0,
    seed: int = SEED,
) -> Ceiling:
    """Find the highest bid for the chance of regret that the person accepts.

    Parameters
    ----------
    grades : sequence of Grade
        Conditions the listing allows.
    repairs : sequence of Repair
        Independent of each other and of the grade.
    terms : Terms
        Of the sale and of carriage.
    accepted_regret : float
        Between 0 and 1, both excluded.
    hour_worth : float
        What an hour of own work counts, 0 for pleasure.
    bidders : int
        Serious bidders, oneself included; lowers the value by the winner's curse.
    judgement_spread : float
        Standard deviation of one's own judgement of log value.
    seed : int

    Raises
    ------
    InputError
        A chance, value or number is out of range.
    """
    _check(grades, repairs, accepted_regret, bidders)
    rng = np.random.default_rng(seed)
    chances = np.array([g.chance for g in grades])
    which = rng.choice(len(grades), DRAWS, p=chances / chances.sum())
    scatter = rng.normal(size=DRAWS)
    curse = judgement_spread * expected_maximum(bidders)
    middle = np.log(np.array([g.value for g in grades]))[which] - curse
    value = np.exp(middle + np.array([g.spread for g in grades])[which] * scatter)
    needed = rng.random((len(repairs), DRAWS)) < np.array([[r.chance] for r in repairs]).reshape(
        -1, 1
    )
    price = np.array([r.cost + r.minutes / 60 * hour_worth for r in repairs]).reshape(-1, 1)
    reserve = (needed * price).sum(axis=0) if len(repairs) else np.zeros(DRAWS)
    worth = value - reserve
    budget = max(0.0, float(np.quantile(worth, accepted_regret)))
    bid = highest_bid(terms.unit.round(Decimal(repr(budget))), terms)
    full = float(landed(bid, terms).total)
    causes: dict[str, Array] = {"condition": middle, "prices": scatter}
    causes |= {r.name: needed[i].astype(float) for i, r in enumerate(repairs)}
    drivers = _drivers(causes, worth)
    doubt = f" Most of the doubt comes from {drivers[0][0]}." if drivers else ""
    warnings = []
    if curse:
        warnings.append(
            f"value lowered by {100 * -np.expm1(-curse):.0f} percent: who wins against "
            f"{bidders - 1} others has usually judged too high"
        )
    if bid == 0:
        warnings.append("no bid keeps the chance of regret within what you accept: let it go")
    sentence = (
        f"Bid up to {bid} {terms.unit.code}: all in all it lands at {full:.2f}, and the chance "
        f"that value less repair falls short of that is {(worth < full).mean():.0%}.{doubt}"
    )
    return Ceiling(
        bid,
        budget,
        float((worth < full).mean()),
        _three(value),
        _three(reserve),
        drivers,
        sentence,
        tuple(warnings),
    )


def _drivers(causes: dict[str, Array], worth: Array) -> tuple[tuple[str, float], ...]:
    """Share the rank variance of ``worth`` among its independent causes."""
    from scipy.stats import spearmanr  # slow to load

    squares = {}
    for name, draws in causes.items():
        if np.ptp(draws) > 0 and np.ptp(worth) > 0:
            squares[name] = float(spearmanr(draws, worth).statistic) ** 2
    total = sum(squares.values())
    if not total:
        return ()
    return tuple(sorted(((n, s / total) for n, s in squares.items()), key=lambda pair: -pair[1]))


def _three(draws: Array) -> tuple[float, float, float]:
    low, middle, high = np.quantile(draws, (0.1, 0.5, 0.9))
    return float(low), float(middle), float(high)


def _check(
    grades: Sequence[Grade], repairs: Sequence[Repair], accepted_regret: float, bidders: int
) -> None:
    if not grades or not sum(g.chance for g in grades) > 0:
        message = "say at least one condition that the lot may have, with a chance above 0"
        raise InputError(message)
    for grade in grades:
        if grade.chance < 0 or not grade.value > 0 or grade.spread < 0:
            message = (
                f"condition {grade.name}: chance and spread cannot be negative, "
                "value must be above 0"
            )
            raise InputError(message)
    for repair in repairs:
        if not 0 <= repair.chance <= 1:
            message = (
                f"repair {repair.name}: the chance must lie between 0 and 1; got {repair.chance}"
            )
            raise InputError(message)
        if repair.cost < 0 or repair.minutes < 0:
            message = f"repair {repair.name}: cost and minutes cannot be negative"
            raise InputError(message)
    if not 0 < accepted_regret < 1:
        message = f"the accepted chance of regret must lie between 0 and 1; got {accepted_regret}"
        raise InputError(message)
    if bidders < 1:
        message = f"there is at least one bidder, yourself; got {bidders}"
        raise InputError(message)
