"""What pieces are worth, and the schedule for the insurer."""

import csv
import io
from datetime import date

from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.utils.dateparse import parse_date
from django.utils.safestring import SafeString, mark_safe
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from outshop.errors import InputError
from outshop.market.money import currency
from outshop.market.schedule import Change, Item, changes_since, make_schedule
from outshop.market.value import Subject, Value, course
from outshop.pages import fields, lookup
from outshop.pages.market.forms import SubjectForm, ValueForm
from outshop.records import services
from outshop.records.archive.table import write_table
from outshop.records.models import Piece, Valuation
from outshop.records.queries import market as queries
from outshop.reports.prices import Line, price_chart

STEPS = 40  # points of the drawn course
PRIVATE = ("uid", "place", "notes", "arrived_on")
BASES = ("agreed", "replacement", "market")


@require_http_methods(["GET", "POST"])
def show(request: HttpRequest, pk: int) -> HttpResponse:
    """Show a piece's values, and what sales of its edition say."""
    piece = lookup.piece(pk)
    form = ValueForm(request.POST or None)
    if request.method == "POST" and form.is_valid():
        typed = form.cleaned_data
        services.add_valuation(
            piece=piece,
            basis=typed["basis"],
            amount=form.exact(),
            currency=typed["currency"].upper(),
            valued_on=typed["valued_on"],
            source=typed["source"],
            token=fields.form_token(request),
        )
        return redirect("value", pk)
    subject = SubjectForm(request.GET if "condition" in request.GET else None)
    context = {
        "piece": piece,
        "form": form,
        "subject_form": subject,
        "values": list(piece.valuations.all()),
        **_from_sales(piece, subject),
    }
    return render(request, "market/value.html", context, status=400 if form.errors else 200)


def _from_sales(piece: Piece, form: SubjectForm) -> dict[str, object]:
    sales = queries.sales_like(piece)
    subject = Subject(0.55, box=False, papers=False, working=True)
    if form.is_bound and form.is_valid():
        subject = Subject(**form.cleaned_data)
    try:
        found: Value = queries.market_value(sales, subject)
    except InputError as problem:
        return {"sales": sales, "problem": str(problem)}
    return {"sales": sales, "found": found, "chart": _chart(piece, found, subject)}


def _chart(piece: Piece, found: Value, subject: Subject) -> SafeString:
    """Draw sales, their course, and the values on record in the same currency."""
    today = timezone.localdate()
    sold = [(s.sold_on, float(s.price)) for s in queries.sales_like(piece)]
    days = [min(d for d, _p in sold) + (today - min(d for d, _p in sold)) * k / STEPS for k in
            range(STEPS + 1)] if sold else []  # fmt: skip
    lines, code = queries.values_over_time(piece, found.price.unit)
    drawn = price_chart(
        [(_year(day), price) for day, price in sold],
        [
            (_year(day), price.low, price.value, price.high)
            for day, price in course(found, subject, days, today)
        ],
        [
            Line(str(name), tuple((_year(day), float(amount)) for day, amount in points))
            for name, points in lines
        ],
        code,
        _("Prices and values over the years"),
    )
    return mark_safe(drawn)  # noqa: S308 - our own drawing, texts escaped there


def _year(day: date) -> float:
    return day.year + (day.timetuple().tm_yday - 1) / 366


@require_POST
def remove(request: HttpRequest, pk: int) -> HttpResponse:  # noqa: ARG001 - a view
    """Take a value back."""
    valuation = lookup.one(Valuation.objects.select_related("piece"), pk)
    services.remove_valuation(valuation=valuation)
    return redirect("value", valuation.piece.pk)


@require_safe
def schedule(request: HttpRequest) -> HttpResponse:
    """Show what is where and what it is worth."""
    basis, code = chosen(request)
    items = queries.schedule_items(code)
    since = parse_date(request.GET.get("since", "") or "")
    context = {
        "since": since,
        "changes": _changes(items, code, since, basis) if since else [],
        "schedule": make_schedule(items, basis),
        "bases": BASES,
        "basis": basis,
        "code": code,
    }
    return render(request, "market/schedule.html", context)


def _changes(items: list[Item], code: str, since: date, basis: str) -> list[Change]:
    before = {i.key: i for i in queries.schedule_items(code, since)}
    return changes_since(before, {i.key: i for i in items}, basis)


@require_safe
def collection(request: HttpRequest) -> HttpResponse:
    """Show what is owned against what is wanted, in pictures."""
    return render(request, "market/collection.html", {"all": queries.collection()})


@require_safe
def private_table(request: HttpRequest) -> HttpResponse:  # noqa: ARG001 - a view
    """Give the collection as CSV without values, places or notes, to be handed to others."""
    lines = list(csv.reader(io.StringIO(write_table(), newline="")))
    kept = [i for i, name in enumerate(lines[0]) if name not in PRIVATE]
    out = io.StringIO()
    csv.writer(out).writerows([line[i] for i in kept] for line in lines)
    response = HttpResponse(out.getvalue(), content_type="text/csv; charset=utf-8")
    response["Content-Disposition"] = 'attachment; filename="collection.csv"'
    return response


def chosen(request: HttpRequest) -> tuple[str, str]:
    """Give the basis and the currency that the address asks for."""
    basis = request.GET.get("basis", BASES[0])
    code = currency(request.GET.get("currency") or "EUR").code
    return (basis if basis in BASES else BASES[0]), code


def on_piece_page(piece: Piece) -> dict[str, object]:
    """Give what stands on the piece's own page."""
    return {"values": list(piece.valuations.all()[:3])}
