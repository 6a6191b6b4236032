"""The invented home layout: its line, the vehicles on the shelf, and one made-up train."""

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


def train(row: dict[str, Any], laid: Line, piece: Piece) -> Formation:
    """Make up the train with the solver, as the page does."""
    fields = {k: v for k, v in row.items() if k != "piece"}
    made = services.add_formation(
        line=laid,
        piece=piece,
        engine_length_mm=piece.length_mm,
        engine_mass_g=piece.mass_g,
        rear=COUPLING,
        **fields,
    )
    best = compose(queries.scene_of(made), "believable", seconds=THINKING_S).trains[0]
    shelf = {v.name: v for v in ShelfVehicle.objects.all()}
    services.set_train(formation=made, vehicles=[shelf[v.name] for v in best.vehicles])
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
