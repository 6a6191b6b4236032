"""Forward against reverse: how far the speeds of two directions differ."""

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from outshop.bench.motion.ruler import Ruler
from outshop.bench.motion.student import student
from outshop.errors import InputError
from outshop.estimate import Estimate, NotMeasurable, Reading, reading_from_json

Floats = NDArray[np.float64]
_ALIKE = 0.15  # parts of one direction that differ by more are taken for other settings
_WORDS = ("left_to_right", "right_to_left")


@dataclass(frozen=True, slots=True)
class Side:
    """One direction's speed.

    Parameters
    ----------
    direction : str
        ``left_to_right`` or ``right_to_left`` in its picture.
    speed : Reading
        In m/s, the ruler's error included.
    role : str or None
        ``forward`` or ``reverse``, where it is known which way the front points.
    """

    direction: str
    speed: Reading
    role: str | None = None

    def as_json(self) -> dict[str, Any]:
        """Give a plain shape."""
        return {"direction": self.direction, "role": self.role, "speed": self.speed.as_json()}


@dataclass(frozen=True, slots=True)
class ForwardReverse:
    """Two directions compared.

    Parameters
    ----------
    sides : tuple of Side
        The two; one or none when it was not seen running both ways.
    difference : Reading
        First minus second, in percent of their mean.
    """

    sides: tuple[Side, ...]
    difference: Reading

    @property
    def verdict(self) -> str:
        """``first_faster``, ``second_faster``, ``no_provable_difference``, ``not_measurable``."""
        if not isinstance(self.difference, Estimate):
            return "not_measurable"
        if self.difference.low > 0:
            return "first_faster"
        return "second_faster" if self.difference.high < 0 else "no_provable_difference"

    def as_json(self) -> dict[str, Any]:
        """Give a plain shape."""
        return {
            "sides": [side.as_json() for side in self.sides],
            "difference": self.difference.as_json(),
            "verdict": self.verdict,
        }


def forward_reverse_from_json(shape: Mapping[str, Any]) -> ForwardReverse:
    """Read back what :meth:`ForwardReverse.as_json` wrote."""
    try:
        sides = tuple(
            Side(str(s["direction"]), reading_from_json(s["speed"]), s.get("role"))
            for s in shape["sides"]
        )
        return ForwardReverse(sides, reading_from_json(shape["difference"]))
    except (KeyError, TypeError) as problem:
        raise InputError(f"not a comparison of two directions: {problem}") from problem


@dataclass(frozen=True, slots=True)
class Pass:
    """One steady part.

    Parameters
    ----------
    direction : str
        Which way.
    seconds : float
        How long.
    plain : Estimate
        Speed without the ruler's error, in m/s.
    full : Estimate
        Speed with it.
    x_px : ndarray [shape=(n,)]
        Where it was, in working pixels.
    """

    direction: str
    seconds: float
    plain: Estimate
    full: Estimate
    x_px: Floats


def within_clip(passes: Sequence[Pass], ruler: Ruler, front: str | None) -> ForwardReverse:
    """Compare the two directions of one clip; what the ruler is off by cancels.

    Parameters
    ----------
    passes : sequence of Pass
        All steady parts.
    ruler : Ruler
        What they were measured with.
    front : str or None
        Where the model's front points in the picture: ``left`` or ``right``.
    """
    groups = [_main_speed([p for p in passes if p.direction == word]) for word in _WORDS]
    kept = [group for group in groups if group]
    sides = tuple(
        Side(group[0].direction, _mean_full(group), _role_of(group[0].direction, front))
        for group in kept
    )
    if len(kept) < 2:
        reason = "it was not seen at steady speed in both directions"
        return ForwardReverse(sides, NotMeasurable(reason, "percent"))
    first, second = (_mean([p.plain for p in group], group) for group in kept)
    apart = ruler.error_apart(*(np.concatenate([p.x_px for p in group]) for group in kept))
    method = "both directions in one clip, so that the ruler's error cancels"
    found = _difference(first, second, apart, method)
    repeated = min(len(group) for group in kept) > 1
    note = "each direction was seen once: how far one run differs from the next is not known"
    return ForwardReverse(sides, found if repeated else found.with_note(note))


def between_clips(
    one: tuple[str, Reading], other: tuple[str, Reading], front: str | None = None
) -> ForwardReverse:
    """Compare the speeds of two clips, each a direction and a speed in m/s; errors independent."""
    sides = tuple(Side(word, speed, _role_of(word, front)) for word, speed in (one, other))
    first, second = one[1], other[1]
    if not isinstance(first, Estimate):
        return ForwardReverse(sides, NotMeasurable(first.reason, "percent"))
    if not isinstance(second, Estimate):
        return ForwardReverse(sides, NotMeasurable(second.reason, "percent"))
    if first.value + second.value <= 0:
        reason = "one of the speeds is zero"
        return ForwardReverse(sides, NotMeasurable(reason, "percent"))
    found = _difference(first, second, 0.0, "two clips, each with its own ruler")
    return ForwardReverse(sides, found)


def _role_of(direction: str, front: str | None) -> str | None:
    if front is None:
        return None
    forward = "left_to_right" if front == "right" else "right_to_left"
    return "forward" if direction == forward else "reverse"


def _main_speed(passes: list[Pass]) -> list[Pass]:
    """Keep the parts that go like the one with the longest way."""
    if not passes:
        return []
    main = max(passes, key=lambda p: p.seconds * p.plain.value).plain.value
    return [p for p in passes if abs(p.plain.value - main) <= _ALIKE * main]


def _mean(speeds: Sequence[Estimate], passes: Sequence[Pass]) -> Estimate:
    """Mean over the time of the parts; where they differ by more than their errors, that counts."""
    weights = np.array([p.seconds for p in passes])
    weights = weights / weights.sum()
    values = np.array([s.value for s in speeds])
    value = float(weights @ values)
    half = math.sqrt(float((weights**2 * np.array([s.half_width for s in speeds]) ** 2).sum()))
    if len(values) > 1:
        spread = math.sqrt(float(weights @ (values - value) ** 2) / (len(values) - 1))
        half = max(half, student(len(values) - 1) * spread)
    return Estimate.plus_minus(value, half, "m/s", method=f"mean of {len(values)} steady parts")


def _mean_full(passes: Sequence[Pass]) -> Estimate:
    """Mean speed with the ruler's error, which all parts share and no mean makes smaller."""
    mean = _mean([p.full for p in passes], passes)
    shared = max(p.full.half_width / p.full.value for p in passes) * mean.value
    half = max(mean.half_width, shared)
    return Estimate.plus_minus(mean.value, half, "m/s", method=mean.method)


def _difference(one: Estimate, other: Estimate, apart: float, method: str) -> Estimate:
    """First minus second in percent of their mean; derivatives of the ratio to first order."""
    mean = (one.value + other.value) / 2
    share = (one.value - other.value) / mean
    # d(share) = other / mean^2 d(one) - one / mean^2 d(other)
    half = math.hypot(
        other.value * one.half_width / mean**2, one.value * other.half_width / mean**2
    )
    half = math.hypot(half, 1.959964 * apart)
    return Estimate.plus_minus(100 * share, 100 * half, "percent", method=method)
