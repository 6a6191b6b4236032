"""The layout's lines: sections as a table or drawn by taps, plan and profile beside them."""

from typing import Any

from django import forms
from django.http import HttpRequest, HttpResponse, QueryDict
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils.safestring import mark_safe
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods

from outshop.errors import InputError
from outshop.formation.scene import CURVE_CONSTANT, Section
from outshop.pages import fields, lookup
from outshop.pages.formation.board import CHANGES, PIECES, Board, Pen, board, tapped
from outshop.pages.formation.forms import LineForm, PenForm, SectionForm
from outshop.records.models import Line, LineSection
from outshop.records.queries import formations as queries
from outshop.records.services import formations as services
from outshop.reports.line import Drawn, plan_svg, profile_svg

SPARE_ROWS = 2  # empty rows below the table
NEARLY = 0.9  # sections that ask this share of the most count among the worst places

Rows = list[SectionForm]


@require_http_methods(["GET", "POST"])
def lines(request: HttpRequest) -> HttpResponse:
    """List the lines; take in a new one."""
    form = LineForm(request.POST or None)
    if request.method == "POST" and form.is_valid():
        line = services.add_line(token=fields.form_token(request), **form.cleaned_data)
        return redirect("line", line.pk)
    context = {"lines": Line.objects.prefetch_related("sections"), "form": form}
    return render(request, "formation/lines.html", context, status=400 if form.errors else 200)


@require_http_methods(["GET", "POST"])
def line(request: HttpRequest, pk: int) -> HttpResponse:
    """Show one line with plan and profile; take in its sections, its figures or its removal."""
    found = lookup.one(Line.objects.all(), pk)
    what = request.POST.get("what", "")
    if what == "remove":
        services.remove_line(line=found)
        return redirect("lines")
    if what == "figures":
        return _figures(request, found)
    if request.method == "POST":
        return _sections(request, found)
    context = _page(found, at=_number(request.GET.get("at", "")))
    part = fields.wants_part(request)
    return render(request, "formation/_tapped.html" if part else "formation/line.html", context)


def _figures(request: HttpRequest, found: Line) -> HttpResponse:
    figures = LineForm(request.POST, initial=initial(found, LineForm))
    if figures.is_valid():
        services.change_line(line=found, **figures.cleaned_data)
        return redirect("line", found.pk)
    context = _page(found) | {"figures": figures}
    return render(request, "formation/line.html", context, status=400)


def _sections(request: HttpRequest, found: Line) -> HttpResponse:
    """Keep the rows as they are typed, with what a tap on the drawing board adds to them."""
    rows, pen = _rows(request.POST), PenForm(request.POST)
    # htmx sends the button pressed last along with what is typed later: only a button taps
    typing = request.headers.get("HX-Trigger") == "track"
    tap = "" if typing else request.POST.get("tap", "")
    at = _number(request.POST.get("at", ""))
    right = all(row.is_valid() for row in rows) and (pen.is_valid() or not tap)
    said = ""
    if right:
        typed = [row.cleaned_data for row in rows]
        # the row that is marked, counted among those that hold anything
        at = next((n for n, row in enumerate(rows, 1) if row.prefix == f"s{at - 1}"), at)
        drawn = board(typed, at)
        try:
            drawn = tapped(drawn, tap, Pen(**pen.cleaned_data)) if tap else drawn
        except InputError as problem:
            right, said = False, str(problem)
        services.set_sections(line=found, sections=drawn.sections)
        at = drawn.at
    part = fields.wants_part(request)
    if right and not part:
        return redirect(f"{reverse('line', args=[found.pk])}?at={at}#sections")
    context = _page(found, at=at) | {"pen": pen, "said": said, "typing": not tap}
    if not right and not said:
        context |= {"rows": [*rows, *_spare(rows)], "typed": rows}
    template = "line"
    if part:
        template = "_tapped" if tap and right else "_typed"
        context["typed"] = rows
    status = 200 if right else 400
    return render(request, f"formation/{template}.html", context, status=status)


