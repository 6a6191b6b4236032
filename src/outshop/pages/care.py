"""Care: what falls due over the collection and for one piece, and the calendar to subscribe to."""

from datetime import datetime, time, timedelta
from typing import Any

from django import forms
from django.conf import settings
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import path, reverse
from django.utils import timezone
from django.utils.crypto import constant_time_compare, salted_hmac
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from outshop.errors import InputError
from outshop.pages import axle_drawing, fields, lookup
from outshop.pages.fields import NumberField
from outshop.records import queries, services
from outshop.records.models import CareDone, Piece
from outshop.records.queries.standing import drifting
from outshop.reports.axles import AxleMark
from outshop.workshop import care, cautions
from outshop.workshop.calendar_file import DueEvent, calendar_file
from outshop.workshop.lubrication import points_at

REMIND_DAYS = 3  # ahead of the day, in the calendar
LONGEST_INTERVAL = 10_000
SHOWN = 50  # lines of each list on the page


class OwnCareForm(forms.Form):
    """A rule of one's own."""

    title = forms.CharField(label=gettext_lazy("What"), max_length=300)
    text = forms.CharField(label=gettext_lazy("How"), required=False, max_length=2000)
    every_hours = NumberField(
        label=gettext_lazy("Every so many running hours"), required=False, min_value=0.01,
        max_value=LONGEST_INTERVAL,
    )  # fmt: skip
    every_months = NumberField(
        label=gettext_lazy("Every so many months"), required=False, min_value=0.01,
        max_value=LONGEST_INTERVAL,
    )  # fmt: skip

    def clean(self) -> dict[str, Any]:
        """Ask for at least one interval."""
        cleaned = super().clean() or {}
        if not self.errors and not (cleaned.get("every_hours") or cleaned.get("every_months")):
            raise forms.ValidationError(_("Give hours, months or both: care needs an interval."))
        return cleaned


@require_safe
def due_list(request: HttpRequest) -> HttpResponse:
    """Show what falls due, and who needs a turn next."""
    found = queries.due_list()
    due = [f for f in found if f.due.state == "due"]
    soon = [f for f in found if f.due.state == "soon"]
    address = reverse("calendar", args=[calendar_key()])
    context = {
        "due": due[:SHOWN],
        "soon": soon[:SHOWN],
        "due_count": len(due),
        "soon_count": len(soon),
        "turns": queries.next_turns(),
        "drifting": drifting(),
        "calendar": request.build_absolute_uri(address),
        "total": Piece.objects.exclude(state=Piece.State.WANTED).count(),
    }
    return render(request, "care/care.html", context)


@require_http_methods(["GET", "POST"])
def piece_care(request: HttpRequest, pk: int) -> HttpResponse:
    """Show the care of one piece; take in a rule of one's own."""
    piece = lookup.piece(pk)
    form = OwnCareForm(request.POST or None)
    if request.method == "POST" and form.is_valid():
        services.add_own_care(piece=piece, token=fields.form_token(request), **form.cleaned_data)
        return redirect("piece_care", pk)
    axles = axle_drawing.axles(piece.known_arrangement)
    points = points_at(axles, without=queries.absent_parts(piece))
    dues = queries.piece_care(piece)
    oil = next((d for d in dues if d.rule.id == "lubricate"), None)
    context = {
        "piece": piece,
        "dues": dues,
        "titles": {rule.id: rule.title for rule in care.care_rules()},
        "history": queries.care_history(piece),
        "points": points,
        "drawing": _oil_drawing(piece, axles),
        "oil": oil,
        "drifting": drifting(piece),
        "last_oil": piece.care_done.filter(rule="lubricate").first(),
        "job_due": any(d.state in ("due", "soon") and d.rule.task for d in dues),
        "ran": queries.running_minutes(piece),
        "form": form,
    }
    return render(request, "care/piece.html", context, status=400 if form.errors else 200)


@require_POST
def done(request: HttpRequest, pk: int) -> HttpResponse:
    """Note that something was done, today or on the day that was typed."""
    piece = lookup.piece(pk)
    services.note_care(
        piece=piece,
        rule=request.POST.get("rule", "")[:60],
        done_at=_moment(request.POST.get("day", "")),
        note=request.POST.get("note", "")[:2000],
        token=fields.form_token(request),
    )
    if request.POST.get("back") == "care":
        return redirect("care")
    return redirect("piece_care", pk)


