"""Terms and outlook as a person types them: short lines, exact numbers."""

import re
from collections.abc import Mapping
from dataclasses import dataclass
from decimal import ROUND_DOWN, Decimal, InvalidOperation

from outshop.errors import InputError
from outshop.market.bid import Grade, Repair
from outshop.market.landed import BidStep, Step, Terms
from outshop.market.money import Currency, convert, currency, read_amount

PREMIUM = re.compile(
    r"\s*(?P<percent>[0-9.,]+)\s*%?\s*(?:(?:to|up to|until)\s*(?P<limit>.+?))?\s*", re.IGNORECASE
)
RATES_END = Decimal(10) ** 7  # more is a slip of the pen
FOUR = "name; chance in percent; {}; {}"


@dataclass(frozen=True, slots=True)
class Home:
    """The person's own currency, and the day's rate: ``unit`` for one of the sale's currency."""

    unit: Currency
    rate: Decimal

    def of(self, amount: Decimal) -> Decimal:
        """Convert an amount of the sale's currency."""
        return convert(amount, self.rate, self.unit)

    def abroad(self, amount: Decimal, unit: Currency) -> Decimal:
        """Convert an own amount to the sale's currency, rounded down so that it is not exceeded."""
        return (amount / self.rate).quantize(unit.smallest, ROUND_DOWN)


@dataclass(frozen=True, slots=True)
class Outlook:
    """What the lot may turn out to be, and how far the person will go."""

    grades: tuple[Grade, ...]
    repairs: tuple[Repair, ...]
    accepted_regret: float
    hour_worth: float
    bidders: int
    judgement_spread: float


def read_terms(typed: Mapping[str, str], unit: Currency) -> Terms:
    """Read the terms of a sale.

    Parameters
    ----------
    typed : mapping of str to str
        ``premium`` (``25 % to 1000; 20 %``), ``premium_cap``, ``premium_least``,
        ``online_percent``, ``tax_on_premium``, ``tax_on_hammer``, ``tax_on_carriage``,
        ``duty_percent``, ``import_percent``, ``fees``, ``carriage``, ``insurance_percent`` and
        ``bids`` (``0: 5; 100: 10``); empty means none.
    unit : Currency

    Raises
    ------
    InputError
        An entry cannot be read or contradicts another.
    """

    def percent(key: str) -> Decimal:
        return _percent(typed.get(key, ""), key.replace("_", " "))

    def amount(key: str) -> Decimal | None:
        text = typed.get(key, "").strip()
        return read_amount(text, unit) if text else None

    return Terms(
        unit,
        premium=read_premium(typed.get("premium", ""), unit),
        premium_cap=amount("premium_cap"),
        premium_least=amount("premium_least"),
        online_percent=percent("online_percent"),
        tax_on_premium=percent("tax_on_premium"),
        tax_on_hammer=percent("tax_on_hammer"),
        tax_on_carriage=percent("tax_on_carriage"),
        duty_percent=percent("duty_percent"),
        import_percent=percent("import_percent"),
        fees=amount("fees") or Decimal(0),
        carriage=amount("carriage") or Decimal(0),
        insurance_percent=percent("insurance_percent"),
        bids=_bids(typed.get("bids", ""), unit),
    )


def read_home(typed: Mapping[str, str]) -> Home | None:
    """Read ``home_currency`` and ``rate``; None when neither is typed.

    Raises
    ------
    InputError
        One of them is missing or cannot be used.
    """
    code, rate = typed.get("home_currency", "").strip(), typed.get("rate", "").strip()
    if not code and not rate:
        return None
    if not code or not rate:
        message = "own currency and the day's rate go together: write both or neither"
        raise InputError(message)
    try:
        number = Decimal(rate.replace(",", "."))
    except InvalidOperation as problem:
        message = f"the day's rate: {rate!r} is not a number"
        raise InputError(message) from problem
    if not number.is_finite() or not 0 < number < RATES_END:
        message = f"the day's rate must be above 0 and below {RATES_END}; got {rate}"
        raise InputError(message)
    return Home(currency(code), number)


