"""The shelf: find, filter and order pieces."""

from django import forms
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.urls import path
from django.utils.translation import gettext_lazy as _
from django.views.decorators.http import require_safe

from outshop.pages import fields
from outshop.records import queries
from outshop.records.models import Piece

SORT_NAMES = {
    "name": _("by name"),
    "newest": _("newest first"),
    "changed": _("last changed first"),
    "state": _("by state"),
    "scale": _("by scale"),
    "arrived": _("last arrived first"),
}


class FindForm(forms.Form):
    """What to look for; every field may be empty."""

    q = forms.CharField(required=False, widget=forms.TextInput(attrs={"type": "search"}))
    state = forms.ChoiceField(required=False, choices=[("", _("any state")), *Piece.State.choices])
    kind = forms.ChoiceField(required=False, choices=[("", _("any kind")), *Piece.Kind.choices])
    sort = forms.ChoiceField(required=False, choices=list(SORT_NAMES.items()))


@require_safe
def shelf(request: HttpRequest) -> HttpResponse:
    """List the pieces that fit; an unknown filter counts as none."""
    form = FindForm(request.GET)
    form.is_valid()
    wanted = form.cleaned_data
    number = request.GET.get("page", "")
    page = queries.shelf(
        search=wanted.get("q", ""),
        state=wanted.get("state", ""),
        kind=wanted.get("kind", ""),
        sort=wanted.get("sort") or "name",
        page=int(number) if number.isdecimal() and len(number) < 10 else 1,
    )
    asked = any(wanted.get(name) for name in ("q", "state", "kind"))
    context = {"form": form, "page": page, "asked": asked}
    template = "shelf/_found.html" if fields.wants_part(request) else "shelf/shelf.html"
    return render(request, template, context)


urlpatterns = [path("shelf/", shelf, name="shelf")]
