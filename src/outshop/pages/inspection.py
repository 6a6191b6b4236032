"""Looking a piece over: axle by axle at the diagram, part by part in the list."""

from dataclasses import dataclass
from typing import Any

from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import path, reverse
from django.utils.safestring import SafeString
from django.utils.translation import gettext as _
from django.views.decorators.http import require_POST, require_safe

from outshop.errors import InputError
from outshop.pages import axle_drawing, fields, lookup
from outshop.pages.piece_sections import axle_states
from outshop.railway import arrangement as arrangements
from outshop.records import services
from outshop.records.models import Finding, Inspection, JobCard, Photo
from outshop.workshop import parts
from outshop.workshop.findings import Condition, summarise
from outshop.workshop.parts import Part, PartState

AXLE, PART = Finding.TargetKind.AXLE, Finding.TargetKind.PART
LONGEST_NOTE = 2000  # characters


@dataclass(frozen=True, slots=True)
class PartRow:
    """A line of the part list with what was found."""

    part: Part
    state: PartState | None = None
    note: str = ""
    photos: tuple[Photo, ...] = ()


@dataclass(frozen=True, slots=True)
class AxleChoice:
    """The axle that is chosen, what may be said of it and what was."""

    label: str
    name: str
    states: tuple[PartState, ...]
    state: str
    note: str
    photos: tuple[Photo, ...]
    following: str


@require_POST
def new(request: HttpRequest, pk: int) -> HttpResponse:
    """Begin an inspection."""
    piece = lookup.piece(pk)
    inspection = services.add_inspection(piece=piece, token=fields.form_token(request))
    return redirect("inspection", inspection.pk)


@require_safe
def show(request: HttpRequest, pk: int) -> HttpResponse:
    """Show the diagram, the part list and what it comes to."""
    inspection = lookup.inspection(pk)
    context = _context(inspection, request.GET.get("axle", ""))
    if fields.wants_part(request):
        return render(request, "inspection/_axles.html", context)
    return render(request, "inspection/inspection.html", context)


@require_POST
def keep(request: HttpRequest, pk: int) -> HttpResponse:
    """Keep what was said of one axle or one part, with its photo."""
    inspection = lookup.inspection(pk)
    kind, target = request.POST.get("kind", ""), request.POST.get("target", "")
    problem = ""
    try:
        _kept(request, inspection, kind, target)
    except InputError as trouble:
        problem = str(trouble)
    inspection = lookup.inspection(pk)
    following = _next_axle(inspection, target) if kind == AXLE and not problem else target
    context = _context(inspection, following if kind == AXLE else "")
    context |= {"problem": problem, "swap_summary": True}
    status = 400 if problem else 200
    if not fields.wants_part(request):
        if problem:
            return render(request, "inspection/inspection.html", context, status=status)
        mark = f"?axle={following}#axles" if kind == AXLE else f"#part-{target}"
        return redirect(reverse("inspection", args=[pk]) + mark)
    if kind == AXLE:
        return render(request, "inspection/_axles.html", context, status=status)
    row = next((r for r in context["rows"] if r.part.id == target), None)
    return render(request, "inspection/_part_row.html", context | {"row": row}, status=status)


@require_POST
def make_job(request: HttpRequest, pk: int) -> HttpResponse:
    """Write the job card that answers the findings."""
    inspection = lookup.inspection(pk)
    card: JobCard = services.write_job_card(
        piece=inspection.piece,
        title=_("Service of %(day)s") % {"day": f"{inspection.made_on:%Y-%m-%d}"},
        inspection=inspection,
        token=fields.form_token(request),
    )
    return redirect("job", card.pk)


def _kept(request: HttpRequest, inspection: Inspection, kind: str, target: str) -> None:
    state = request.POST.get("state", "")
    note = request.POST.get("note", "")[:LONGEST_NOTE]
    _refuse_unknown(inspection, kind, target, state)
    old = inspection.findings.filter(target_kind=kind, target=target).first()
    if not state:
        if note or request.FILES:
            raise InputError(_("Choose a state first; a note or a photo belongs to one."))
        if old:
            services.remove_finding(finding=old)
        return
    finding = services.set_finding(
        inspection=inspection, target_kind=kind, target=target, state=state, note=note
    )
    if "file" in request.FILES:
        file = fields.uploaded(request)
        services.add_photo(
            piece=inspection.piece, source=file.source, name=file.name, finding=finding
        )


def _refuse_unknown(inspection: Inspection, kind: str, target: str, state: str) -> None:
    if kind == AXLE:
        known = axle_drawing.labels(inspection.piece.known_arrangement)
        if target not in known:
            message = _("There is no axle “%(label)s” in this arrangement.")
            raise InputError(message % {"label": target[:20]})
        if state:
            parts.part("axle").state(state)
    elif kind == PART:
        part = parts.part(target)
        if state:
            part.state(state)
    else:
        raise InputError(_("Say whether it is an axle or a part."))


def _next_axle(inspection: Inspection, label: str) -> str:
    """Give the next axle that nobody looked at, going round; empty when all were."""
    labels = axle_drawing.labels(inspection.piece.known_arrangement)
    seen = {f.target for f in inspection.findings.all() if f.target_kind == AXLE}
    place = labels.index(label) if label in labels else -1
    return next((x for x in labels[place + 1 :] + labels[:place] if x not in seen), "")


def _context(inspection: Inspection, axle: str) -> dict[str, Any]:
    findings = list(inspection.findings.all())
    labels = axle_drawing.labels(inspection.piece.known_arrangement)
    condition: Condition = summarise(services.as_workshop(findings))
    by_target = {(f.target_kind, f.target): f for f in findings}
    return {
        "inspection": inspection,
        "piece": inspection.piece,
        "labels": labels,
        "drawing": _drawing(inspection, findings, axle),
        "axle": _axle_choice(inspection, by_target.get((AXLE, axle)), axle)
        if axle in labels
        else None,
        "rows": [_part_row(part, by_target.get((PART, part.id))) for part in parts.part_list()],
        "condition": condition,
    }


def _drawing(inspection: Inspection, findings: list[Finding], axle: str) -> SafeString:
    here = reverse("inspection", args=[inspection.pk])
    return axle_drawing.drawing(
        inspection.piece.known_arrangement,
        axle_drawing.marks_of(axle_states(findings)),
        link=lambda label: f"{here}?axle={label}#axles",
        current=axle or None,
    )


def _part_row(part: Part, finding: Finding | None) -> PartRow:
    if finding is None:
        return PartRow(part)
    return PartRow(part, part.state(finding.state), finding.note, tuple(finding.photos.all()))


def _axle_choice(inspection: Inspection, finding: Finding | None, label: str) -> AxleChoice:
    axles = arrangements.parse(inspection.piece.known_arrangement, hauled=True).axles
    axle = next(a for a in axles if a.label == label)
    words = _("driven axle %(key)s") if axle.driven else _("carrying axle %(key)s")
    return AxleChoice(
        label,
        words % {"key": label},
        parts.axle_states(),
        finding.state if finding else "",
        finding.note if finding else "",
        tuple(finding.photos.all()) if finding else (),
        _next_axle(inspection, label),
    )


urlpatterns = [
    path("piece/<int:pk>/inspect/", new, name="inspection_new"),
    path("inspection/<int:pk>/", show, name="inspection"),
    path("inspection/<int:pk>/finding/", keep, name="finding_keep"),
    path("inspection/<int:pk>/job/", make_job, name="job_from_inspection"),
]
