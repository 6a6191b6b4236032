"""What a lot really costs, forwards from the hammer and backwards from the budget, in exact money.

Lines are rounded one by one to the currency's smallest unit, as on an invoice.
Rates differ by house and country: all of them are typed by the person.
"""

from collections.abc import Sequence
from dataclasses import dataclass, field
from decimal import Decimal
from itertools import pairwise

from outshop.errors import InputError
from outshop.market.money import Currency

HUNDRED = Decimal(100)
ZERO = Decimal(0)


@dataclass(frozen=True, slots=True)
class Step:
    """Premium rate on the part of the hammer price up to ``up_to`` (None: without limit)."""

    percent: Decimal
    up_to: Decimal | None = None


@dataclass(frozen=True, slots=True)
class BidStep:
    """From this price on, bids rise by ``increment``."""

    start: Decimal
    increment: Decimal


@dataclass(frozen=True, slots=True)
class Terms:
    """Conditions of one sale and of bringing the lot home.

    Parameters
    ----------
    unit : Currency
        Currency of every amount.
    premium : tuple of Step
        Buyer's premium in tranches, lowest first.
    premium_cap, premium_least : Decimal or None
        Most and least premium for the lot.
    online_percent : Decimal
        Surcharge on the hammer for bidding online.
    tax_on_premium, tax_on_hammer : Decimal
        Percent; the former also falls on the online surcharge.
    tax_on_carriage : Decimal
        Percent of carriage.
    duty_percent : Decimal
        Customs duty on hammer, premium, surcharge, carriage and insurance.
    import_percent : Decimal
        Import tax on the same and on the duty.
    fees : Decimal
        Fixed amounts: handling of the customs, payment, storage.
    carriage : Decimal
        Amount for packing and carriage.
    insurance_percent : Decimal
        On the hammer price.
    bids : tuple of BidStep
        The house's increments, lowest first; empty means the smallest unit.
    """

    unit: Currency
    premium: tuple[Step, ...] = ()
    premium_cap: Decimal | None = None
    premium_least: Decimal | None = None
    online_percent: Decimal = ZERO
    tax_on_premium: Decimal = ZERO
    tax_on_hammer: Decimal = ZERO
    tax_on_carriage: Decimal = ZERO
    duty_percent: Decimal = ZERO
    import_percent: Decimal = ZERO
    fees: Decimal = ZERO
    carriage: Decimal = ZERO
    insurance_percent: Decimal = ZERO
    bids: tuple[BidStep, ...] = field(default=())

    def __post_init__(self) -> None:
        """Check once, at the door."""
        rates = {
            "online surcharge": self.online_percent,
            "tax on the premium": self.tax_on_premium,
            "tax on the hammer price": self.tax_on_hammer,
            "tax on carriage": self.tax_on_carriage,
            "customs duty": self.duty_percent,
            "import tax": self.import_percent,
            "insurance": self.insurance_percent,
            **{f"premium step {i + 1}": s.percent for i, s in enumerate(self.premium)},
        }
        for name, rate in rates.items():
            if not rate.is_finite() or not 0 <= rate <= HUNDRED:
                message = f"{name} must lie between 0 and 100 percent; got {rate}"
                raise InputError(message)
        amounts = {
            "carriage": self.carriage,
            "fixed fees": self.fees,
            "most premium": self.premium_cap or ZERO,
            "least premium": self.premium_least or ZERO,
        }
        for name, amount in amounts.items():
            if not amount.is_finite() or amount < 0:
                message = f"{name} cannot be negative; got {amount}"
                raise InputError(message)
        _check_steps([s.up_to for s in self.premium])
        _check_bids(self.bids)


@dataclass(frozen=True, slots=True)
class Landed:
    """The full price as an invoice would list it."""

    unit: Currency
    lines: tuple[tuple[str, Decimal], ...]

    @property
    def total(self) -> Decimal:
        """Sum of all lines."""
        return sum((amount for _, amount in self.lines), ZERO)