@require_POST
def make_job(request: HttpRequest, pk: int) -> HttpResponse:
    """Write one job card for everything that is due and that the workshop has a task for."""
    piece = lookup.piece(pk)
    due = [d for d in queries.piece_care(piece) if d.state in ("due", "soon") and d.rule.task]
    if not due:
        raise InputError(
            _("Nothing that is due needs a job card: note it as done when you did it.")
        )
    card = services.write_job_card(
        piece=piece,
        title=_("Care"),
        tasks=[d.rule.task for d in due],
        token=fields.form_token(request),
    )
    return redirect("job", card.pk)


@require_safe
def caution_list(request: HttpRequest) -> HttpResponse:
    """Show every caution with its source."""
    context = {"cautions": cautions.all_cautions(), "defer": cautions.defer()}
    return render(request, "care/cautions.html", context)


@require_POST
def interval(request: HttpRequest, pk: int) -> HttpResponse:
    """Change an interval, switch a rule off, or go back to the usual."""
    piece = lookup.piece(pk)
    rule = request.POST.get("rule", "")[:60]
    what = request.POST.get("what", "")
    if what == "usual":
        services.usual_care_interval(piece=piece, rule=rule)
    else:
        services.set_care_interval(
            piece=piece,
            rule=rule,
            every_hours=fields.number_or_none(request.POST.get("every_hours", ""), _("Hours")),
            every_months=fields.number_or_none(request.POST.get("every_months", ""), _("Months")),
            switched_off=what == "off",
        )
    return redirect("piece_care", pk)


@require_POST
def forget(_request: HttpRequest, pk: int) -> HttpResponse:
    """Take back an entry that was a slip."""
    entry = lookup.one(CareDone.objects.select_related("piece"), pk)
    piece = entry.piece
    services.forget_care(entry=entry)
    return redirect("piece_care", piece.pk)


@require_safe
def calendar(_request: HttpRequest, key: str) -> HttpResponse:
    """Give the calendar file; the key in the address stands for the passphrase."""
    if not constant_time_compare(key, calendar_key()):
        raise Http404
    events = [
        DueEvent(
            f"{found.piece.uid}-{found.due.rule.id}@outshop",
            max(found.due.day, timezone.localdate()),
            f"{found.piece}: {found.due.rule.title}",
            found.due.rule.text,
            REMIND_DAYS,
        )
        for found in queries.calendar_dues()
        if found.due.day is not None
    ]
    text = calendar_file(events, name=_("Outshop: care"), stamp=timezone.now())
    answer = HttpResponse(text, content_type="text/calendar; charset=utf-8")
    answer["Content-Disposition"] = 'inline; filename="outshop-care.ics"'
    return answer


def calendar_key() -> str:
    """Give the key of the calendar's address; it changes with the passphrase."""
    return salted_hmac("outshop.calendar", settings.OUTSHOP_PASSPHRASE).hexdigest()[:32]


def part_of_piece(piece: Piece) -> dict[str, Any]:
    """Give what a piece's page shows of its care: the three most urgent lines."""
    dues = [d for d in queries.piece_care(piece) if d.state in ("due", "soon", "later")]
    return {"dues": dues[:3], "ran": queries.running_minutes(piece)}


def due_on_bench() -> list[queries.PieceDue]:
    """Give what the bench shows as due."""
    return [f for f in queries.due_list() if f.due.state == "due"][:8]


def _moment(text: str) -> datetime | None:
    """Read a day; today means now."""
    if not text.strip():
        return None
    try:
        day = forms.DateField().clean(text)
    except forms.ValidationError as problem:
        message = _("“%(text)s” is not a day; write it like 2026-03-01.") % {"text": text[:40]}
        raise InputError(message) from problem
    if day == timezone.localdate():
        return None
    noon = datetime.combine(day, time()) + timedelta(hours=12)
    return timezone.make_aware(noon)


def _oil_drawing(piece: Piece, axles: list[tuple[str, bool]]) -> Any:
    """Draw where oil and grease go: driven axles take grease as well."""
    marks = {
        label: AxleMark(_("oil, grease") if driven else _("oil"), "good") for label, driven in axles
    }
    return axle_drawing.drawing(piece.known_arrangement, marks)


urlpatterns = [
    path("care/", due_list, name="care"),
    path("care/calendar/<str:key>.ics", calendar, name="calendar"),
    path("care/done/<int:pk>/forget/", forget, name="care_forget"),
    path("piece/<int:pk>/care/", piece_care, name="piece_care"),
    path("piece/<int:pk>/care/done/", done, name="care_done"),
    path("piece/<int:pk>/care/interval/", interval, name="care_interval"),
    path("piece/<int:pk>/care/job/", make_job, name="care_job"),
    path("cautions/", caution_list, name="cautions"),
]
