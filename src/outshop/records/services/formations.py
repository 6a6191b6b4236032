"""Lines, vehicles on the shelf, and made-up trains."""

from collections.abc import Mapping, Sequence
from typing import Any

from outshop.errors import InputError
from outshop.formation.joints import turning
from outshop.formation.kinds import family
from outshop.formation.recipes import read_recipe, shipped
from outshop.records.models import (
    Formation,
    FormationDemand,
    FormationPlace,
    Line,
    LineSection,
    Piece,
    ShelfVehicle,
    TrainRecipe,
)
from outshop.records.queries.formations import as_vehicle

from .pieces import add_piece
from .saving import add, change, once, remove, use_case


@use_case
def add_line(*, token: str = "", **fields: Any) -> Line:
    """Keep a new line."""
    return once(token=token, model=Line, make=lambda: add(Line(**fields)))


@use_case
def change_line(*, line: Line, version: int | None = None, **fields: Any) -> Line:
    """Change what is said of a line."""
    return change(line, version=version, fields=fields)


@use_case
def set_sections(*, line: Line, sections: Sequence[Mapping[str, Any]]) -> list[LineSection]:
    """Make these a line's sections, in order; those that stay as they are are not touched.

    Raises
    ------
    InputError
        A section has no length, or a figure that no line can have.
    """
    kept = list(line.sections.all())
    fresh = [LineSection(line=line, position=n, **row) for n, row in enumerate(sections)]
    old, new = [_plain(s) for s in kept], [_plain(s) for s in fresh]
    head = _alike(old, new)
    tail = _alike(old[head:][::-1], new[head:][::-1])
    for row in kept[head : len(kept) - tail]:
        row.delete()
    for position, row in enumerate(kept[len(kept) - tail :], len(fresh) - tail):
        LineSection.objects.filter(pk=row.pk).update(position=position)
    for row in fresh[head : len(fresh) - tail]:
        add(row)
    return list(line.sections.all())


def _plain(section: LineSection) -> tuple[Any, ...]:
    names = ("length_mm", "grade_permille", "radius_mm", "side", "place", "name")
    return tuple(getattr(section, name) for name in names)


def _alike(one: Sequence[Any], other: Sequence[Any]) -> int:
    """Count how many are the same from the beginning."""
    pairs = enumerate(zip(one, other, strict=False))
    return next((n for n, (a, b) in pairs if a != b), min(len(one), len(other)))


@use_case
def remove_line(*, line: Line) -> None:
    """Take a line away that no train runs on.

    Raises
    ------
    InputError
        Trains are made up for it.
    """
    if line.formations.exists():
        message = f"trains are made up for {line}; remove them first"
        raise InputError(message)
    remove(line)


@use_case
def add_vehicle(*, token: str = "", **fields: Any) -> ShelfVehicle:
    """Put a wagon or coach on the shelf."""
    return once(token=token, model=ShelfVehicle, make=lambda: add(ShelfVehicle(**fields)))


@use_case
def change_vehicle(
    *, vehicle: ShelfVehicle, version: int | None = None, **fields: Any
) -> ShelfVehicle:
    """Change what is said of a vehicle."""
    return change(vehicle, version=version, fields=fields)


@use_case
def remove_vehicle(*, vehicle: ShelfVehicle) -> None:
    """Take a vehicle off the shelf, and out of every train."""
    remove(vehicle)


@use_case
def add_formation(*, token: str = "", **fields: Any) -> Formation:
    """Keep a new train, still without vehicles."""
    return once(token=token, model=Formation, make=lambda: add(Formation(**fields)))


@use_case
def change_formation(
    *, formation: Formation, version: int | None = None, **fields: Any
) -> Formation:
    """Change the engine's figures or the wish."""
    return change(formation, version=version, fields=fields)