def _page(found: Line, *, at: int = 0) -> dict[str, Any]:
    """Gather what a line's page shows, with one section at work."""
    kept = list(found.sections.all())
    sections = queries.sections_of(found)
    drawn = board([initial(s, SectionForm) for s in kept], at)
    rows: Rows = [
        SectionForm(prefix=f"s{k}", initial=initial(s, SectionForm), auto_id="id_%s")
        for k, s in enumerate(kept)
    ]
    asked = [_asked(s) for s in sections]
    return {
        "line": found,
        "figures": LineForm(initial=initial(found, LineForm)),
        "rows": [*rows, *_spare(rows)],
        "at": drawn.at,
        "pen": PenForm(),
        "pieces": PIECES,
        "changes": CHANGES,
        "length_mm": sum(s.length_mm for s in sections),
        "rise_mm": sum(s.length_mm * s.grade_permille for s in sections) / 1000,
        "tightest": min((s.radius_mm for s in sections if s.radius_mm), default=None),
        "steepest": max((s.grade_permille for s in sections), default=0.0),
        "loop_mm": found.loop_mm or queries.room_of(found, LineSection.Place.LOOP),
        "platform_mm": found.platform_mm or queries.room_of(found, LineSection.Place.PLATFORM),
        **_drawings(found, kept, sections, asked, drawn),
    }


def _drawings(
    found: Line,
    kept: list[LineSection],
    sections: tuple[Section, ...],
    asked: list[float],
    at: Board,
) -> dict[str, Any]:
    """Draw plan and profile with the worst places marked, and say what these ask."""
    if not sections:
        return {}
    most = max(asked)
    plain = most <= min(asked) or most <= 0
    worst = [] if plain else [n for n, a in enumerate(asked, 1) if a >= NEARLY * most]
    address = reverse("line", args=[found.pk])
    drawn = Drawn(
        sides=[s.side for s in kept],
        places=[s.place for s in kept],
        worst=worst,
        chosen=at.at,
        links=[f"{address}?at={n}#sections" for n in range(1, len(kept) + 1)],
        names=[_("Section %(n)d") % {"n": n} for n in range(1, len(kept) + 1)],
    )
    plan = plan_svg(sections, title=_("Plan of the line"), drawn=drawn)
    profile = profile_svg(sections, title=_("Profile of the line"), drawn=drawn)
    return {
        "worst": [(n, kept[n - 1].name, sections[n - 1], asked[n - 1]) for n in worst],
        "plan": mark_safe(plan),  # noqa: S308 - made here, texts escaped
        "profile": mark_safe(profile),  # noqa: S308 - made here, texts escaped
    }


def _asked(section: Section) -> float:
    """Give what a section asks of a wagon beside its rolling, per mille of its weight."""
    curve = CURVE_CONSTANT / section.radius_mm if section.radius_mm else 0.0
    return section.grade_permille + curve


def initial(record: Any, form: type[forms.Form]) -> dict[str, Any]:
    """Give a record's fields as a form first shows them, numbers without a trailing ``.0``."""
    values = {name: getattr(record, name) for name in form.base_fields}
    return {k: f"{v:g}" if isinstance(v, float) else v for k, v in values.items()}


def _rows(sent: QueryDict) -> Rows:
    """Read the rows that hold anything, in order; an emptied row is a section taken out."""
    rows = []
    k = 0
    typed = ("length_mm", "grade_permille", "radius_mm", "name")
    while f"s{k}-length_mm" in sent:
        if any(sent.get(f"s{k}-{name}", "").strip() for name in typed):
            rows.append(SectionForm(sent, prefix=f"s{k}", auto_id="id_%s"))
        k += 1
    return rows


def _spare(rows: Rows) -> Rows:
    following = max((int(str(row.prefix)[1:]) + 1 for row in rows), default=0)
    return [
        SectionForm(prefix=f"s{following + k}", auto_id="id_%s", use_required_attribute=False)
        for k in range(SPARE_ROWS)
    ]


def _number(text: str) -> int:
    return int(text) if text.isdecimal() and len(text) < 5 else 0
