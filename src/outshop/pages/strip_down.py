"""Strip-down: what to take off to reach a part, in order; the plan behind it; bag labels."""

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any

from django import forms
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import path, reverse
from django.utils.text import slugify
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from outshop.errors import InputError
from outshop.pages import lookup
from outshop.pages.fields import NumberField
from outshop.records import queries, services
from outshop.records.models import Photo, Piece
from outshop.reports import labels
from outshop.workshop import cautions
from outshop.workshop.cautions import Caution
from outshop.workshop.parts import all_parts
from outshop.workshop.plans import all_plans
from outshop.workshop.strip_down import Removal, StripDown, StripPlan, goals_for, least_opening

PHOTOS = 4  # earlier photos shown at a removal


class RemovalForm(forms.Form):
    """Something that comes off."""

    title = forms.CharField(label=gettext_lazy("What comes off"), max_length=200)
    text = forms.CharField(
        label=gettext_lazy("How"), required=False, max_length=2000, widget=forms.Textarea
    )
    back_title = forms.CharField(
        label=gettext_lazy("And goes back: what"), required=False, max_length=200
    )
    back_text = forms.CharField(
        label=gettext_lazy("How it goes back"), required=False, max_length=2000,
        widget=forms.Textarea,
    )  # fmt: skip
    fastening = forms.CharField(label=gettext_lazy("Held by"), required=False, max_length=200)
    remember = forms.CharField(
        label=gettext_lazy("To remember"), required=False, max_length=500,
        help_text=gettext_lazy("Screw length and place, wire, polarity, rod side, crank position."),
    )  # fmt: skip
    minutes = NumberField(label=gettext_lazy("Minutes"), min_value=0, max_value=1440)
    late = forms.BooleanField(
        label=gettext_lazy("Goes back only after the function test"), required=False
    )
    first = forms.MultipleChoiceField(
        label=gettext_lazy("Must be off before"),
        required=False,
        widget=forms.CheckboxSelectMultiple,
    )
    instead = forms.MultipleChoiceField(
        label=gettext_lazy("Or, another way, these"), required=False,
        widget=forms.CheckboxSelectMultiple,
    )  # fmt: skip
    reaches = forms.MultipleChoiceField(
        label=gettext_lazy("Lays open"), required=False, widget=forms.CheckboxSelectMultiple
    )

    def __init__(self, plan: StripPlan, name: str, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        others = [(r.id, r.title) for r in plan.removals if r.id != name]
        for field in ("first", "instead"):
            self.fields[field].choices = others  # type: ignore[attr-defined]  # a choice field
        names = [(p.id, p.name) for p in all_parts()]
        self.fields["reaches"].choices = [("chassis", _("Works without body")), *names]  # type: ignore[attr-defined]  # a choice field


@dataclass(frozen=True, slots=True)
class OffLine:
    """A removal as the page shows it."""

    number: int
    removal: Removal
    cautions: tuple[Caution, ...]
    photos: tuple[Photo, ...]


@require_safe
def show(request: HttpRequest, pk: int) -> HttpResponse:
    """Choose the parts to reach; show the least opening for them."""
    piece = lookup.piece(pk)
    plan = services.plan_of(piece)
    chosen = [p for p in request.GET.getlist("part") if p in plan.reach]
    opening = _opening(piece, plan, chosen)
    photos = _photos(piece, opening.removals) if opening else {}
    context = {
        "piece": piece,
        "plan": plan,
        "kept": services.kept_plan(piece),
        "reachable": _reachable(plan),
        "chosen": chosen,
        "opening": opening,
        "lines": [
            OffLine(n, r, cautions.cautions_for(r.cautions), photos.get(r.id, ()))
            for n, r in enumerate(opening.removals, start=1)
        ]
        if opening
        else [],
        "constructions": [(key, known.name) for key, known in all_plans().items()],
        "construction": services.usual_construction(piece),
        "query": request.GET.urlencode(),
        "titles": {r.id: r.title for r in plan.removals},
    }
    return render(request, "strip/strip.html", context)


@require_POST
def construction(request: HttpRequest, pk: int) -> HttpResponse:
    """Begin the plan anew from a construction."""
    name = request.POST.get("construction", "")
    services.choose_construction(piece=lookup.piece(pk), construction=name)
    return redirect(f"{reverse('strip_down', args=[pk])}#plan")


@require_http_methods(["GET", "POST"])
def removal(request: HttpRequest, pk: int, name: str = "") -> HttpResponse:
    """Add a removal to the plan, or change one."""
    piece = lookup.piece(pk)
    plan = services.plan_of(piece)
    present = plan.removal(name) if name else None
    form = RemovalForm(plan, name, request.POST or None, initial=_initial(plan, present))
    if request.method == "POST" and form.is_valid():
        try:
            fresh = _removal(form.cleaned_data, plan, present)
            reaches = tuple(form.cleaned_data["reaches"])
            services.save_removal(piece=piece, removal=fresh, reaches=reaches)
        except InputError as problem:
            form.add_error(None, str(problem))
        else:
            return redirect(f"{reverse('strip_down', args=[pk])}#plan")
    context = {"piece": piece, "form": form, "removal": present}
    return render(request, "strip/removal.html", context, status=400 if form.errors else 200)


@require_POST
def drop(_request: HttpRequest, pk: int, name: str) -> HttpResponse:
    """Take a removal out of the plan."""
    services.drop_removal(piece=lookup.piece(pk), name=name)
    return redirect(f"{reverse('strip_down', args=[pk])}#plan")


@require_safe
def bag_labels(request: HttpRequest, pk: int) -> HttpResponse:
    """Give labels for the bags of what comes off, as PDF."""
    piece = lookup.piece(pk)
    plan = services.plan_of(piece)
    opening = _opening(piece, plan, [p for p in request.GET.getlist("part") if p in plan.reach])
    removals = [r for r in (opening.removals if opening else plan.removals) if r.bag]
    address = request.build_absolute_uri(reverse("strip_down", args=[pk]))
    sheet = [
        labels.Label(
            f"{number}. {r.title}",
            (str(piece), r.fastening, r.remember),
            f"{address}?{request.GET.urlencode()}#{r.id}",
        )
        for number, r in enumerate(removals, start=1)
    ]
    answer = HttpResponse(
        labels.label_sheet(sheet, kind=_("Bag labels")), content_type="application/pdf"
    )
    answer["Content-Disposition"] = 'inline; filename="bag-labels.pdf"'
    return answer


def _opening(piece: Piece, plan: StripPlan, parts: Iterable[str]) -> StripDown | None:
    goals = goals_for(plan, parts)
    return least_opening(plan, goals, absent=queries.absent_parts(piece)) if goals else None


def _reachable(plan: StripPlan) -> list[tuple[str, str]]:
    names = {p.id: p.name for p in all_parts()} | {"chassis": _("Works without body")}
    return [(part, names.get(part, part)) for part, removals in plan.reach.items() if removals]


def _photos(piece: Piece, removals: Iterable[Removal]) -> dict[str, tuple[Photo, ...]]:
    """Give photos from earlier jobs at the same removal, of this piece and its edition."""
    wanted = {f"{r.id}.off": r.id for r in removals}
    found = Photo.objects.filter(step__procedure__in=list(wanted)).select_related("media", "step")
    if piece.edition_id:
        found = found.filter(piece__edition=piece.edition_id)
    else:
        found = found.filter(piece=piece)
    by_removal: dict[str, list[Photo]] = {}
    for photo in found.order_by("-pk")[:200]:
        if photo.step:
            by_removal.setdefault(wanted[photo.step.procedure], []).append(photo)
    return {name: tuple(photos[:PHOTOS]) for name, photos in by_removal.items()}


def _initial(plan: StripPlan, present: Removal | None) -> dict[str, Any]:
    if present is None:
        return {"minutes": "5"}
    plain = ("title", "text", "back_title", "back_text", "fastening", "remember", "late")
    ways = [list(way) for way in present.ways] or [[]]
    return {name: getattr(present, name) for name in plain} | {
        "minutes": f"{present.minutes:g}",
        "first": ways[0],
        "instead": ways[1] if len(ways) > 1 else [],
        "reaches": [part for part, names in plan.reach.items() if present.id in names],
    }


def _removal(typed: dict[str, Any], plan: StripPlan, present: Removal | None) -> Removal:
    """Make the removal that was typed; what the form does not show is kept."""
    plain = {key: typed[key] for key in typed if key not in ("first", "instead", "reaches")}
    ways = [tuple(typed["first"])]
    if typed["instead"]:
        ways.append(tuple(typed["instead"]))
    ways += (present.ways if present else ())[2:]
    if ways == [()]:
        ways = []
    base = present or Removal(_fresh_key(typed["title"], plan), typed["title"])
    kept = {
        key: getattr(base, key) for key in ("id", "tools", "cautions", "part", "never_with", "bag")
    }
    return Removal(**plain, **kept, ways=tuple(ways))


def _fresh_key(title: str, plan: StripPlan) -> str:
    key = slugify(title)[:40] or "removal"
    taken = {r.id for r in plan.removals}
    return next(n for n in (key, *(f"{key}-{i}" for i in range(2, 1000))) if n not in taken)


urlpatterns = [
    path("piece/<int:pk>/strip-down/", show, name="strip_down"),
    path("piece/<int:pk>/strip-down/construction/", construction, name="strip_construction"),
    path("piece/<int:pk>/strip-down/labels.pdf", bag_labels, name="bag_labels"),
    path("piece/<int:pk>/strip-down/new/", removal, name="removal_new"),
    path("piece/<int:pk>/strip-down/<slug:name>/", removal, name="removal"),
    path("piece/<int:pk>/strip-down/<slug:name>/drop/", drop, name="removal_drop"),
]