@use_case
def set_train(
    *,
    formation: Formation,
    vehicles: Sequence[ShelfVehicle],
    turned: Sequence[bool] | None = None,
) -> None:
    """Put these vehicles behind the engine, in this order.

    Parameters
    ----------
    formation : Formation
        The train.
    vehicles : sequence of ShelfVehicle
        From the engine backwards.
    turned : sequence of bool, optional
        Which stand the other way round; by default as the couplings need it.

    Raises
    ------
    InputError
        One stands in it twice.
    """
    keys = [v.pk for v in vehicles]
    if len(set(keys)) < len(keys):
        message = "a vehicle cannot stand in one train twice"
        raise InputError(message)
    if turned is None:
        rear = formation.rear
        turned = turning(rear, [as_vehicle(v) for v in vehicles]) or (False,) * len(vehicles)
    formation.places.all().delete()
    for position, (vehicle, back_first) in enumerate(zip(vehicles, turned, strict=True)):
        add(FormationPlace(formation=formation, vehicle=vehicle, position=position,
                           turned=back_first))  # fmt: skip


@use_case
def set_demands(*, formation: Formation, demands: Mapping[int, str]) -> None:
    """Write anew which vehicles must be in a train and which must not, by their keys."""
    formation.demands.all().delete()
    for vehicle in ShelfVehicle.objects.filter(pk__in=[k for k, d in demands.items() if d]):
        add(FormationDemand(formation=formation, vehicle=vehicle, demand=demands[vehicle.pk]))


@use_case
def set_demand(*, formation: Formation, vehicle: ShelfVehicle, demand: str) -> None:
    """Say that a vehicle must be in a train or must not; an empty demand lets it be."""
    formation.demands.filter(vehicle=vehicle).delete()
    if demand:
        add(FormationDemand(formation=formation, vehicle=vehicle, demand=demand))


@use_case
def set_timetable(*, trains: Sequence[tuple[Formation, Sequence[ShelfVehicle]]]) -> None:
    """Put vehicles behind several engines at once.

    Raises
    ------
    InputError
        One stands in two of the trains.
    """
    keys = [v.pk for _, vehicles in trains for v in vehicles]
    if len(set(keys)) < len(keys):
        message = "a vehicle cannot stand in two trains of one timetable"
        raise InputError(message)
    for formation, vehicles in trains:
        set_train(formation=formation, vehicles=vehicles)


@use_case
def want_vehicle(*, formation: Formation, kind: str, name: str, token: str = "") -> Piece:
    """Put a kind of vehicle that a train lacks on the wish list, under a name in words."""
    return add_piece(
        token=token,
        name=name,
        kind=Piece.Kind.COACH if family(kind) == "coach" else Piece.Kind.WAGON,
        state=Piece.State.WANTED,
        scale=formation.piece.known_scale if formation.piece else "",
        shows=str(formation.year) if formation.year else "",
        notes=f"Would make {formation} a better train.",
    )


@use_case
def remove_formation(*, formation: Formation) -> None:
    """Take a train apart."""
    remove(formation)


@use_case
def keep_recipe(*, text: str, instead_of: TrainRecipe | None = None) -> TrainRecipe:
    """Check a recipe and keep it.

    Parameters
    ----------
    text : str
        TOML, as in the folder of shipped recipes.
    instead_of : TrainRecipe, optional
        The one that was opened to be changed.

    Raises
    ------
    KnowledgeError
        Something in it cannot be used; the sentence names the rule.
    InputError
        Its id is that of a recipe that comes with Outshop, or of another one.
    """
    recipe = read_recipe(text)
    if recipe.id in shipped():
        message = f"{recipe.id!r} comes with Outshop: give your recipe an id of its own"
        raise InputError(message)
    known = TrainRecipe.objects.filter(key=recipe.id).first()
    if instead_of is None and known is None:
        return add(TrainRecipe(key=recipe.id, text=text))
    if instead_of is None or (known is not None and known != instead_of):
        message = f"you have a recipe {recipe.id!r} already: change that one, or choose another id"
        raise InputError(message)
    if instead_of.key != recipe.id:
        Formation.objects.filter(recipe=instead_of.key).update(recipe=recipe.id)
    return change(instead_of, version=None, fields={"key": recipe.id, "text": text})


@use_case
def remove_recipe(*, recipe: TrainRecipe) -> None:
    """Take a recipe away that no train follows.

    Raises
    ------
    InputError
        Trains follow it.
    """
    users = Formation.objects.filter(recipe=recipe.key)
    if users.exists():
        message = f"{users[0]} follows {recipe}: choose another kind of train for it first"
        raise InputError(message)
    remove(recipe)
