"""Fill an empty collection with the invented one, through the same services as the pages."""

import io
from collections.abc import Callable
from datetime import timedelta
from typing import Any

from django.utils import timezone

from outshop.demo import layout, pictures, story
from outshop.demo.scenario import scenario
from outshop.records import services
from outshop.records.models import Edition, Piece, Prototype

PIECE_FIELDS = (
    "name", "road_number", "kind", "state", "scale", "arrangement", "length_mm", "mass_g",
    "shows", "place", "notes",
)  # fmt: skip


def build(say: Callable[[str], None] = print) -> None:
    """Build the whole collection; measuring is done by the real benches.

    Parameters
    ----------
    say : callable
        Is told what is being done.
    """
    say("Building the demo collection; all of it is invented.")
    data = scenario()
    editions = {row["key"]: _edition(row) for row in data["edition"]}
    prototypes = {row["key"]: _prototype(row) for row in data["prototype"]}
    pieces = {row["key"]: _piece(row, editions, prototypes) for row in data["piece"]}
    say("Recording, inspecting and mending the tank engine.")
    story.tank_engine(pieces["heron"])
    story.evidence(pieces["heron"], data["evidence"])
    say("Putting the railcar on the bench.")
    story.railcar(pieces["railcar"])
    story.shunter(pieces["shunter"])
    story.market(editions["uplands-tank"], data["lot"], data["sale"])
    story.values(pieces["heron"], pieces["railcar"])
    say("Making up the trains.")
    laid = layout.line(data["line"])
    layout.vehicles(data["vehicle"], pieces)
    layout.trains(data["train"], laid, pieces)


def _edition(row: dict[str, Any]) -> Edition:
    return services.add_edition(**{k: v for k, v in row.items() if k != "key"})


def _prototype(row: dict[str, Any]) -> Prototype:
    fields = {k: v for k, v in row.items() if k not in ("key", "events")}
    prototype = services.add_prototype(**fields)
    for event in row["events"]:
        services.add_life_event(prototype=prototype, source="invented", **event)
    return prototype


def _piece(
    row: dict[str, Any], editions: dict[str, Edition], prototypes: dict[str, Prototype]
) -> Piece:
    edition = editions.get(row.get("edition", ""))
    fields = {k: row[k] for k in PIECE_FIELDS if k in row}
    if edition:
        fields |= {"length_mm": edition.length_mm, "mass_g": edition.mass_g}
    piece = services.add_piece(
        edition=edition,
        prototype=prototypes.get(row.get("prototype", "")),
        arrived_on=timezone.localdate() - timedelta(days=12),
        **fields,
    )
    picture = pictures.side_view(row, piece.known_arrangement, piece.length_mm or 90.0)
    services.add_photo(
        piece=piece,
        source=io.BytesIO(picture),
        name=f"{row['key']}.jpg",
        caption="drawn for the demo",
    )
    return piece
