"""The page of years: what the evidence comes to, drawn and in words."""

from collections.abc import Sequence
from dataclasses import dataclass
from math import log
from typing import Any

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils.safestring import SafeString, mark_safe
from django.utils.translation import gettext as _
from django.views.decorators.http import require_safe

from outshop.dating.answer import Answer, answer_case
from outshop.dating.editions import EditionRank, features_left, rank_editions
from outshop.dating.eras import eras_of
from outshop.dating.evidence import Case
from outshop.dating.life import (
    DetailCheck,
    InService,
    check_details,
    could_have_met,
    in_service,
    never,
    spans_of,
)
from outshop.dating.next_look import Look, rank_looks
from outshop.dating.posterior import posterior, smallest_years
from outshop.dating.together import Belonging, Reading, belongs_together, readings_of
from outshop.errors import TableError
from outshop.pages import lookup
from outshop.pages.dating.forms import EventForm, EvidenceForm, PrototypeForm, ResearchForm
from outshop.railway.eras import countries
from outshop.records.models import Evidence, Piece
from outshop.records.queries import dating as queries
from outshop.reports.timeline import Bar, timeline

CORE = 0.5  # share of probability of the likeliest years, shown beside the 95 %
MOST_OTHERS = 200  # pieces to choose from
PROTOTYPE = Evidence.About.PROTOTYPE
LIKELY = 0.05  # histories less likely than this are not worth a line


@dataclass(frozen=True, slots=True)
class Question:
    """One question answered: its words, drawing and what does not fit."""

    about: str
    title: str
    words: str
    core: str
    drawing: SafeString
    odd_sets: tuple[str, ...]
    clashes: tuple[str, ...]
    more_clashes: int
    readings: tuple[tuple[Reading, str], ...] = ()


@require_safe
def show(request: HttpRequest, pk: int) -> HttpResponse:
    """Show what the evidence comes to; ``?met=`` asks whether two could have met."""
    piece = lookup.piece(pk)
    context = page(piece)
    other = request.GET.get("met", "")
    if other.isdecimal():
        context |= _meeting(piece, lookup.piece(int(other)))
    return render(request, "dating/years.html", context)


def page(piece: Piece, **forms: Any) -> dict[str, Any]:
    """Put together what the page shows; ``forms`` replaces an empty form by one that was sent."""
    kept = queries.evidence_of(piece)
    context: dict[str, Any] = {
        "piece": piece,
        "evidence": kept,
        "evidence_form": EvidenceForm(),
        "event_form": EventForm(),
        "prototype_form": PrototypeForm(initial=_prototype(piece)),
        "research_form": ResearchForm(),
        "research": list(piece.research.all()),
        "events": list(piece.prototype.events.all()) if piece.prototype else [],
        "service": _service(piece),
        "life": _life_drawing(piece),
        "others": _others(piece),
    }
    return context | _dated(piece, kept) | _editions(piece, kept) | forms


def _dated(piece: Piece, kept: list[Evidence]) -> dict[str, Any]:
    if not kept:
        return {"questions": []}
    try:
        case = queries.case_of(kept)
    except TableError as problem:
        return {"questions": [], "problem": str(problem)}
    answers = answer_case(case)
    shown = answers["prototype"]
    typed = (piece.prototype.country if piece.prototype else "").upper()
    known = [c for c in typed.replace(",", " ").replace(";", " ").split() if c in countries()]
    eras = eras_of(shown, known) if shown.indices else []
    return {
        "questions": [_question(case, a, about) for about, a in answers.items() if a.indices],
        "eras": eras,
        "details": _details(piece, shown) if shown.indices else [],
        "belonging": _belonging(case),
        "warnings": case.warnings,
    }


def _question(case: Case, found: Answer, about: str) -> Question:
    titles = {"edition": _("When the model was made"), "prototype": _("Which years it shows")}
    sets = sorted(found.conflicts.set_aside, key=lambda members: _weight(case, members))
    odd = set(sets[0]) if sets else set()
    bars = [
        Bar(case.evidence[i].what, case.evidence[i].window.spans, i in odd) for i in found.indices
    ]
    words = years_in_words(found)
    core = smallest_years(found.probability, found.years, CORE)
    title = f"{titles[about]}: {words}"
    names = [item.what for item in case.evidence]
    return Question(
        about,
        titles[about],
        words,
        in_words(core),
        mark_safe(  # noqa: S308 - our own drawing, texts escaped there
            timeline(bars, found.spans, core, (case.first_year, case.last_year), title)
        ),
        tuple("; ".join(names[i] for i in members) for members in sets[:5]),
        tuple(" × ".join(names[i] for i in members) for members in found.conflicts.clashes[:5]),
        max(0, len(found.conflicts.clashes) - 5),
        tuple(
            (reading, "; ".join(names[i] for i in members))
            for reading, members in readings_of(case.evidence, sorted(odd))
        ),
    )


def years_in_words(found: Answer) -> str:
    """Write the dated years: ``1958 to 1961 (95 %)``."""
    return in_words(found.spans)


