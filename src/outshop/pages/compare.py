"""The before and after sheet."""

from typing import Any

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.urls import path
from django.utils.translation import gettext as _
from django.views.decorators.http import require_safe

from outshop.pages import comparing, lookup
from outshop.records import queries
from outshop.records.models import Recording


@require_safe
def show(request: HttpRequest, pk: int) -> HttpResponse:
    """Show two recordings side by side: verdict first, then each quantity."""
    piece = lookup.piece(pk)
    done = list(piece.recordings.filter(status=Recording.Status.DONE).select_related("media"))
    before, after = queries.before_and_after(piece)
    before = _asked(request, "before", done) or before
    after = _asked(request, "after", done) or after
    comparison = comparing.shown(before, after) if before and after else None
    context: dict[str, Any] = {
        "piece": piece,
        "before": before,
        "after": after,
        "comparison": comparison,
        "charted": comparing.with_charts(comparison.main) if comparison else [],
        "details": comparing.with_charts(comparison.details) if comparison else [],
        "spectrum": _spectrum(comparison, before, after),
        "untold": comparison.untold if comparison else [],
        "choices": done if len(done) > 1 else [],
        "missing": _missing(before, after),
        "next_role": "after" if before else "before",
    }
    return render(request, "compare/compare.html", context)


def _spectrum(
    comparison: comparing.Shown | None, before: Recording | None, after: Recording | None
) -> str:
    """Draw both spectra, but only where the levels stand on one footing."""
    if comparison is None or before is None or after is None or not comparison.details:
        return ""
    return comparing.spectrum(before, after)


def _asked(request: HttpRequest, name: str, done: list[Recording]) -> Recording | None:
    wanted = request.GET.get(name, "")
    return next((r for r in done if str(r.pk) == wanted), None)


def _missing(before: Recording | None, after: Recording | None) -> str:
    if before is None and after is None:
        return _("There is no measured recording yet, neither from before the work nor from after.")
    if before is None:
        return _("There is no measured recording from before the work.")
    if after is None:
        return _("There is no measured recording from after the work yet.")
    return _("These results come from another version: measure both recordings again.")


urlpatterns = [path("piece/<int:pk>/compare/", show, name="compare")]
