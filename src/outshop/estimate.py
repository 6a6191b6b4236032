"""A number with its honest uncertainty, or a reason why there is none.

Everything that measures returns :class:`Estimate` or :class:`NotMeasurable`;
the union is called :data:`Reading`. Arithmetic treats operands as independent and
keeps the two sides of an interval apart (half-widths added in quadrature, the
first-order rule of JCGM 100:2008, 5.1.2, applied to each side).
"""

import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from statistics import NormalDist
from typing import Any

from outshop.errors import InputError, NotationError


@dataclass(frozen=True, slots=True)
class NotMeasurable:
    """No number can be had; ``reason`` says why in one sentence.

    Parameters
    ----------
    reason : str
        Why there is no number, fit to show to a person.
    unit : str
        The unit that the number would have had.
    warnings : tuple of str
        Anything else worth knowing.
    """

    reason: str
    unit: str
    warnings: tuple[str, ...] = ()

    def as_json(self) -> dict[str, Any]:
        """Give the contract's JSON shape."""
        shape: dict[str, Any] = {"value": None, "reason": self.reason, "unit": self.unit}
        if self.warnings:
            shape["warnings"] = list(self.warnings)
        return shape


@dataclass(frozen=True, slots=True)
class Estimate:
    """A measured value with its interval.

    Parameters
    ----------
    value, low, high : float
        Best value and the ends of the interval, in ``unit``; ``low <= value <= high``.
    unit : str
        ``s``, ``1/s``, ``m/s``, ``km/h``, ``dB``, ``dB(A)``, ``A``, ``V``, ``ohm``, ``mm``,
        ``g``, ``N``, ``percent``, ``permille`` or another plain symbol.
    confidence : float
        Chance that the interval holds the truth, between 0 and 1.
    method : str
        How it was found.
    warnings : tuple of str
        What a careful reader should know.

    Raises
    ------
    InputError
        A number is not finite, the interval does not hold the value, or the
        confidence is not between 0 and 1.
    """

    value: float
    low: float
    high: float
    unit: str
    confidence: float = 0.95
    method: str = ""
    warnings: tuple[str, ...] = ()

    def __post_init__(self) -> None:
        """Check once, at the door; numpy's numbers become plain ones, which stores understand."""
        for name in ("value", "low", "high"):
            object.__setattr__(self, name, float(getattr(self, name)))
        if not all(map(math.isfinite, (self.value, self.low, self.high))):
            message = f"an estimate needs finite numbers; got {self.low}, {self.value}, {self.high}"
            raise InputError(message)
        if not self.low <= self.value <= self.high:
            message = f"the interval {self.low} to {self.high} does not hold {self.value}"
            raise InputError(message)
        if not 0 < self.confidence < 1:
            message = f"confidence must lie between 0 and 1; got {self.confidence}"
            raise InputError(message)

    @classmethod
    def exact(cls, value: float, unit: str, method: str = "given") -> "Estimate":
        """Wrap a number that is known without error, such as a count or a setting."""
        return cls(value, value, value, unit, method=method)

    @classmethod
    def plus_minus(
        cls,
        value: float,
        half_width: float,
        unit: str,
        *,
        confidence: float = 0.95,
        method: str = "",
        warnings: tuple[str, ...] = (),
    ) -> "Estimate":
        """Build a symmetric interval of ``value`` ± ``half_width``."""
        return cls(
            value, value - half_width, value + half_width, unit, confidence, method, warnings
        )

    def as_json(self) -> dict[str, Any]:
        """Give the contract's JSON shape."""
        return {
            "value": self.value,
            "low": self.low,
            "high": self.high,
            "confidence": self.confidence,
            "unit": self.unit,
            "method": self.method,
            "warnings": list(self.warnings),
        }

    @property
    def half_width(self) -> float:
        """Half the interval's width, in ``unit``."""
        return (self.high - self.low) / 2

    @property
    def standard_error(self) -> float:
        """Standard deviation of the normal law with the same interval width, in ``unit``."""
        return self.half_width / _quantile(self.confidence)

    def at_confidence(self, confidence: float) -> "Estimate":
        """Rescale the interval to another confidence, as for a normal law on each side."""
        if confidence == self.confidence:
            return self
        factor = _quantile(confidence) / _quantile(self.confidence)
        low = self.value - (self.value - self.low) * factor
        return replace(
            self,
            low=low,
            high=self.value + (self.high - self.value) * factor,
            confidence=confidence,
        )

    def with_note(self, *warnings: str) -> "Estimate":
        """Add warnings, each only once."""
        fresh = tuple(w for w in dict.fromkeys(warnings) if w not in self.warnings)
        return replace(self, warnings=self.warnings + fresh)

    def __neg__(self) -> "Estimate":
        """Mirror value and interval."""
        return replace(self, value=-self.value, low=-self.high, high=-self.low)

    def __add__(self, other: "Estimate | float") -> "Estimate":
        """Add a number, or an independent estimate in the same unit."""
        if not isinstance(other, Estimate):
            return self._moved(self.value + other, self.value - self.low, self.high - self.value)
        if other.unit != self.unit:
            message = f"cannot add {other.unit} to {self.unit}: convert one of them first"
            raise NotationError(message)
        other = other.at_confidence(self.confidence)
        down = math.hypot(self.value - self.low, other.value - other.low)
        up = math.hypot(self.high - self.value, other.high - other.value)
        return self._moved(self.value + other.value, down, up, other)

    def __sub__(self, other: "Estimate | float") -> "Estimate":
        """Subtract a number, or an independent estimate in the same unit."""
        return self + (-other)

    def __mul__(self, factor: float) -> "Estimate":
        """Scale by an exact number; use :meth:`times` for two estimates."""
        ends = sorted((self.low * factor, self.high * factor))
        return replace(self, value=self.value * factor, low=ends[0], high=ends[1])

    __rmul__ = __mul__

    def __truediv__(self, divisor: float) -> "Estimate":
        """Divide by an exact number other than zero; use :meth:`over` for two estimates."""
        return self * (1 / divisor)

    def times(self, other: "Estimate", unit: str) -> "Estimate":
        """Multiply two independent estimates; the product has ``unit``."""
        left, right = self * other.value, other.at_confidence(self.confidence) * self.value
        value = self.value * other.value
        down = math.hypot(value - left.low, value - right.low)
        up = math.hypot(left.high - value, right.high - value)
        return replace(self._moved(value, down, up, other), unit=unit)

    def over(self, other: "Estimate", unit: str) -> "Reading":
        """Divide by an independent estimate; not measurable if that may be zero."""
        if other.low <= 0 <= other.high:
            return NotMeasurable("the divisor cannot be told from zero", unit)
        inverse = other.map(lambda x: 1 / x, "")
        return self.times(inverse, unit)

    def map(self, function: Callable[[float], float], unit: str) -> "Estimate":
        """Send value and ends through a monotone function."""
        value, *ends = (function(x) for x in (self.value, self.low, self.high))
        return replace(self, value=value, low=min(ends), high=max(ends), unit=unit)

    def _moved(
        self, value: float, down: float, up: float, other: "Estimate | None" = None
    ) -> "Estimate":
        kept = replace(self, value=value, low=value - down, high=value + up)
        return kept.with_note(*other.warnings) if other else kept


Reading = Estimate | NotMeasurable


def reading_from_json(shape: Mapping[str, Any]) -> Reading:
    """Read back what :meth:`Estimate.as_json` or :meth:`NotMeasurable.as_json` wrote.

    Raises
    ------
    InputError
        A key is missing or holds something that is no number.
    """
    warnings = tuple(str(w) for w in shape.get("warnings", ()))
    try:
        if shape["value"] is None:
            return NotMeasurable(str(shape["reason"]), str(shape["unit"]), warnings)
        return Estimate(
            float(shape["value"]),
            float(shape["low"]),
            float(shape["high"]),
            str(shape["unit"]),
            float(shape.get("confidence", 0.95)),
            str(shape.get("method", "")),
            warnings,
        )
    except (KeyError, TypeError, ValueError) as problem:
        message = f"not an estimate: {problem} in {dict(shape)!r}"
        raise InputError(message) from problem


def _quantile(confidence: float) -> float:
    """Two-sided normal quantile."""
    return NormalDist().inv_cdf(0.5 + confidence / 2)