def in_words(spans: Sequence[Sequence[int]]) -> str:
    """Write spans of years."""
    words = [
        str(a) if a == b else _("%(from)s to %(to)s") % {"from": a, "to": b} for a, b in spans[:4]
    ]
    return ", ".join(words) + (", …" if len(spans) > 4 else "")


def _weight(case: Case, members: tuple[int, ...]) -> float:
    """Weigh what would be lost by setting these aside: the log-odds of their trust."""
    return sum(log(case.evidence[i].trust / (1 - case.evidence[i].trust)) for i in members)


def _belonging(case: Case) -> Belonging | None:
    made = [e for e in case.evidence if e.about == "edition"]
    if len({e.part.strip() or "model" for e in made}) < 2:
        return None
    found = belongs_together(made, case.years)
    likely = tuple(h for h in found.histories if h.probability >= LIKELY)
    return Belonging(found.parts, likely)


def _editions(piece: Piece, kept: list[Evidence]) -> dict[str, Any]:
    """Rank the versions of the edition, and say what to look at next."""
    if piece.edition is None:
        return {}
    rows = queries.feature_rows(piece.edition)
    if not rows:
        return {}
    seen = queries.observations_of(kept)
    ranks: list[EditionRank] = rank_editions(rows, seen)
    left = features_left(rows, seen)
    looks: list[Look] = []
    if left:
        case_evidence = [e for e in kept if e.about == Evidence.About.EDITION]
        years = queries.years_considered()
        known = queries.case_of(case_evidence).evidence if case_evidence else ()
        looks = rank_looks(left, posterior(known, years), years)
    variants = {f.name: [v.what for v in f.variants] for f in left}
    return {
        "ranks": ranks,
        "looks": [(look, variants[look.name]) for look in looks[:6]],
        "feature_count": len(rows),
    }


def _others(piece: Piece) -> list[Piece]:
    """Give the other pieces of which the prototype's life is known."""
    if piece.prototype is None:
        return []
    known = Piece.objects.filter(prototype__events__isnull=False).exclude(prototype=piece.prototype)
    return list(known.select_related("prototype").distinct()[:MOST_OTHERS])


def _meeting(piece: Piece, other: Piece) -> dict[str, Any]:
    one, two = _service(piece), _service(other)
    if one is None or two is None:
        return {"met": other, "never": None}
    both = could_have_met(one, two)
    return {"met": other, "meeting": both, "never": never(both)}


def _details(piece: Piece, found: Answer) -> list[DetailCheck]:
    """Hold what the model shows against what the prototype carried in the dated years.

    What was entered as shown is left out of the years that it is checked against.
    """
    events = queries.life_of(piece)
    kinds = sorted({e.kind for e in events if e.kind in queries.EVENT_KINDS.values() and e.value})
    kept = queries.evidence_of(piece)
    checks = []
    for kind in kinds:
        shown = next((e.variant for e in kept if e.about == PROTOTYPE and e.feature == kind), "")
        others = [e for e in kept if e.about == PROTOTYPE and e.feature != kind]
        known = queries.case_of(others).evidence if others else ()
        weights = posterior(known, found.years)
        checks += check_details(events, {kind: shown}, weights, found.years)
    return checks


def _life_drawing(piece: Piece) -> SafeString:
    """Draw the life of the prototype: years in traffic, then each thing that it carried."""
    events = queries.life_of(piece)
    if not events or piece.prototype is None:
        return SafeString("")
    service = in_service(events)
    bars = [Bar(_("in traffic"), (service.possible,))]
    for kind in queries.EVENT_KINDS.values():
        values = dict.fromkeys(e.value for e in events if e.kind == kind and e.value)
        drawn = [Bar(value, tuple(spans_of(events, kind, value))) for value in values]
        bars += [bar for bar in drawn if bar.spans]
    certain = service.certain or (None, None)
    sure = [[certain[0], certain[1]]] if certain[0] and certain[1] else []
    years = queries.years_considered()
    title = _("Life of %s") % piece.prototype
    svg = timeline(bars, sure, [], (years[0], years[-1]), title)
    return mark_safe(svg)  # noqa: S308 - our own drawing, texts escaped there


def _prototype(piece: Piece) -> dict[str, str]:
    if piece.prototype is None:
        return {}
    names = ("name", "country", "builder", "arrangement")
    return {n: getattr(piece.prototype, n) for n in names}


def _service(piece: Piece) -> InService | None:
    events = queries.life_of(piece)
    return in_service(events) if events else None


def on_piece_page(piece: Piece) -> dict[str, Any]:
    """Give what stands on the piece's own page: the dated years in words."""
    kept = queries.evidence_of(piece)
    if not kept:
        return {"lines": []}
    try:
        answers = answer_case(queries.case_of(kept))
    except TableError:
        return {"lines": []}
    labels = {"edition": _("Made"), "prototype": _("Shows")}
    return {
        "lines": [
            (labels[about], years_in_words(found), found.conflicts.consistent)
            for about, found in answers.items()
            if found.indices
        ]
    }
