"""The few words that describe a model's context, and the nearest-name helper."""

from collections.abc import Iterable
from difflib import get_close_matches

SYSTEMS = ("dc2", "ac3", "digital2", "digital3", "s-ac")
MOTORS = ("permanent-magnet", "field-coil")
OUTLINES = ("steam", "electric", "diesel", "railcar")
UNKNOWN = "unknown"

# Bounds follow the ages at which wiring, castings and plastics changed (judgement).
BANDS = ("to_1945", "1946_1960", "1961_1980", "1981_1997", "from_1998")
_LAST_YEARS = (1945, 1960, 1980, 1997)

KINDS = (
    "movement",
    "direction",
    "rhythm",
    "place",
    "sound_heat",
    "electrical",
    "by_hand",
    "seen",
    "history",
    "measured",
    "check",
)


def band_of(decade: int) -> str:
    """Give the age band of a decade (1960 stands for 1960-1969) or of a single year."""
    year = decade + 5 if decade % 10 == 0 else decade
    for band, last in zip(BANDS, _LAST_YEARS, strict=False):
        if year <= last:
            return band
    return BANDS[-1]


def nearest(word: str, known: Iterable[str]) -> str:
    """Write the nearest known names as a clause, for the end of a sentence."""
    close = get_close_matches(word, list(known), n=3, cutoff=0.6)
    return f"; nearest: {', '.join(close)}" if close else ""
