"""Realised prices: a table in, a table out."""

import csv
import io

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.http import require_POST, require_safe

from outshop.errors import TableError
from outshop.market.comparables import COLUMNS, read_comparables, safe_cell
from outshop.pages import lookup
from outshop.pages.tables import read_upload
from outshop.records import services
from outshop.records.models import Edition, Sale

SHOWN = 500  # latest sales on the page; the export has all


@require_safe
def show(request: HttpRequest) -> HttpResponse:
    """List the sales, newest first."""
    context = {
        "sales": list(Sale.objects.select_related("edition")[:SHOWN]),
        "count": Sale.objects.count(),
        "editions": list(Edition.objects.all()),
    }
    return render(request, "market/prices.html", context)


@require_POST
def import_table(request: HttpRequest) -> HttpResponse:
    """Keep a table of sales, or nothing of it."""
    sales, warnings = read_comparables(read_upload(request))
    if not sales:
        message = "the table has no sales below its first line"
        raise TableError(message)
    chosen = request.POST.get("edition", "")
    edition = lookup.one(Edition.objects.all(), int(chosen)) if chosen.isdecimal() else None
    new = services.add_sales(sales=sales, edition=edition)
    said = [f"{new} sales kept, {len(sales) - new} were there already", *warnings]
    messages.success(request, "; ".join(said))
    return redirect("prices")


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
                f"{sale.condition:g}",
                *flags,
                safe_cell(sale.source),
            ]
        )
    response = HttpResponse(out.getvalue(), content_type="text/csv; charset=utf-8")
    response["Content-Disposition"] = 'attachment; filename="prices.csv"'
    return response


@require_POST
def remove(request: HttpRequest, pk: int) -> HttpResponse:  # noqa: ARG001 - a view
    """Take a sale back."""
    services.remove_sale(sale=lookup.one(Sale.objects.all(), pk))
    return redirect("prices")
