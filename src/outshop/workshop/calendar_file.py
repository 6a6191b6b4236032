"""What falls due as an iCalendar file (RFC 5545) to subscribe to: all-day events."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta

from outshop.errors import InputError

FOLD_OCTETS = 75  # RFC 5545, 3.1: lines longer than 75 octets should be folded
PRODUCT = "-//Outshop//Care//EN"


@dataclass(frozen=True, slots=True)
class DueEvent:
    """One event of the calendar.

    Parameters
    ----------
    uid : str
        Stays the same when the day moves, so that calendars move the event and do not
        double it.
    day : date
        The day it falls due.
    title, text : str
        What is to be done.
    remind_days : int
        Days ahead at which the calendar should speak; 0 for none.
    """

    uid: str
    day: date
    title: str
    text: str = ""
    remind_days: int = 0

    def __post_init__(self) -> None:
        """Check once, at the door."""
        if not self.uid or not self.title:
            message = f"a calendar event needs a key and a title; got {self.uid!r}, {self.title!r}"
            raise InputError(message)
        if self.remind_days < 0:
            message = f"a reminder comes before the day; got {self.remind_days} days"
            raise InputError(message)


def calendar_file(events: Iterable[DueEvent], *, name: str, stamp: datetime) -> str:
    """Write the calendar.

    Parameters
    ----------
    events : iterable of DueEvent
        Keys must differ.
    name : str
        The calendar's name as shown.
    stamp : datetime
        When it was made, with its zone.

    Raises
    ------
    InputError
        The stamp has no zone, or two events have one key.
    """
    if stamp.utcoffset() is None:
        message = f"the time {stamp.isoformat()} lacks its zone; give it in UTC"
        raise InputError(message)
    made = stamp.astimezone(UTC).strftime("%Y%m%dT%H%M%SZ")
    lines = [
        "BEGIN:VCALENDAR",
        "VERSION:2.0",
        f"PRODID:{PRODUCT}",
        "CALSCALE:GREGORIAN",
        "METHOD:PUBLISH",
        f"X-WR-CALNAME:{_text(name)}",
    ]
    seen: set[str] = set()
    for event in events:
        if event.uid in seen:
            message = f"two calendar events have the key {event.uid!r}"
            raise InputError(message)
        seen.add(event.uid)
        lines += _event(event, made)
    lines.append("END:VCALENDAR")
    return "".join(f"{_folded(line)}\r\n" for line in lines)


def _event(event: DueEvent, made: str) -> list[str]:
    lines = [
        "BEGIN:VEVENT",
        f"UID:{_text(event.uid)}",
        f"DTSTAMP:{made}",
        f"DTSTART;VALUE=DATE:{event.day:%Y%m%d}",
        # The end is exclusive: RFC 5545, 3.6.1.
        f"DTEND;VALUE=DATE:{event.day + timedelta(days=1):%Y%m%d}",
        f"SUMMARY:{_text(event.title)}",
        "TRANSP:TRANSPARENT",
    ]
    if event.text:
        lines.append(f"DESCRIPTION:{_text(event.text)}")
    if event.remind_days:
        lines += [
            "BEGIN:VALARM",
            "ACTION:DISPLAY",
            f"DESCRIPTION:{_text(event.title)}",
            f"TRIGGER:-P{event.remind_days}D",
            "END:VALARM",
        ]
    return [*lines, "END:VEVENT"]


def _text(words: str) -> str:
    """Escape a TEXT value (RFC 5545, 3.3.11) and drop what is no text."""
    plain = words.replace("\r\n", "\n").replace("\r", "\n")
    plain = "".join(c for c in plain if c == "\n" or c == "\t" or (c >= " " and c != "\x7f"))
    plain = plain.encode("utf-8", "replace").decode("utf-8")
    for sign, escaped in (("\\", "\\\\"), (";", "\\;"), (",", "\\,"), ("\n", "\\n")):
        plain = plain.replace(sign, escaped)
    return plain


def _folded(line: str) -> str:
    """Fold at 75 octets, never inside a character."""
    parts: list[str] = []
    current, octets = "", 0
    for sign in line:
        size = len(sign.encode())
        if octets + size > FOLD_OCTETS:
            parts.append(current)
            current, octets = "", 1  # the leading space of a folded line counts
        current += sign
        octets += size
    return "\r\n ".join([*parts, current])
