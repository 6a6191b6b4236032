"""What a formation is made from: the line, the locomotive, the shelf, the wish.

Lengths are millimetres, masses grams, forces grams-force, slopes per mille, currents ampere.
"""

from dataclasses import dataclass, field

# Rolling resistance of a model vehicle that nobody measured, per mille of its weight.
# About 2 % is what owners measure on layouts; pin-point bearings fall below 1 %, old plain
# bearings reach 3 to 5 %. Club and forum figures collected from memory: no published series.
DEFAULT_ROLLING = 20.0
DEFAULT_ROLLING_FACTOR = 2.0  # 95 % of such vehicles lie between value / 2 and value * 2

# Curve resistance "about 32 / radius in inches" per cent, a modeller's rule (the contract's
# formula): 10 x 32 x 25.4 = 8128 per mille x mm.
CURVE_CONSTANT = 10 * 32 * 25.4


@dataclass(frozen=True, slots=True)
class Section:
    """One piece of the line in running order; ``radius_mm`` 0 is straight, grade + is up."""

    length_mm: float
    grade_permille: float = 0.0
    radius_mm: float = 0.0
    name: str = ""


@dataclass(frozen=True, slots=True)
class Range:
    """A measured figure with the ends of its 95 % interval."""

    value: float
    low: float
    high: float


@dataclass(frozen=True, slots=True)
class Locomotive:
    """The engine; couplings are front and rear, the rear one couples to the train."""

    length_mm: float
    mass_g: float
    pull_g: float
    low_g: float | None = None
    high_g: float | None = None
    min_radius_mm: float = 0.0
    couplings: tuple[str, str] = ("", "")
    years: str = ""
    name: str = "locomotive"
    current_a: float | None = None
    driven_axles: int | None = None

    @property
    def available_g(self) -> float:
        """The pull that may be counted on: the low end where known, else the pull."""
        return self.pull_g if self.low_g is None else self.low_g

    @property
    def optimistic_g(self) -> float:
        """The high end of the pull where known, else the pull."""
        return self.pull_g if self.high_g is None else self.high_g


@dataclass(frozen=True, slots=True)
class Vehicle:
    """One wagon or coach on the shelf; ``rolling`` None means nobody measured it."""

    name: str
    length_mm: float
    mass_g: float
    kind: str = "other"
    years: str = ""
    rolling: Range | None = None
    min_radius_mm: float = 0.0
    couplings: tuple[str, str] = ("", "")
    axles: int | None = None
    country: str = ""
    braked: bool | None = None
    dangerous: bool = False
    loaded: bool | None = None
    built: str = ""
    length_scale: float | None = None
    current_a: float | None = None
    heating: bool | None = None
    real_tonnes: float | None = None
    livery: str = ""
    pool: bool | None = None  # whether it belongs to an international pool; None is not known

    @property
    def rolling_permille(self) -> float:
        """Rolling resistance used: the measured one, or the documented default."""
        return DEFAULT_ROLLING if self.rolling is None else self.rolling.value


Body = Locomotive | Vehicle


@dataclass(frozen=True, slots=True)
class Wish:
    """What is asked of the train, apart from the physics."""

    year: int | None = None
    recipe: str | None = None
    loop_mm: float | None = None
    fixed: tuple[str, ...] = ()
    forbidden: tuple[str, ...] = ()
    country: str = ""
    line_kind: str = ""
    speed_km_h: float | None = None
    month: int | None = None
    platform_mm: float | None = None
    couplers: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Prototype:
    """A full-size task: pull of the engine (kN), its mass (t), speed, ruling grade and curve."""

    effort_kn: float
    engine_t: float
    speed_km_h: float
    grade_permille: float = 0.0
    radius_m: float = 0.0


@dataclass(frozen=True, slots=True)
class Scene:
    """A whole question: line, locomotive, shelf and wish."""

    line: tuple[Section, ...]
    locomotive: Locomotive
    vehicles: tuple[Vehicle, ...]
    wish: Wish = field(default_factory=Wish)
    curve_constant: float = CURVE_CONSTANT
    curve_spread: float = 0.0
    gauge_mm: float = 16.5
    supply_a: float | None = None
    start_factor: float = 1.5
    prototype: Prototype | None = None
    scale: float = 87.0
    warnings: tuple[str, ...] = ()
