"""The invented home layout: its line, the vehicles on the shelf, the trains made up from them."""

from typing import Any

from outshop.formation.compose import compose
from outshop.records.models import Formation, Line, Piece, ShelfVehicle
from outshop.records.queries import formations as queries
from outshop.records.services import formations as services

COUPLING = "loop"
THINKING_S = 2.0  # so small a shelf is done far sooner


def line(row: dict[str, Any]) -> Line:
    """Lay the line, section by section."""
    laid = services.add_line(**{k: v for k, v in row.items() if k != "sections"})
    services.set_sections(line=laid, sections=row["sections"])
    return laid


def vehicles(rows: list[dict[str, Any]], pieces: dict[str, Piece]) -> list[ShelfVehicle]:
    """Put the vehicles on the shelf, those of the collection with its names and measures."""
    return [_vehicle(row, pieces) for row in rows]


def trains(rows: list[dict[str, Any]], laid: Line, pieces: dict[str, Piece]) -> list[Formation]:
    """Make the trains up one after the other with the solver, none sharing a vehicle."""
    made: list[Formation] = []
    for row in rows:
        piece = pieces[row["piece"]]
        fields = {k: v for k, v in row.items() if k not in ("piece", "leaves")}
        formation = services.add_formation(
            line=laid,
            piece=piece,
            engine_length_mm=piece.length_mm,
            engine_mass_g=piece.mass_g,
            rear=COUPLING,
            **fields,
        )
        free = ShelfVehicle.objects.exclude(places__formation__in=made)
        free = free.exclude(name__in=row.get("leaves", []))
        asked = queries.scene_of(formation, list(free))
        best = compose(asked, "believable", seconds=THINKING_S).trains[0]
        shelf = {v.name: v for v in free}
        services.set_train(
            formation=formation,
            vehicles=[shelf[v.name] for v in best.vehicles],
            turned=best.turned,
        )
        made.append(formation)
    return made


def _vehicle(row: dict[str, Any], pieces: dict[str, Piece]) -> ShelfVehicle:
    fields = {"front": COUPLING, "rear": COUPLING, **row}
    if "piece" in row:
        piece = pieces[row["piece"]]
        fields |= {
            "piece": piece,
            "name": str(piece),
            "length_mm": piece.length_mm,
            "mass_g": piece.mass_g,
        }
    return services.add_vehicle(**fields)
