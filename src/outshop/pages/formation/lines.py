"""The layout's lines: a table of sections, plan and profile."""

from typing import Any

from django.http import HttpRequest, HttpResponse, QueryDict
from django.shortcuts import redirect, render
from django.utils.safestring import mark_safe
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods

from outshop.formation.scene import CURVE_CONSTANT, Section
from outshop.pages import fields, lookup
from outshop.pages.formation.forms import LineForm, SectionForm
from outshop.records.models import Line
from outshop.records.queries import formations as queries
from outshop.records.services import formations as services
from outshop.reports.line import plan_svg, profile_svg

SPARE_ROWS = 3  # empty rows below the table


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
    """Show one line with plan and profile; take in its table, its figures or its removal."""
    found = lookup.one(Line.objects.all(), pk)
    what = request.POST.get("what", "")
    if what == "remove":
        services.remove_line(line=found)
        return redirect("lines")
    figures = LineForm(
        request.POST if what == "figures" else None, initial=initial(found, LineForm)
    )
    rows = _rows(request.POST) if what == "sections" else _kept_rows(found)
    if what == "figures" and figures.is_valid():
        services.change_line(line=found, **figures.cleaned_data)
        return redirect("line", pk)
    if what == "sections" and all(row.is_valid() for row in rows):
        services.set_sections(line=found, sections=[row.cleaned_data for row in rows])
        return redirect("line", pk)
    wrong = bool(figures.errors) or any(row.errors for row in rows)
    sections = queries.sections_of(found)
    following = max((int(str(row.prefix)[1:]) + 1 for row in rows), default=0)
    spare = [SectionForm(prefix=f"s{following + k}", auto_id=False) for k in range(SPARE_ROWS)]
    context: dict[str, Any] = {
        "line": found,
        "figures": figures,
        "rows": [*rows, *spare],
        "length_mm": sum(s.length_mm for s in sections),
        "rise_mm": sum(s.length_mm * s.grade_permille for s in sections) / 1000,
        "tightest": min((s.radius_mm for s in sections if s.radius_mm), default=None),
        "steepest": max((s.grade_permille for s in sections), default=0.0),
    }
    if sections:
        worst = _hardest(sections)
        context["worst"] = worst
        plan = plan_svg(sections, title=_("Plan of the line"), worst=worst)
        profile = profile_svg(sections, title=_("Profile of the line"), worst=worst)
        context["plan"] = mark_safe(plan)  # noqa: S308 - made here, texts escaped
        context["profile"] = mark_safe(profile)  # noqa: S308 - made here, texts escaped
    return render(request, "formation/line.html", context, status=400 if wrong else 200)


def _hardest(sections: tuple[Section, ...]) -> int:
    """Give the number of the section that asks most of a wagon; 0 when all are alike."""
    asked = [
        s.grade_permille + (CURVE_CONSTANT / s.radius_mm if s.radius_mm else 0) for s in sections
    ]
    return asked.index(max(asked)) + 1 if max(asked) > min(asked) else 0


def initial(record: Any, form: type[Any]) -> dict[str, Any]:
    """Give a record's fields as a form first shows them, numbers without a trailing ``.0``."""
    values = {name: getattr(record, name) for name in form.base_fields}
    return {k: f"{v:g}" if isinstance(v, float) else v for k, v in values.items()}


def _kept_rows(found: Line) -> list[SectionForm]:
    return [
        SectionForm(prefix=f"s{k}", initial=initial(s, SectionForm), auto_id=False)
        for k, s in enumerate(found.sections.all())
    ]


def _rows(sent: QueryDict) -> list[SectionForm]:
    """Read the rows that hold anything, in order; an emptied row is a section taken out."""
    rows = []
    k = 0
    while f"s{k}-length_mm" in sent:
        if any(sent.get(f"s{k}-{name}", "").strip() for name in SectionForm.base_fields):
            rows.append(SectionForm(sent, prefix=f"s{k}", auto_id=False))
        k += 1
    return rows
