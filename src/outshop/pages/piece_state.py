"""Moving a piece on in its life, and taking it off the record."""

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import path
from django.utils.functional import Promise
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy
from django.views.decorators.http import require_http_methods, require_POST

from outshop.errors import InputError
from outshop.pages import lookup
from outshop.records import services
from outshop.records.models import Piece

State = Piece.State
NEXT: dict[str, tuple[tuple[str, Promise], ...]] = {
    State.WANTED: ((State.ARRIVED, gettext_lazy("It has arrived")),),
    State.ARRIVED: (
        (State.ON_THE_BENCH, gettext_lazy("Put it on the bench")),
        (State.STORED, gettext_lazy("Store it")),
    ),
    State.ON_THE_BENCH: (
        (State.RUNNING_IN, gettext_lazy("Running in")),
        (State.IN_TRAFFIC, gettext_lazy("Put it in traffic")),
        (State.STORED, gettext_lazy("Store it")),
    ),
    State.RUNNING_IN: (
        (State.IN_TRAFFIC, gettext_lazy("Put it in traffic")),
        (State.ON_THE_BENCH, gettext_lazy("Back on the bench")),
    ),
    State.IN_TRAFFIC: (
        (State.ON_THE_BENCH, gettext_lazy("Put it on the bench")),
        (State.STORED, gettext_lazy("Store it")),
    ),
    State.STORED: (
        (State.ON_THE_BENCH, gettext_lazy("Put it on the bench")),
        (State.IN_TRAFFIC, gettext_lazy("Put it in traffic")),
    ),
}


def following(piece: Piece) -> tuple[tuple[str, Promise], ...]:
    """Give the states that usually come next, each with the words of its button."""
    return NEXT.get(piece.state, ())


@require_POST
def move(request: HttpRequest, pk: int) -> HttpResponse:
    """Move a piece on to another state."""
    state = request.POST.get("state", "")
    if state not in State.values:
        raise InputError(_("Choose one of the states of a piece."))
    piece = lookup.piece(pk)
    services.change_piece(piece=piece, state=state)
    return redirect("piece", pk)


@require_http_methods(["GET", "POST"])
def remove(request: HttpRequest, pk: int) -> HttpResponse:
    """Ask, then take a piece off the record with all that hangs on it."""
    piece = lookup.piece(pk)
    if request.method == "POST":
        if request.POST.get("sure") != "yes":
            return render(request, "piece/remove.html", _hanging(piece, unsure=True), status=400)
        name = str(piece)
        services.remove_piece(piece=piece)
        messages.success(request, _("%(name)s was taken off the record.") % {"name": name})
        return redirect("shelf")
    return render(request, "piece/remove.html", _hanging(piece))


def _hanging(piece: Piece, *, unsure: bool = False) -> dict[str, object]:
    """Count what would go with it."""
    counts = (
        (_("Photos"), piece.photos.count()),
        (_("Inspections"), piece.inspections.count()),
        (_("Recordings"), piece.recordings.count()),
        (_("Job cards"), piece.jobs.count()),
        (_("Release sheets"), piece.releases.count()),
    )
    return {"piece": piece, "counts": [c for c in counts if c[1]], "unsure": unsure}


urlpatterns = [
    path("piece/<int:pk>/state/", move, name="piece_state"),
    path("piece/<int:pk>/remove/", remove, name="piece_remove"),
]
