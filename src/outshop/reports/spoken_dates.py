"""An EDTF text (ISO 8601-2:2019) as a person says it; the record keeps what was typed."""

import re
from datetime import date

from django.utils.dates import MONTHS
from django.utils.formats import date_format
from django.utils.translation import gettext as _

DAY = re.compile(r"(\d{4})-(\d\d)-(\d\d)")
MONTH = re.compile(r"(\d{4})-(\d\d)")
DECADE = re.compile(r"(\d{3})X")
CENTURY = re.compile(r"(\d\d)XX")


def in_words(text: str) -> str:
    """Say a date, an interval or a choice of dates; what has no plain words stays as it is."""
    written = text.strip()
    if written[:1] in ("[", "{") and written[-1:] in ("]", "}"):
        return _members(written[1:-1].split(","), any_one=written[0] == "[") or text
    if "/" not in written:
        return _date(written) or text
    first, _slash, last = written.partition("/")
    if first in ("", ".."):
        return _with(_("until %(date)s"), last) or text
    if last in ("", ".."):
        return _with(_("%(date)s and later"), first) or text
    begin, end = _date(first), _date(last)
    return _("%(begin)s to %(end)s") % {"begin": begin, "end": end} if begin and end else text


def _members(members: list[str], *, any_one: bool) -> str:
    said = [_member(member.strip()) for member in members]
    if not all(said):
        return ""
    if len(said) == 1:
        return said[0]
    word = _("or") if any_one else _("and")
    return f"{', '.join(said[:-1])} {word} {said[-1]}"


def _member(text: str) -> str:
    if ".." not in text:
        return _date(text)
    first, _dots, last = text.partition("..")
    if not first:
        return _with(_("%(date)s or earlier"), last)
    if not last:
        return _with(_("%(date)s or later"), first)
    begin, end = _date(first), _date(last)
    return _("%(begin)s to %(end)s") % {"begin": begin, "end": end} if begin and end else ""


def _with(words: str, text: str) -> str:
    said = _date(text)
    return words % {"date": said} if said else ""


def _date(text: str) -> str:
    """Say one date, or nothing when there are no plain words for it."""
    for sign, words in (
        ("~", _("about %(date)s")),
        ("?", _("perhaps %(date)s")),
        ("%", _("perhaps about %(date)s")),
    ):
        if text.endswith(sign):
            return _with(words, text[:-1])
    if re.fullmatch(r"\d{4}", text):
        return text
    if found := DECADE.fullmatch(text):
        return _("the %(decade)ss") % {"decade": f"{found[1]}0"}
    if found := CENTURY.fullmatch(text):
        return _("%(begin)s to %(end)s") % {"begin": f"{found[1]}00", "end": f"{found[1]}99"}
    if found := DAY.fullmatch(text):
        return _day(*(int(part) for part in found.groups()))
    if (found := MONTH.fullmatch(text)) and (name := _month(int(found[2]))):
        return f"{name} {found[1]}"
    return ""


def _day(year: int, month: int, day: int) -> str:
    try:
        return date_format(date(year, month, day), "j F Y")
    except ValueError:
        return ""


def _month(number: int) -> str:
    """Name a month, or a season by its number in EDTF."""
    seasons = {21: _("spring"), 22: _("summer"), 23: _("autumn"), 24: _("winter")}
    return str(MONTHS.get(number) or seasons.get(number, ""))
