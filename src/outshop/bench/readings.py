"""What a person reads off a meter, caliper or scale, and how far to trust it."""

import math
import re
from collections.abc import Sequence

import numpy as np
from scipy.special import stdtrit

from outshop.errors import InputError
from outshop.estimate import Estimate

_PREFIXES = {"": 1.0, "m": 1e-3, "u": 1e-6, "µ": 1e-6, "μ": 1e-6, "k": 1e3, "K": 1e3, "M": 1e6}
_SYMBOLS = {
    "ohm": ("ohms", "ohm", "Ohm", "Ω", "Ω", "R"),
    "A": ("amps", "amp", "A", "a"),
    "V": ("volts", "volt", "V", "v"),
    "s": ("sec", "s"),
    "g": ("gr", "g"),
    "N": ("N",),
}
_OVERLOAD = {"ol", "o.l", "o.l.", "0l", "0.l", "inf", "open", "infinite", "∞", "over", "oflow"}
_NUMBER = re.compile(r"([+-]?(?:\d+(?:[.,]\d*)?|[.,]\d+)(?:[eE][+-]?\d+)?)\s*(.*)")


def quantity(text: str, unit: str) -> tuple[float, str]:
    """Read one hand-typed value, such as ``4.2``, ``4,2``, ``350 mA`` or ``OL``.

    Parameters
    ----------
    text : str
        Number with decimal point or comma and an optional unit with prefix.
    unit : str
        The base unit wanted: ``ohm``, ``A``, ``V``, ``s``, ``g``, ``N`` or another plain symbol.

    Returns
    -------
    value, written : float, str
        The value in ``unit`` (infinite for an overload sign such as ``OL``) and the unit as
        it was typed, empty if none.

    Raises
    ------
    InputError
        It is no number, not finite, or carries another unit.
    """
    cell = text.strip().strip('"').strip()
    if cell.casefold() in _OVERLOAD:
        return math.inf, ""
    match = _NUMBER.fullmatch(cell)
    if not match:
        message = f"{text!r} is no number: type it like 4.2 or 4,2, or OL for an open reading"
        raise InputError(message)
    value = float(match[1].replace(",", "."))
    factor = _factor(match[2].strip(), unit, text)
    if not math.isfinite(value * factor):
        message = f"{text!r} is too large to be a reading"
        raise InputError(message)
    return value * factor, match[2].strip()


def last_digit(text: str, unit: str) -> float:
    """Give the size of the last digit shown, in ``unit``: 0.1 for ``4.2``, 1e-3 for ``350 mA``.

    Raises
    ------
    InputError
        As :func:`quantity`.
    """
    match = _NUMBER.fullmatch(text.strip().strip('"').strip())
    if not match:
        return 0.0
    mantissa, _, exponent = match[1].lower().partition("e")
    decimals = len(re.split(r"[.,]", mantissa)[1]) if re.search(r"[.,]", mantissa) else 0
    step = 10.0 ** (int(exponent or 0) - decimals)
    return step * _factor(match[2].strip(), unit, text)


def check_same_units(written: Sequence[str], what: str) -> None:
    """Refuse readings of which some carry a unit and some do not.

    Raises
    ------
    InputError
        They are mixed.
    """
    if len({bool(u) for u in written}) > 1:
        message = f"the {what} mix numbers with and without unit: write it at each or at none"
        raise InputError(message)


def repeated(
    readings: Sequence[float], unit: str, *, resolution: float, method: str = "repeated readings"
) -> Estimate:
    """Estimate one quantity from readings taken over.

    The half-width is Student's interval of the mean. Where the readings scatter less than half
    a step, rounding does not average out: then a uniform error of one step to each side is
    added in quadrature.

    Parameters
    ----------
    readings : sequence of float, shape (n,)
        At least one, in ``unit``.
    resolution : float
        Smallest step that the tool shows or the hand can hold, in ``unit``.

    Raises
    ------
    InputError
        None given, or one is not finite.
    """
    values = np.asarray(readings, dtype=float)
    if values.size == 0 or not np.all(np.isfinite(values)):
        message = f"a mean needs finite readings; got {list(readings)}"
        raise InputError(message)
    half = 0.95 * resolution  # 95 % of a uniform law of half-width one step
    if values.size > 1:
        scatter = float(np.std(values, ddof=1))
        mean_error = student(values.size - 1) * scatter / math.sqrt(values.size)
        half = math.hypot(0.0 if scatter > resolution / 2 else half, mean_error)
    warnings = () if values.size > 2 else ("take three readings or more",)
    mean = float(np.mean(values))
    return Estimate.plus_minus(mean, half, unit, method=method, warnings=warnings)


def student(freedom: float, confidence: float = 0.95) -> float:
    """Give Student's two-sided quantile; the cheap import, not the whole of scipy.stats."""
    return float(stdtrit(freedom, 0.5 + confidence / 2))


def positive(value: float, what: str, unit: str) -> float:
    """Return a value above zero, or raise the sentence that says what is wrong.

    Raises
    ------
    InputError
        It is zero, negative or not finite.
    """
    if not (math.isfinite(value) and value > 0):
        message = f"{what} must be above 0 {unit}; got {value:g}"
        raise InputError(message)
    return value


def _factor(written: str, unit: str, text: str) -> float:
    if not written:
        return 1.0
    symbols = _SYMBOLS.get(unit, (unit,))
    for symbol in sorted(("", *symbols) if unit == "ohm" else symbols, key=len, reverse=True):
        if written.endswith(symbol) and written.removesuffix(symbol).strip() in _PREFIXES:
            return _PREFIXES[written.removesuffix(symbol).strip()]
    message = f"{text!r} carries the unit {written!r} where {unit} is wanted"
    raise InputError(message)


def number_list(text: str, unit: str) -> list[float]:
    """Read several values from one line: ``14.2,14.3``, ``14,2; 14,3`` or ``14.2 14.3``.

    A comma separates unless blanks, semicolons or slashes do; then it is the decimal sign.
    Commas alone (``14,2,14,3``) are decimal signs when only that makes the values alike.

    Raises
    ------
    InputError
        A part is no number in that unit.
    """
    text = text.strip().removesuffix(unit).strip()
    parts = [p for p in re.split(r"[;/]|\s+", re.sub(r",\s", ";", text)) if p]
    pieces = [p for p in text.split(",") if p.strip()]
    if len(parts) == 1 and "," in text and pieces:
        parts = pieces if "." in text or _alike(pieces) else _paired(pieces)
    values = [quantity(p, unit)[0] for p in parts]
    if not values or not all(map(math.isfinite, values)):
        message = f"{text!r} holds no readings: type them like 14.2,14.3,14.2"
        raise InputError(message)
    return values


def _alike(pieces: Sequence[str]) -> bool:
    values = [quantity(p, "")[0] for p in pieces]
    return len(values) == 1 or min(values) > 0.7 * max(values) > 0


def _paired(pieces: Sequence[str]) -> list[str]:
    """Join whole and decimal parts that were split at decimal commas."""
    if len(pieces) % 2:
        return list(pieces)
    return [f"{a}.{b}" for a, b in zip(pieces[::2], pieces[1::2], strict=True)]