def landed(hammer: Decimal, terms: Terms) -> Landed:
    """Give the full price of a lot hammered at ``hammer``.

    Raises
    ------
    InputError
        The hammer price is negative.
    """
    if hammer < 0:
        message = f"a hammer price cannot be negative; got {hammer}"
        raise InputError(message)
    money = terms.unit.round
    premium = money(_premium(hammer, terms))
    online = money(hammer * terms.online_percent / HUNDRED)
    insurance = money(hammer * terms.insurance_percent / HUNDRED)
    imported = hammer + premium + online + terms.carriage + insurance
    duty = money(imported * terms.duty_percent / HUNDRED)
    lines = (
        ("hammer", money(hammer)),
        ("premium", premium),
        ("online surcharge", online),
        (
            "tax on premium and surcharge",
            money((premium + online) * terms.tax_on_premium / HUNDRED),
        ),
        ("tax on hammer", money(hammer * terms.tax_on_hammer / HUNDRED)),
        ("carriage", money(terms.carriage)),
        ("tax on carriage", money(terms.carriage * terms.tax_on_carriage / HUNDRED)),
        ("insurance", insurance),
        ("customs duty", duty),
        ("import tax", money((imported + duty) * terms.import_percent / HUNDRED)),
        ("fixed fees", money(terms.fees)),
    )
    return Landed(terms.unit, lines)


def highest_bid(budget: Decimal, terms: Terms) -> Decimal:
    """Give the highest bid of the house's increments whose full price stays within ``budget``.

    Returns
    -------
    Decimal
        Zero when not even the lowest bid fits.

    Raises
    ------
    InputError
        The budget is negative.
    """
    if budget < 0:
        message = f"a budget cannot be negative; got {budget}"
        raise InputError(message)
    # the full price never falls when the hammer rises, so halving finds the last bid that fits
    low, high = 0, _count_bids(budget, terms)
    while low < high:
        middle = (low + high + 1) // 2
        if landed(_bid(middle, terms), terms).total <= budget:
            low = middle
        else:
            high = middle - 1
    return terms.unit.round(_bid(low, terms))


def _premium(hammer: Decimal, terms: Terms) -> Decimal:
    total, start = ZERO, ZERO
    for step in terms.premium:
        top = hammer if step.up_to is None else min(hammer, step.up_to)
        if top > start:
            total += (top - start) * step.percent / HUNDRED
            start = top
    if terms.premium_cap is not None:
        total = min(total, terms.premium_cap)
    if terms.premium_least is not None and hammer > 0:
        total = max(total, terms.premium_least)
    return total


def _ladder(terms: Terms) -> Sequence[BidStep]:
    return terms.bids or (BidStep(ZERO, terms.unit.smallest),)


def _count_bids(limit: Decimal, terms: Terms) -> int:
    """Count the bids above zero up to ``limit``."""
    ladder = _ladder(terms)
    count = 0
    for step, following in zip(ladder, [*ladder[1:], None], strict=True):
        top = limit if following is None else min(limit, following.start)
        if top > step.start:
            count += int((top - step.start) / step.increment)
    return count


def _bid(number: int, terms: Terms) -> Decimal:
    """Give the bid with this number on the ladder; number 0 is no bid."""
    ladder = _ladder(terms)
    for step, following in zip(ladder, [*ladder[1:], None], strict=True):
        here = None if following is None else int((following.start - step.start) / step.increment)
        if here is None or number <= here:
            return step.start + number * step.increment
        number -= here
    return ladder[-1].start


def _check_steps(limits: Sequence[Decimal | None]) -> None:
    previous = ZERO
    for number, limit in enumerate(limits, start=1):
        if limit is None:
            if number != len(limits):
                message = f"premium step {number} has no upper limit: only the last may be open"
                raise InputError(message)
            return
        if limit <= previous:
            message = (
                f"premium step {number} ends at {limit}, not above {previous}: "
                "steps overlap; order them by their limits"
            )
            raise InputError(message)
        previous = limit


def _check_bids(bids: Sequence[BidStep]) -> None:
    for number, step in enumerate(bids, start=1):
        if step.increment <= 0:
            message = f"bid step {number} must rise by more than 0; got {step.increment}"
            raise InputError(message)
    if bids and bids[0].start != 0:
        message = f"the first bid step must start at 0; got {bids[0].start}"
        raise InputError(message)
    for number, (lower, upper) in enumerate(pairwise(bids), start=2):
        if upper.start <= lower.start or (upper.start - lower.start) % lower.increment:
            message = (
                f"bid step {number} starts at {upper.start}, which the steps of "
                f"{lower.increment} from {lower.start} do not reach"
            )
            raise InputError(message)
