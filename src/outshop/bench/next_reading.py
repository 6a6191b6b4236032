"""Which reading would tell most next, from what is on record for a piece.

The order is common practice: cheapest and least invasive first, then what the last result
asks for. Minutes are those of a practised amateur.
"""

from collections.abc import Collection, Mapping
from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class NextReading:
    """One reading to take: its topic, why, and about how long it takes (minutes)."""

    topic: str
    why: str
    minutes: int


_ASKED_FOR = (
    # finding on record, topic that settles it, reason
    ("stall-varies", "winding", "the held motor differs by the angle: read the segments"),
    ("coil-shorted", "winding", "a coil may be shorted: the segments tell which"),
    ("brush-contact", "winding", "separates winding from brushes and commutator"),
    ("friction-up", "rolling", "friction is up: does the vehicle roll, or is it the motor?"),
    ("magnet-weak", "pull", "a weak magnet shows as lost pull"),
)
_USUAL = (
    ("motor", "five minutes tell friction, magnet and contact apart", 5),
    ("wheels", "a caliper finds what derails and shorts", 5),
    ("pull", "what it pulls decides its trains", 5),
    ("rolling", "one tilt test tells a hard runner", 3),
    ("winding", "each coil, before power is applied again", 10),
    ("current", "a log shows what a glance at the meter misses", 10),
)


def next_reading(known: Mapping[str, Collection[str]]) -> NextReading | None:
    """Choose the next reading.

    Parameters
    ----------
    known : mapping of str to collection of str
        Topic to the ids of its findings, for each topic that has been measured.

    Returns
    -------
    NextReading or None
        None when every usual topic is on record and nothing asks for more.
    """
    found = {name for names in known.values() for name in names}
    minutes = {topic: m for topic, _, m in _USUAL}
    for name, topic, why in _ASKED_FOR:
        if name in found and topic not in known:
            return NextReading(topic, why, minutes[topic])
    for topic, why, m in _USUAL:
        if topic not in known:
            return NextReading(topic, why, m)
    return None
