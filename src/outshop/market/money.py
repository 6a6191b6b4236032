"""Exact money: decimal amounts in ISO 4217 currencies, read as people write them."""

import csv
import re
from collections.abc import Mapping
from dataclasses import dataclass
from decimal import ROUND_HALF_UP, Decimal
from functools import cache
from importlib.resources import files

from outshop.errors import InputError, NotationError

GAPS = str.maketrans("", "", " \u00a0\u202f'’")  # thousand separators that are never decimal signs
LARGEST = Decimal(10) ** 12  # more is a slip of the pen


@dataclass(frozen=True, slots=True)
class Currency:
    """A currency and the number of its decimal places."""

    code: str
    minor_units: int

    @property
    def smallest(self) -> Decimal:
        """Smallest amount that can be paid."""
        return Decimal(1).scaleb(-self.minor_units)

    def round(self, amount: Decimal) -> Decimal:
        """Round to the smallest amount, halves away from zero as on invoices."""
        return amount.quantize(self.smallest, ROUND_HALF_UP)


def currency(code: str) -> Currency:
    """Find a currency by its ISO 4217 code.

    Raises
    ------
    NotationError
        No such code.
    """
    found = _currencies().get(code.strip().upper())
    if found is None:
        message = f"{code!r} is no currency code: write three letters of ISO 4217, such as EUR"
        raise NotationError(message)
    return found


def read_amount(text: str, unit: Currency) -> Decimal:
    """Read an amount with the thousand separators of any country.

    Parameters
    ----------
    text : str
        Such as ``1,234.56``, ``1.234,56``, ``1'234.56`` or ``1 234,56``.
    unit : Currency
        Decides what a lone separator before three digits means.

    Raises
    ------
    NotationError
        It is no amount, is negative, or can be read in two ways.
    """
    digits = text.strip().translate(GAPS)
    if digits[:1] in ("=", "+", "@"):
        message = f"{text!r} looks like a formula, not an amount: write the number itself"
        raise NotationError(message)
    if digits.startswith(("-", "−")):
        message = f"a price cannot be negative; got {text!r}"
        raise NotationError(message)
    if not re.fullmatch(r"[0-9]+([.,][0-9]+)*", digits):
        message = f"{text!r} is no amount: write it like 1234.50"
        raise NotationError(message)
    amount = Decimal(_plain(digits, text, unit))
    if amount >= LARGEST:
        message = f"{text!r} is larger than any price: check the digits"
        raise NotationError(message)
    return amount


def _plain(digits: str, text: str, unit: Currency) -> str:
    """Turn separators into at most one decimal point."""
    signs = [c for c in digits if c in ".,"]
    if not signs:
        return digits
    last = signs[-1]
    whole, _, tail = digits.rpartition(last)
    if len(set(signs)) == 2:
        if signs.count(last) > 1:
            message = f"{text!r} mixes its separators: write it like 1234.50"
            raise NotationError(message)
        return _joined(whole, text) + "." + tail
    if len(signs) > 1:
        return _joined(digits, text)
    if len(tail) == 3 and len(whole) <= 3 and whole != "0":
        if unit.minor_units == 3:
            message = f"{text!r} may be {whole}{tail} or {whole}.{tail} {unit.code}: leave no doubt"
            raise NotationError(message)
        return whole + tail
    return whole + "." + tail


def _joined(whole: str, text: str) -> str:
    groups = re.split(r"[.,]", whole)
    if any(len(g) != 3 for g in groups[1:]) or not 1 <= len(groups[0]) <= 3:
        message = f"{text!r} has thousands that are not three digits: write it like 1234.50"
        raise NotationError(message)
    return "".join(groups)


def convert(amount: Decimal, rate: Decimal, unit: Currency) -> Decimal:
    """Convert at the day's rate that the person typed; ``rate`` is ``unit`` per foreign unit.

    Raises
    ------
    InputError
        The rate is not above zero.
    """
    if not rate > 0:
        message = f"the rate must be above zero; got {rate}"
        raise InputError(message)
    return unit.round(amount * rate)


@cache
def _currencies() -> Mapping[str, Currency]:
    text = (files("outshop.market") / "tables" / "currencies.csv").read_text(encoding="utf-8")
    return {
        row["code"]: Currency(row["code"], int(row["minor_units"]))
        for row in csv.DictReader(text.splitlines())
    }
