"""What a release sheet will hold, line by line, before it is signed."""

from dataclasses import dataclass

from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from outshop.reports.sheet import ReleaseSheet


@dataclass(frozen=True, slots=True)
class Line:
    """One line: what it is, whether it is there, and in what words."""

    name: str
    state: str
    mark: str
    words: str = ""


def lines_of(sheet: ReleaseSheet) -> list[Line]:
    """List what is there and what is missing; missing things do not hinder signing."""
    return [
        _line(_("Photo"), bool(sheet.photo_sha256), ""),
        _line(
            _("Identity"),
            bool(sheet.identity),
            " · ".join(fact.value for fact in sheet.identity),
        ),
        _line(_("What was found"), bool(sheet.found), _count(len(sheet.found))),
        _line(_("What was done"), bool(sheet.done), _count(len(sheet.done))),
        _line(_("Before and after"), bool(sheet.rows), sheet.verdict_sentence),
        _line(_("Run-in"), sheet.run_in is not None, _run_in_words(sheet)),
        _line(_("Cautions"), bool(sheet.cautions), _count(len(sheet.cautions))),
    ]


def _line(name: str, there: bool, words: str) -> Line:
    return Line(name, _("there") if there else _("missing"), "good" if there else "watch", words)


def _count(n: int) -> str:
    return ngettext("%(n)d line", "%(n)d lines", n) % {"n": n} if n else ""


def _run_in_words(sheet: ReleaseSheet) -> str:
    if sheet.run_in is None:
        return ""
    ways = {"forward": sheet.run_in.forward_min, "reverse": sheet.run_in.reverse_min}
    return _("%(forward)g min forward, %(reverse)g min reverse") % ways
