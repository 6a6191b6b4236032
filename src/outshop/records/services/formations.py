"""Lines, vehicles on the shelf, and made-up trains."""

from collections.abc import Mapping, Sequence
from typing import Any

from outshop.errors import InputError
from outshop.formation.kinds import family
from outshop.records.models import (
    Formation,
    FormationDemand,
    FormationPlace,
    Line,
    LineSection,
    Piece,
    ShelfVehicle,
)

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
    """Write a line's sections anew, in order.

    Raises
    ------
    InputError
        A section has no length, or a figure that no line can have.
    """
    line.sections.all().delete()
    rows = [LineSection(line=line, position=n, **row) for n, row in enumerate(sections)]
    return [add(row) for row in rows]


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
def set_train(*, formation: Formation, vehicles: Sequence[ShelfVehicle]) -> None:
    """Put these vehicles behind the engine, in this order.

    Raises
    ------
    InputError
        One stands in it twice.
    """
    keys = [v.pk for v in vehicles]
    if len(set(keys)) < len(keys):
        message = "a vehicle cannot stand in one train twice"
        raise InputError(message)
    formation.places.all().delete()
    for position, vehicle in enumerate(vehicles):
        add(FormationPlace(formation=formation, vehicle=vehicle, position=position))


@use_case
def set_demands(*, formation: Formation, demands: Mapping[int, str]) -> None:
    """Write anew which vehicles must be in a train and which must not, by their keys."""
    formation.demands.all().delete()
    for vehicle in ShelfVehicle.objects.filter(pk__in=[k for k, d in demands.items() if d]):
        add(FormationDemand(formation=formation, vehicle=vehicle, demand=demands[vehicle.pk]))


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
