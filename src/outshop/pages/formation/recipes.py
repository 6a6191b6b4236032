"""Kinds of trains: those that come with Outshop, and a person's own, written without Python."""

from dataclasses import dataclass

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods, require_safe

from outshop.errors import InputError, MissingError
from outshop.formation.kinds import kinds
from outshop.formation.recipes import PLACES, TESTS, Recipe, read_recipe, shipped, source_of
from outshop.pages import lookup
from outshop.pages.formation.kind_names import GROUPS
from outshop.pages.formation.recipe_form import RecipeForm, as_toml
from outshop.records.models import TrainRecipe
from outshop.records.services import formations as services

LARGEST = 200_000  # letters of a recipe; the longest shipped one has some thousands


@dataclass(frozen=True, slots=True)
class Kept:
    """A person's recipe as the list shows it; ``wrong`` says why it no longer reads."""

    record: TrainRecipe
    recipe: Recipe | None
    wrong: str


@require_safe
def recipes(request: HttpRequest) -> HttpResponse:
    """List the kinds of trains."""
    own = [_kept(record) for record in TrainRecipe.objects.all()]
    come = [r for r in shipped().values() if r.id != "general"]
    return render(request, "formation/recipes.html", {"own": own, "shipped": come})


@require_http_methods(["GET", "POST"])
def new(request: HttpRequest) -> HttpResponse:
    """Write a recipe: by a form, from a copy of another, from a file, or from nothing."""
    form = RecipeForm(request.POST if request.POST.get("what") == "form" else None)
    if form.is_bound and form.is_valid():
        return _kept_or_shown(request, as_toml(form.cleaned_data), form=form)
    if request.method == "POST" and not form.is_bound:
        return _kept_or_shown(request, _sent(request), form=form)
    text = ""
    if (copied := request.GET.get("from", "")) in shipped():
        text = source_of(copied).replace(f'id = "{copied}"', f'id = "my-{copied}"', 1)
    return _page(request, text=text, form=form, status=400 if form.errors else 200)


@require_http_methods(["GET", "POST"])
def recipe(request: HttpRequest, pk: int) -> HttpResponse:
    """Show a person's recipe in words and as written; take in a change or its removal."""
    record = lookup.one(TrainRecipe.objects.all(), pk)
    if request.POST.get("what") == "remove":
        services.remove_recipe(recipe=record)
        return redirect("recipes")
    if request.method == "POST":
        return _kept_or_shown(request, _sent(request), record=record)
    return _page(request, text=record.text, record=record)


@require_safe
def shipped_one(request: HttpRequest, key: str) -> HttpResponse:
    """Show a recipe that comes with Outshop, in words."""
    if key not in shipped():
        raise MissingError(_("There is no kind of train %(key)r.") % {"key": key})
    return render(request, "formation/recipe_shipped.html", {"recipe": shipped()[key]})


def _kept_or_shown(
    request: HttpRequest,
    text: str,
    *,
    record: TrainRecipe | None = None,
    form: RecipeForm | None = None,
) -> HttpResponse:
    try:
        kept = services.keep_recipe(text=text, instead_of=record)
    except InputError as problem:
        return _page(request, text=text, record=record, form=form, wrong=str(problem), status=400)
    messages.success(request, _("Kept. Trains can follow it now."))
    return redirect("recipe", kept.pk)


def _page(
    request: HttpRequest,
    *,
    text: str,
    record: TrainRecipe | None = None,
    form: RecipeForm | None = None,
    wrong: str = "",
    status: int = 200,
) -> HttpResponse:
    kept = _kept(record) if record else None
    context = {
        "record": record,
        "recipe": kept.recipe if kept else None,
        "text": text,
        "wrong": wrong or (kept.wrong if kept else ""),
        "form": form,
        "kinds": list(kinds()),
        "groups": list(GROUPS),
        "tests": [(name, sorted(must), sorted(may)) for name, (must, may) in TESTS.items()],
        "places": PLACES,
        "shipped": [r for r in shipped().values() if r.id != "general"],
    }
    return render(request, "formation/recipe.html", context, status=status)


def _sent(request: HttpRequest) -> str:
    """Give the text that was typed, or that of the file that was sent."""
    file = request.FILES.get("file")
    if file is None:
        text = request.POST.get("text", "")
    else:
        if file.size and file.size > LARGEST:
            raise InputError(_("That file is too large for a recipe."))
        try:
            text = file.read().decode("utf-8-sig")
        except UnicodeDecodeError:
            raise InputError(_("That file is no text: a recipe is a text file (TOML).")) from None
    if len(text) > LARGEST:
        raise InputError(_("That is too long for a recipe."))
    return text.replace("\r\n", "\n")


def _kept(record: TrainRecipe) -> Kept:
    try:
        return Kept(record, read_recipe(record.text), "")
    except InputError as problem:
        return Kept(record, None, str(problem))
