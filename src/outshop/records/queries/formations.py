"""Lines, vehicles and trains as the formation room reads them."""

from collections.abc import Mapping, Sequence
from itertools import groupby

from outshop.errors import KnowledgeError
from outshop.formation.recipes import Recipe, read_recipe
from outshop.formation.scene import (
    CURVE_CONSTANT,
    Locomotive,
    Prototype,
    Range,
    Scene,
    Section,
    Vehicle,
    Wish,
)
from outshop.railway.scales import scale as find_scale
from outshop.records.models import (
    Formation,
    FormationDemand,
    Line,
    LineSection,
    Measurement,
    ShelfVehicle,
    TrainRecipe,
)
from outshop.records.queries.meters import rolling_measured, running_current_measured


def sections_of(line: Line) -> tuple[Section, ...]:
    """Give a line's sections in running order."""
    return tuple(
        Section(s.length_mm, s.grade_permille, s.radius_mm, s.name) for s in line.sections.all()
    )


def room_of(line: Line, place: str) -> float | None:
    """Give the shortest loop or platform marked along a line, in mm; None when none is.

    Marked sections that follow each other are one place.
    """
    runs = groupby(line.sections.all(), key=lambda s: s.place)
    return min((sum(s.length_mm for s in run) for kind, run in runs if kind == place), default=None)


def measured_of(kept: Sequence[ShelfVehicle]) -> Mapping[int, Measurement]:
    """Give the last rolling measured at the bench for each vehicle whose piece has one."""
    rows = rolling_measured([v.piece_id for v in kept if v.piece_id])
    return {v.pk: rows[v.piece_id] for v in kept if v.piece_id in rows}


def rolling_of(kept: ShelfVehicle, measured: Measurement | None = None) -> Range | None:
    """Give a vehicle's rolling: its piece's as measured, else as typed, else None."""
    if measured and None not in (measured.value, measured.low, measured.high):
        return Range(measured.value, max(0.0, measured.low), measured.high)  # type: ignore[type-var,arg-type]  # none is None
    value, low, high = (
        kept.rolling_permille, kept.rolling_low_permille, kept.rolling_high_permille,
    )  # fmt: skip
    if value is None:
        return None
    return Range(value, value if low is None else low, value if high is None else high)


def as_vehicle(kept: ShelfVehicle, measured: Measurement | None = None) -> Vehicle:
    """Give a vehicle as the formation room knows it."""
    return Vehicle(
        name=kept.name,
        length_mm=kept.length_mm,
        mass_g=kept.mass_g,
        kind=kept.kind,
        years=kept.years,
        rolling=rolling_of(kept, measured),
        min_radius_mm=kept.min_radius_mm,
        couplings=(kept.front, kept.rear),
        axles=kept.axles,
        country=kept.country,
        dangerous=kept.dangerous,
        current_a=kept.current_a,
        built=kept.built,
        real_tonnes=kept.real_tonnes,
        length_scale=kept.length_scale,
        braked=kept.braked,
        loaded=kept.loaded,
        heating=kept.heating,
        livery=kept.livery,
        pool=kept.pool,
    )


def train_of(formation: Formation) -> list[ShelfVehicle]:
    """Give the vehicles behind the engine, in order."""
    return [place.vehicle for place in formation.places.select_related("vehicle")]


def turned_of(formation: Formation) -> tuple[bool, ...]:
    """Tell which vehicles behind the engine stand the other way round, in order."""
    return tuple(formation.places.values_list("turned", flat=True))


def own_recipes() -> dict[str, Recipe]:
    """Give the recipes that a person wrote, by id; one that no longer reads is left out."""
    found = {}
    for kept in TrainRecipe.objects.all():
        try:
            found[kept.key] = read_recipe(kept.text)
        except KnowledgeError:
            continue  # its page says what is wrong with it
    return found


def demands_of(formation: Formation) -> dict[int, str]:
    """Give what is demanded of each vehicle of the shelf, by its key."""
    return {d.vehicle_id: d.demand for d in formation.demands.all()}


def scene_of(formation: Formation, shelf: Sequence[ShelfVehicle] | None = None) -> Scene:
    """Give the whole question of a formation, with the whole shelf by default."""
    line = formation.line
    vehicles = list(ShelfVehicle.objects.all() if shelf is None else shelf)
    measured = measured_of(vehicles)
    demands = demands_of(formation)
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
            current_a=_engine_current(formation),
        ),
        vehicles=tuple(as_vehicle(v, measured.get(v.pk)) for v in vehicles),
        wish=Wish(
            year=formation.year,
            month=formation.month,
            recipe=formation.recipe or None,
            loop_mm=line.loop_mm or room_of(line, LineSection.Place.LOOP),
            country=formation.country,
            fixed=_demanded(vehicles, demands, FormationDemand.Demand.FIXED),
            forbidden=_demanded(vehicles, demands, FormationDemand.Demand.FORBIDDEN),
            platform_mm=line.platform_mm or room_of(line, LineSection.Place.PLATFORM),
            couplers=tuple(c.strip() for c in line.couplers.split(",") if c.strip()),
        ),
        curve_constant=CURVE_CONSTANT if line.curve_constant is None else line.curve_constant,
        supply_a=line.supply_a,
        prototype=_prototype(formation),
        scale=_ratio(formation),
    )


def _engine_current(formation: Formation) -> float | None:
    """Give what the engine draws, in A: as typed, else as measured running at the bench."""
    if formation.engine_current_a is not None or formation.piece is None:
        return formation.engine_current_a
    return running_current_measured(formation.piece)


def _demanded(
    vehicles: Sequence[ShelfVehicle], demands: Mapping[int, str], demand: str
) -> tuple[str, ...]:
    return tuple(v.name for v in vehicles if demands.get(v.pk) == demand)


def _prototype(formation: Formation) -> Prototype | None:
    if formation.real_effort_kn is None or formation.real_engine_t is None:
        return None
    return Prototype(
        effort_kn=formation.real_effort_kn,
        engine_t=formation.real_engine_t,
        speed_km_h=formation.real_speed_km_h or 0.0,
        grade_permille=formation.real_grade_permille or 0.0,
    )


def _ratio(formation: Formation) -> float:
    """Give the engine's scale, such as 87; that of H0 where it is not known."""
    name = formation.piece.known_scale if formation.piece else ""
    return find_scale(name or "H0").ratio
