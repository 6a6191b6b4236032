"""Lots on offer: what to bid, what to ask, what was promised."""

from datetime import date
from decimal import Decimal
from typing import Any

from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.utils.safestring import mark_safe
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from outshop.errors import InputError
from outshop.market.claims import days_left
from outshop.market.money import currency, read_amount
from outshop.market.reserve import likely_repairs
from outshop.pages import fields, lookup
from outshop.pages.market.forms import LotForm, initial_of
from outshop.records import services
from outshop.records.models import Lot
from outshop.records.queries import market as queries
from outshop.reports.bars import share_bars

MOST_BARS = 6  # causes of doubt drawn
TROUBLE = 0.6  # chance that a piece "sold as seen" has trouble; judgement, no source


@require_safe
def show_all(request: HttpRequest) -> HttpResponse:
    """List the lots, those that end first on top."""
    lots = Lot.objects.select_related("piece").prefetch_related("files__media")
    open_states = (Lot.State.WATCHED, Lot.State.BID)
    context = {
        "open": [lot for lot in lots if lot.state in open_states],
        "closed": [lot for lot in lots if lot.state not in open_states],
    }
    return render(request, "market/offers.html", context)


@require_http_methods(["GET", "POST"])
def new(request: HttpRequest) -> HttpResponse:
    """Enter a lot."""
    form = LotForm(request.POST or None, initial={"currency": "EUR"})
    if request.method == "POST" and form.is_valid():
        lot = services.add_lot(token=fields.form_token(request), **form.plain())
        return redirect("lot", lot.pk)
    return _form(request, form, None)


@require_http_methods(["GET", "POST"])
def edit(request: HttpRequest, pk: int) -> HttpResponse:
    """Change a lot."""
    lot = lookup.one(Lot.objects.all(), pk)
    form = LotForm(request.POST or None, initial=initial_of(lot))
    if request.method == "POST" and form.is_valid():
        version = request.POST.get("version", "")
        services.change_lot(
            lot=lot, version=int(version) if version.isdecimal() else None, **form.plain()
        )
        return redirect("lot", lot.pk)
    return _form(request, form, lot)


@require_safe
def show(request: HttpRequest, pk: int) -> HttpResponse:
    """Show how far to bid, what it lands at, what to ask, and what was promised."""
    lot = lookup.one(Lot.objects.select_related("piece"), pk)
    context: dict[str, Any] = {
        "lot": lot,
        "own_code": lot.terms.get("home_currency") or lot.currency,
        "files": list(lot.files.select_related("media")),
    }
    try:
        hammer = _amount(request.GET.get("hammer", ""), lot)
        budget = _own_amount(request.GET.get("budget", ""), lot)
        kept = lot.hammer if hammer is None and budget is None else hammer
        found = queries.outlook_of(lot, kept, budget)
        context["outlook"] = found
        if found.ceiling and found.ceiling.drivers:
            bars = share_bars(found.ceiling.drivers[:MOST_BARS], _("Where the doubt comes from"))
            context["chart"] = mark_safe(bars)  # noqa: S308 - our own drawing, escaped there
    except InputError as problem:
        context["problem"] = str(problem)
    context["claims"] = queries.claims_of(lot)
    if lot.return_by:
        context["return_words"] = days_left(lot.return_by, timezone.localdate())
    return render(request, "market/lot.html", context, status=400 if "problem" in context else 200)


@require_POST
def add_picture(request: HttpRequest, pk: int) -> HttpResponse:
    """Keep a picture of the listing."""
    lot = lookup.one(Lot.objects.all(), pk)
    sent = fields.uploaded(request)
    services.add_lot_file(
        lot=lot, source=sent.source, name=sent.name, token=fields.form_token(request)
    )
    return redirect("lot", pk)


@require_POST
def propose_repairs(request: HttpRequest, pk: int) -> HttpResponse:
    """Fill the repairs from what such pieces most often need."""
    lot = lookup.one(Lot.objects.all(), pk)
    decade = request.POST.get("decade", "")
    found = likely_repairs(
        request.POST.get("system") or None, int(decade) if decade.isdecimal() else None, TROUBLE
    )
    lines = "\n".join(f"{r.name}; {100 * r.chance:.1f}; {r.cost:g}; {r.minutes:g}" for r in found)
    services.change_lot(lot=lot, outlook={**lot.outlook, "repairs": lines})
    return redirect("lot", pk)


@require_POST
def buy(request: HttpRequest, pk: int) -> HttpResponse:
    """Make a piece of a lot that was won."""
    lot = lookup.one(Lot.objects.all(), pk)
    hammer = _amount(request.POST.get("hammer", ""), lot)
    if hammer is None:
        raise InputError(_("Write the hammer price: the price paid is worked out from it."))
    invoice = queries.outlook_of(lot, hammer).invoice
    full = invoice.total if invoice else hammer
    piece = services.buy_lot(
        lot=lot, hammer=hammer, full_price=full, token=fields.form_token(request)
    )
    return redirect("piece", piece.pk)


@require_POST
def remove(request: HttpRequest, pk: int) -> HttpResponse:  # noqa: ARG001 - a view
    """Take a lot back."""
    services.remove_lot(lot=lookup.one(Lot.objects.all(), pk))
    return redirect("offers")


def due_on_bench() -> list[tuple[Lot, str]]:
    """Give what is due on the bench: sales that end, and return periods, with the days left."""
    today = timezone.localdate()
    return [(lot, _due_words(lot, today)) for lot in queries.lots_due(today)]


def _due_words(lot: Lot, today: date) -> str:
    if lot.state == Lot.State.BOUGHT and lot.return_by:
        return days_left(lot.return_by, today)
    return _("ends on %s") % lot.ends_on


def _amount(text: str, lot: Lot) -> Decimal | None:
    return read_amount(text, currency(lot.currency)) if text.strip() else None


def _own_amount(text: str, lot: Lot) -> Decimal | None:
    """Read an amount of the person's own currency, the sale's when no other is told."""
    code = str(lot.terms.get("home_currency") or lot.currency)
    return read_amount(text, currency(code)) if text.strip() else None


def _form(request: HttpRequest, form: LotForm, lot: Lot | None) -> HttpResponse:
    status = 400 if form.is_bound and form.errors else 200
    return render(request, "market/lot_form.html", {"form": form, "lot": lot}, status=status)
