"""Realised prices: a table in, a table out."""

import csv
import io

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from outshop.errors import TableError
from outshop.market.comparables import COLUMNS, read_comparables, safe_cell
from outshop.pages import lookup
from outshop.pages.market.forms import SaleForm
from outshop.pages.tables import read_upload
from outshop.records import services
from outshop.records.models import Edition, Sale

SHOWN = 500  # latest sales on the page; the export has all


@require_http_methods(["GET", "POST"])
def show(request: HttpRequest) -> HttpResponse:
    """List the sales, newest first, and keep one that is typed."""
    form = SaleForm(request.POST or None)
    if request.method == "POST" and form.is_valid():
        new = services.add_sales(sales=[form.sale()], edition=_edition(request))
        messages.success(request, _("Kept.") if new else _("This sale was there already."))
        return redirect("prices")
    context = {
        "form": form,
        "sales": list(Sale.objects.select_related("edition")[:SHOWN]),
        "count": Sale.objects.count(),
        "editions": list(Edition.objects.all()),
    }
    return render(request, "market/prices.html", context, status=400 if form.errors else 200)


@require_POST
def import_table(request: HttpRequest) -> HttpResponse:
    """Keep a table of sales, or nothing of it."""
    sales, warnings = read_comparables(read_upload(request))
    if not sales:
        message = "the table has no sales below its first line"
        raise TableError(message)
    new = services.add_sales(sales=sales, edition=_edition(request))
    said = [f"{new} sales kept, {len(sales) - new} were there already", *warnings]
    messages.success(request, "; ".join(said))
    return redirect("prices")


def _edition(request: HttpRequest) -> Edition | None:
    chosen = request.POST.get("edition", "")
    return lookup.one(Edition.objects.all(), int(chosen)) if chosen.isdecimal() else None


@require_safe
def export_table(request: HttpRequest) -> HttpResponse:  # noqa: ARG001 - a view
    """Give all sales as CSV; no cell is a live formula."""
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow(COLUMNS)
    for sale in Sale.objects.order_by("sold_on", "pk").iterator():
        flags = ["yes" if flag else "no" for flag in (sale.box, sale.papers, sale.working)]
        price = f"{sale.price.normalize():f}"
        writer.writerow(
            [
                sale.sold_on.isoformat(),
                price,
                sale.currency,
                safe_cell(sale.what),
                _condition(sale),
                *flags,
                safe_cell(sale.source),
            ]
        )
    response = HttpResponse(out.getvalue(), content_type="text/csv; charset=utf-8")
    response["Content-Disposition"] = 'attachment; filename="prices.csv"'
    return response


def _condition(sale: Sale) -> str:
    """Write a condition as it is read: one number, or part by part."""
    if not sale.parts:
        return f"{sale.condition:g}"
    return safe_cell("; ".join(f"{part} {grade:g}" for part, grade in sale.parts))


@require_POST
def remove(request: HttpRequest, pk: int) -> HttpResponse:  # noqa: ARG001 - a view
    """Take a sale back."""
    services.remove_sale(sale=lookup.one(Sale.objects.all(), pk))
    return redirect("prices")
