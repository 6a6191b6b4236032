"""Lines, vehicles and trains as the formation room reads them."""

from collections.abc import Sequence

from outshop.formation.scene import (
    CURVE_CONSTANT,
    Locomotive,
    Range,
    Scene,
    Section,
    Vehicle,
    Wish,
)
from outshop.records.models import Formation, Line, ShelfVehicle


def sections_of(line: Line) -> tuple[Section, ...]:
    """Give a line's sections in running order."""
    return tuple(
        Section(s.length_mm, s.grade_permille, s.radius_mm, s.name) for s in line.sections.all()
    )


def as_vehicle(kept: ShelfVehicle) -> Vehicle:
    """Give a vehicle as the formation room knows it."""
    rolling = kept.rolling_permille
    return Vehicle(
        name=kept.name,
        length_mm=kept.length_mm,
        mass_g=kept.mass_g,
        kind=kept.kind,
        years=kept.years,
        rolling=None if rolling is None else Range(rolling, rolling, rolling),
        min_radius_mm=kept.min_radius_mm,
        couplings=(kept.front, kept.rear),
        axles=kept.axles,
        country=kept.country,
        dangerous=kept.dangerous,
        current_a=kept.current_a,
    )


def train_of(formation: Formation) -> list[ShelfVehicle]:
    """Give the vehicles behind the engine, in order."""
    return [place.vehicle for place in formation.places.select_related("vehicle")]


def scene_of(formation: Formation, shelf: Sequence[ShelfVehicle] | None = None) -> Scene:
    """Give the whole question of a formation, with the whole shelf by default."""
    line = formation.line
    vehicles = ShelfVehicle.objects.all() if shelf is None else shelf
    return Scene(
        line=sections_of(line),
        locomotive=Locomotive(
            length_mm=formation.engine_length_mm,
            mass_g=formation.engine_mass_g,
            pull_g=formation.pull_g,
            low_g=formation.low_g,
            high_g=formation.high_g,
            min_radius_mm=formation.engine_min_radius_mm,
            couplings=(formation.rear, formation.rear),
            name=formation.piece.name if formation.piece else formation.name,
        ),
        vehicles=tuple(as_vehicle(v) for v in vehicles),
        wish=Wish(
            year=formation.year,
            recipe=formation.recipe or None,
            loop_mm=line.loop_mm,
            country=formation.country,
        ),
        curve_constant=CURVE_CONSTANT if line.curve_constant is None else line.curve_constant,
        supply_a=line.supply_a,
    )