def read_premium(text: str, unit: Currency) -> tuple[Step, ...]:
    """Read a premium in tranches: ``25 % to 1000; 20 % to 5000; 12 %``."""
    steps = []
    for part in _parts(text):
        match = PREMIUM.fullmatch(part)
        if not match:
            message = f"premium {part!r}: write it like 25 % to 1000; 20 %"
            raise InputError(message)
        limit = match["limit"]
        steps.append(
            Step(_percent(match["percent"], "premium"), read_amount(limit, unit) if limit else None)
        )
    return tuple(steps)


def read_outlook(typed: Mapping[str, str]) -> Outlook:
    """Read conditions, repairs and how far to go.

    Parameters
    ----------
    typed : mapping of str to str
        ``grades``: one a line, ``name; chance %; value; spread %``. ``repairs``: one a line,
        ``name; chance %; cost; minutes``. ``accepted_regret`` and ``judgement_spread`` in percent,
        ``hour_worth``, ``bidders``.

    Raises
    ------
    InputError
        A line cannot be read.
    """
    grades = tuple(
        Grade(name, a / 100, b, c / 100)
        for name, a, b, c in _lines(typed.get("grades", ""), "condition", "value", "spread percent")
    )
    repairs = tuple(
        Repair(name, a / 100, b, c)
        for name, a, b, c in _lines(typed.get("repairs", ""), "repair", "cost", "minutes")
    )
    return Outlook(
        grades,
        repairs,
        _number(typed.get("accepted_regret", "") or "20", "accepted regret") / 100,
        _number(typed.get("hour_worth", "") or "0", "an hour's worth"),
        int(_number(typed.get("bidders", "") or "1", "bidders")),
        _number(typed.get("judgement_spread", "") or "0", "spread of judgement") / 100,
    )


def _lines(text: str, what: str, third: str, fourth: str) -> list[tuple[str, float, float, float]]:
    rows = []
    for line in text.splitlines():
        if not line.strip():
            continue
        cells = [cell.strip() for cell in line.split(";")]
        if len(cells) != 4 or not cells[0]:
            message = f"{what} {line.strip()!r}: write {FOUR.format(third, fourth)}"
            raise InputError(message)
        place = f"{what} {cells[0]}"
        numbers = [_number(cell, place) for cell in cells[1:]]
        rows.append((cells[0], numbers[0], numbers[1], numbers[2]))
    return rows


def _parts(text: str) -> list[str]:
    return [part for part in re.split(r"[;\n]", text) if part.strip()]


def _bids(text: str, unit: Currency) -> tuple[BidStep, ...]:
    steps = []
    for part in _parts(text):
        start, colon, increment = part.partition(":")
        if not colon:
            message = (
                f"bid step {part.strip()!r}: write from which price and by how much, as 100: 10"
            )
            raise InputError(message)
        steps.append(BidStep(read_amount(start, unit), read_amount(increment, unit)))
    return tuple(steps)


def _percent(text: str, name: str) -> Decimal:
    plain = text.strip().rstrip("%").strip().replace(",", ".")
    if not plain:
        return Decimal(0)
    try:
        return Decimal(plain)
    except InvalidOperation as problem:
        message = f"{name}: {text.strip()!r} is no number of percent"
        raise InputError(message) from problem


def _number(text: str, name: str) -> float:
    plain = text.strip().rstrip("%").strip().replace(",", ".")
    try:
        number = float(plain)
    except ValueError as problem:
        message = f"{name}: {text.strip()!r} is not a number"
        raise InputError(message) from problem
    if not -1e12 < number < 1e12:  # also refuses nan and infinity
        message = f"{name}: {text.strip()!r} is out of range"
        raise InputError(message)
    return number
