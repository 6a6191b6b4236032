"""What the person knows of a clip."""

import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, Literal

from outshop.bench.motion.lamp import Region
from outshop.bench.motion.ruler import Marks, check_length
from outshop.bench.motion.strip_ruler import Print
from outshop.errors import InputError
from outshop.railway.scales import scale as scale_of


@dataclass(frozen=True, slots=True, kw_only=True)
class Setup:
    """What the person knows of the clip.

    Parameters
    ----------
    length_mm : float, optional
        Length over buffers, used as the ruler.
    marks : Marks, optional
        Two points of known distance; preferred over the length.
    strip : Print, optional
        The printed strip is the ruler. Without any ruler it is looked for.
    scale : float, optional
        Scale ratio, such as 87.
    wheel_mm : float, optional
        Driving wheel's diameter on the tread.
    moment_s : float, optional
        When it was told to start, marked by hand, in seconds of the clip.
    moment_error_s : float
        Standard error of that mark; 0 where a frame was chosen, about 0.1 for a key hit live.
    lamp : Region or str, optional
        Where a lamp lights when it is told to start; ``find`` looks for it.
    power_off_s : float, optional
        When the power was cut.
    pick : tuple of float, optional
        A point of the right object, in pixels of the clip.
    front : str, optional
        Where the model's front points in the picture: ``left`` or ``right``.
    """

    length_mm: float | None = None
    marks: Marks | None = None
    strip: Print | None = None
    scale: float | None = None
    wheel_mm: float | None = None
    moment_s: float | None = None
    moment_error_s: float = 0.0
    lamp: Region | Literal["find"] | None = None
    power_off_s: float | None = None
    pick: tuple[float, float] | None = None
    front: Literal["left", "right"] | None = None

    def checked(self) -> "Setup":
        """Check once, at the door.

        Raises
        ------
        InputError
            A number that cannot be.
        """
        if self.length_mm is not None:
            check_length(self.length_mm)
        if self.strip is not None:
            self.strip.checked()
        if self.scale is not None and not 1 <= self.scale <= 1000:
            raise InputError(f"a scale of 1:{self.scale:g} is none: give a ratio such as 87")
        if self.wheel_mm is not None and not 1 <= self.wheel_mm <= 500:
            raise InputError(f"a wheel of {self.wheel_mm:g} mm is none: give its diameter in mm")
        for moment in (self.moment_s, self.power_off_s):
            if moment is not None and not math.isfinite(moment):
                raise InputError("a moment must be a plain number of seconds of the clip")
        if not 0 <= self.moment_error_s <= 2:
            raise InputError(
                f"an error of {self.moment_error_s:g} s of the marked moment cannot be: give 0 to 2"
            )
        if self.front not in (None, "left", "right"):
            raise InputError(f"the front points left or right in the picture, not {self.front!r}")
        return self


def setup_from_table(table: Mapping[str, Any]) -> Setup:
    """Read a setup from plain keys.

    ``marks`` is [x1, y1, x2, y2, mm], ``pick`` is [x, y]; ``strip`` is true for the printed
    strip, with ``control_mm``, ``strip_behind_mm`` and ``camera_mm``; ``lamp`` is ``find`` or
    [x, y, width, height]; ``front`` is ``left`` or ``right``.

    Raises
    ------
    InputError
        A value is of the wrong kind.
    """
    known = {key: value for key, value in table.items() if value is not None}
    try:
        marks, pick = known.pop("marks", None), known.pop("pick", None)
        ratio = known.pop("scale", None)
        return Setup(
            marks=Marks(*map(float, marks)) if marks else None,
            pick=(float(pick[0]), float(pick[1])) if pick else None,
            scale=scale_of(ratio).ratio if ratio else None,
            strip=_print(known),
            lamp=_lamp(known.pop("lamp", None)),
            front=known.pop("front", None),
            **{key: float(value) for key, value in known.items()},
        )
    except (TypeError, ValueError, IndexError) as problem:
        raise InputError(f"the clip's setup cannot be used: {problem}") from problem


def _lamp(told: Any) -> Region | Literal["find"] | None:
    if not told or told == "find":
        return "find" if told else None
    return Region(*map(float, told))


def _print(known: dict[str, Any]) -> Print | None:
    """Take what is said of the strip out of the table."""
    wanted = bool(known.pop("strip", False))
    names = {"control_mm": "control_mm", "strip_behind_mm": "behind_mm", "camera_mm": "camera_mm"}
    said = {names[key]: float(known.pop(key)) for key in names if key in known}
    return Print(**said) if wanted or said else None
