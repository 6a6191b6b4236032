"""What was changed on a piece, and when."""

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.urls import path
from django.views.decorators.http import require_safe

from outshop.pages import lookup
from outshop.records import queries

SHOWN = 300  # latest changes on one page


@require_safe
def history(request: HttpRequest, pk: int) -> HttpResponse:
    """List the latest changes of a piece and of all that hangs on it."""
    piece = lookup.piece(pk)
    entries = list(queries.history(piece, SHOWN))
    context = {"piece": piece, "entries": entries, "cut": len(entries) == SHOWN}
    return render(request, "history/history.html", context)


urlpatterns = [path("piece/<int:pk>/history/", history, name="history")]
