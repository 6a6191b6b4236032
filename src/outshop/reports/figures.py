"""Write a reading the way a careful person does: no more digits than its interval bears."""

import math
from dataclasses import dataclass

from outshop.estimate import NotMeasurable, Reading

UNIT_WORDS = {"percent": "%", "permille": "‰", "ohm": "Ω", "degC": "°C", "": ""}
MINUS = "\N{MINUS SIGN}"
FINEST = {"dB": 1, "dB(A)": 1}  # places that mean something to an ear; ours


@dataclass(frozen=True, slots=True)
class Written:
    """A reading in words.

    Parameters
    ----------
    value : str
        The number, or a dash when there is none.
    spread : str
        ``±0.4``, or ``60.9 to 62.0`` when the two sides differ, or empty.
    unit : str
        The unit as printed.
    reason : str
        Why there is no number, or empty.
    """

    value: str
    spread: str
    unit: str
    reason: str = ""

    @property
    def line(self) -> str:
        """All of it in one line."""
        return " ".join(filter(None, (self.value, self.spread, self.unit)))


def written(reading: Reading, *, signed: bool = False) -> Written:
    """Write a reading with its interval and unit.

    Parameters
    ----------
    reading : Reading
        What was measured.
    signed : bool
        Whether a plus sign stands before positive values, as for a change.

    Notes
    -----
    The half-width is given to one significant digit, or two when it starts with 1, and
    the value to the same place (JCGM 100:2008, 7.2.6 asks for at most two digits).
    """
    unit = UNIT_WORDS.get(reading.unit, reading.unit)
    if isinstance(reading, NotMeasurable):
        return Written("–", "", unit, reading.reason)
    down, up = reading.value - reading.low, reading.high - reading.value
    width = max(down, up)
    places = _places(width) if width > 0 else _exact_places(reading.value)
    finest = FINEST.get(reading.unit, places)
    if width > 0 and places > finest:  # never narrower than the last digit that is shown
        places, step = finest, 10.0**-finest
        down, up = max(down, step), max(up, step)
    value = _number(reading.value, places, signed=signed)
    if width == 0:
        return Written(value, "", unit)
    if abs(up - down) <= 0.25 * width:
        return Written(value, f"±{_number((down + up) / 2, places)}", unit)
    low, high = _number(reading.low, places), _number(reading.high, places)
    return Written(value, f"({low} to {high})", unit)


def _places(width: float) -> int:
    """Decimal places that a half-width bears; negative before the point."""
    exponent = math.floor(math.log10(width))
    leading = width / 10**exponent
    return -exponent + (1 if round(leading, 6) < 2 else 0)


def _exact_places(value: float) -> int:
    """Fewest places, at most three, that show an exact number."""
    return next((p for p in range(4) if math.isclose(round(value, p), value)), 3)


def _number(value: float, places: int, *, signed: bool = False) -> str:
    rounded = round(value, places)
    text = f"{abs(rounded):.{max(places, 0)}f}"
    if rounded < 0:
        return MINUS + text
    return f"+{text}" if signed and rounded > 0 else text
