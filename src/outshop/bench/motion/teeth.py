"""Which whole numbers of teeth make a measured ratio."""

import itertools
import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Any

from outshop.estimate import Estimate

# teeth of one stage: (driving, driven); common practice, no source
WORMS, WORM_WHEELS = range(1, 4), range(8, 81)
PINIONS, WHEELS = range(8, 25), range(10, 121)
OFF = (0, -1, 1, -2, 2)  # how far a count may have been misread; ours
MOST_STAGES = 3  # with more, nearly every ratio fits
SHOWN = 8


@dataclass(frozen=True, slots=True)
class Teeth:
    """One set of gears: pairs of driving and driven teeth from the motor outwards, its ratio.

    ``off_percent`` is how far the ratio lies from the measured one.
    """

    stages: tuple[tuple[int, int], ...]
    ratio: float
    off_percent: float

    @property
    def written(self) -> str:
        """The pairs as ``1:24`` or ``11:53, 13:41``."""
        return ", ".join(f"{a}:{b}" for a, b in self.stages)

    def as_json(self) -> dict[str, Any]:
        """Give a plain shape."""
        return {
            "stages": [list(pair) for pair in self.stages],
            "ratio": self.ratio,
            "off_percent": self.off_percent,
        }


@dataclass(frozen=True, slots=True)
class Fits:
    """The nearest sets of gears that lie in the interval, and how many do."""

    nearest: tuple[Teeth, ...]
    count: int


def whole_teeth(ratio: Estimate, stages: Sequence[tuple[int, int]] = ()) -> Fits:
    """Find the whole-tooth ratios inside the interval of a measured one.

    Parameters
    ----------
    ratio : Estimate
        Motor turns for one wheel turn.
    stages : sequence of (driving, driven)
        The teeth as counted, 1 for a single-start worm; each count is then tried up to two teeth
        off, fewest changes first. Without them a worm or one pair of spur wheels is tried.
    """
    found: dict[tuple[tuple[int, int], ...], tuple[int, Teeth]] = {}
    tried = _near(stages) if 0 < len(stages) <= MOST_STAGES else _single()
    for changes, pairs in tried:
        value = math.prod(b / a for a, b in pairs)
        if ratio.low <= value <= ratio.high:
            off = 100 * (value / ratio.value - 1)
            found[pairs] = changes, Teeth(pairs, value, off)
    ordered = sorted(found.values(), key=lambda f: (f[0], abs(f[1].off_percent), f[1].stages))
    return Fits(tuple(teeth for _, teeth in ordered[:SHOWN]), len(ordered))


def _near(
    stages: Sequence[tuple[int, int]],
) -> Iterator[tuple[int, tuple[tuple[int, int], ...]]]:
    counts = [tooth for pair in stages for tooth in pair]
    choices = [
        [tooth + off for off in OFF if tooth + off >= 1]
        if tooth > 4
        else [tooth]  # a worm's starts
        for tooth in counts
    ]
    for teeth in itertools.product(*choices):
        changes = sum(abs(a - b) for a, b in zip(teeth, counts, strict=True))
        yield changes, tuple(zip(teeth[::2], teeth[1::2], strict=True))


def _single() -> Iterator[tuple[int, tuple[tuple[int, int], ...]]]:
    """Give worms first, then spur pairs; a multiple of a pair already given is left out."""
    for starts, wheel in itertools.product(WORMS, WORM_WHEELS):
        if math.gcd(starts, wheel) == 1:
            yield starts - 1, ((starts, wheel),)
    for pinion, wheel in itertools.product(PINIONS, WHEELS):
        if math.gcd(pinion, wheel) == 1 or (pinion, wheel) == _smallest(pinion, wheel):
            yield len(WORMS), ((pinion, wheel),)


def _smallest(pinion: int, wheel: int) -> tuple[int, int]:
    """Give the least teeth of a spur pair with the same ratio that is still made."""
    part = math.gcd(pinion, wheel)
    a, b = pinion // part, wheel // part
    times = max(math.ceil(PINIONS.start / a), math.ceil(WHEELS.start / b))
    return a * times, b * times
