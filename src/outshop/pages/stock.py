"""Parts and consumables: the drawer, the shopping list, and what is fitted to a piece."""

from typing import Any

from django import forms
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import path, reverse
from django.utils.translation import gettext_lazy as _
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from outshop.errors import InputError
from outshop.pages import fields, lookup
from outshop.pages.fields import NumberField
from outshop.records import queries, services
from outshop.records.models import FittedPart, JobNeed, StockItem
from outshop.records.queries.stock import where_used
from outshop.records.services.stock import as_workshop_item
from outshop.workshop.parts import part_list

MOST = 1_000_000
MOST_NAMED = 6  # pieces named at a part


class ItemForm(forms.Form):
    """A line of the drawer."""

    name = forms.CharField(label=_("What"), max_length=300)
    size = forms.CharField(label=_("Size or kind"), required=False, max_length=300)
    in_stock = NumberField(label=_("In stock"), min_value=0, max_value=MOST, initial="0")
    keep_at_least = NumberField(
        label=_("Keep at least"), min_value=0, max_value=MOST, initial="0",
        help_text=_("Below this it goes on the shopping list."),
    )  # fmt: skip
    unit = forms.CharField(label=_("Counted in"), max_length=30, initial="pieces")
    place = forms.CharField(label=_("Where it lies"), required=False, max_length=300)


class FittedForm(forms.Form):
    """A part of a piece."""

    part = forms.ChoiceField(label=_("Part"))
    name = forms.CharField(label=_("Which"), required=False, max_length=300)
    original = forms.BooleanField(label=_("The original one"), required=False)
    fitted_on = forms.DateField(
        label=_("Fitted on"), required=False, widget=forms.DateInput({"type": "date"})
    )

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["part"].choices = [(p.id, p.name) for p in part_list()]  # type: ignore[attr-defined]  # a choice field


@require_http_methods(["GET", "POST"])
def stock(request: HttpRequest) -> HttpResponse:
    """Show the drawer and the shopping list; take in a new line."""
    form = ItemForm(request.POST or None)
    if request.method == "POST" and form.is_valid():
        try:
            services.add_stock_item(token=fields.form_token(request), **form.cleaned_data)
        except InputError as problem:
            form.add_error(None, str(problem))
        else:
            return redirect("stock")
    used = where_used()
    context = {
        "items": [
            (item, used.get(as_workshop_item(item).key, [])[:MOST_NAMED])
            for item in StockItem.objects.all()
        ],
        "needs": queries.open_needs(),
        "shopping": queries.to_buy(),
        "lives": queries.part_lives(),
        "form": form,
    }
    return render(request, "stock/stock.html", context, status=400 if form.errors else 200)


@require_safe
def shopping(request: HttpRequest) -> HttpResponse:
    """Show the shopping list alone, to take along."""
    return render(request, "stock/shopping.html", {"shopping": queries.to_buy()})


@require_POST
def count(request: HttpRequest, pk: int) -> HttpResponse:
    """Take one, put one in, count again, or take the line off."""
    item = lookup.one(StockItem.objects.all(), pk)
    what = request.POST.get("what", "")
    if what == "take":
        services.take_from_stock(item=item)
    elif what == "remove":
        services.remove_stock_item(item=item)
    else:
        counted = fields.number_or_none(request.POST.get("in_stock", ""), str(_("In stock")))
        least = fields.number_or_none(request.POST.get("keep_at_least", ""), str(_("Keep")))
        services.change_stock_item(
            item=item,
            in_stock=item.in_stock if counted is None else counted,
            keep_at_least=item.keep_at_least if least is None else least,
            place=request.POST.get("place", item.place)[:300],
        )
    return redirect("stock")


@require_POST
def need_new(request: HttpRequest, pk: int) -> HttpResponse:
    """Note that a job needs something."""
    card = lookup.job(pk)
    amount = fields.number_or_none(request.POST.get("amount", ""), str(_("How many")))
    services.add_need(
        card=card,
        name=request.POST.get("name", "").strip()[:300],
        size=request.POST.get("size", "").strip()[:300],
        amount=1.0 if amount is None else amount,
        token=fields.form_token(request),
    )
    return redirect(f"{_job(pk)}#needs")


@require_POST
def need(request: HttpRequest, pk: int) -> HttpResponse:
    """Take what a job needs out of the drawer, or take the line off."""
    wanted = lookup.one(JobNeed.objects.select_related("card"), pk)
    if request.POST.get("what") == "remove":
        services.remove_need(need=wanted)
    else:
        services.take_need(need=wanted)
    return redirect(f"{_job(wanted.card.pk)}#needs")


@require_http_methods(["GET", "POST"])
def fitted(request: HttpRequest, pk: int) -> HttpResponse:
    """Show the parts of a piece: what is in it, and what came out and is kept."""
    piece = lookup.piece(pk)
    form = FittedForm(request.POST or None)
    if request.method == "POST" and form.is_valid():
        services.fit_part(piece=piece, token=fields.form_token(request), **form.cleaned_data)
        return redirect("fitted", pk)
    rows = list(piece.fitted_parts.all())
    context = {
        "piece": piece,
        "present": [r for r in rows if not r.removed_on],
        "out": [r for r in rows if r.removed_on],
        "names": {p.id: p.name for p in part_list()},
        "form": form,
    }
    return render(request, "stock/fitted.html", context, status=400 if form.errors else 200)


@require_POST
def take_out(request: HttpRequest, pk: int) -> HttpResponse:
    """Note that a part came out, or take a line off that was a slip."""
    row = lookup.one(FittedPart.objects.select_related("piece"), pk)
    piece = row.piece
    if request.POST.get("what") == "remove":
        services.remove_fitted(fitted=row)
    else:
        services.take_part_out(
            fitted=row,
            failed=request.POST.get("failed") == "yes",
            kept_in=request.POST.get("kept_in", "").strip()[:300],
        )
    return redirect("fitted", piece.pk)


def _job(pk: int) -> str:
    return reverse("job", args=[pk])


urlpatterns = [
    path("parts/", stock, name="stock"),
    path("parts/shopping/", shopping, name="shopping"),
    path("parts/<int:pk>/", count, name="stock_count"),
    path("job/<int:pk>/need/", need_new, name="need_new"),
    path("need/<int:pk>/", need, name="need"),
    path("piece/<int:pk>/parts/", fitted, name="fitted"),
    path("fitted/<int:pk>/", take_out, name="fitted_out"),
]
