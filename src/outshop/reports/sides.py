"""Side views of vehicles as plain lines: one shape a kind, stretched to the model's length."""

from collections.abc import Callable
from dataclasses import dataclass

from outshop.formation.kinds import family, kinds

GLYPH_MM = 7.2  # width of a letter below a vehicle on a phone, in model mm
WHEEL_MM = 5.5  # radius of a drawn wheel
FLOOR_MM, TALL_MM, LOW_MM = 12.0, 42.0, 24.0  # over rail: floor, roof edge, side of an open wagon
LONGEST_TWO_AXLE_MM = 165.0  # a coach without a number of axles is drawn on bogies from here
LONGEST_HOOD_MM = 130.0  # up to this length a diesel engine is drawn as a shunter with one cab
BOGIE_MM = 20.0  # wheelbase of a drawn bogie
# axles of an engine of which nobody told them
ENGINE_AXLES = {"engine-electric": 4, "engine-diesel": 4, "engine-railcar": 4}


@dataclass(frozen=True, slots=True)
class Side:
    """Where a side view stands: from ``x`` to ``end``, on the rail at ``rail``; y runs down."""

    kind: str
    x: float
    end: float
    rail: float
    axles: int = 0

    @property
    def floor(self) -> float:
        """Height of the floor."""
        return self.rail - FLOOR_MM

    @property
    def top(self) -> float:
        """Height of the edge of the roof."""
        return self.rail - TALL_MM

    def at(self, share: float) -> float:
        """Give the place at a share of the length."""
        return self.x + (self.end - self.x) * share


def side(view: Side) -> str:
    """Draw one vehicle: a heavy outline, and fine lines for what is on its wall."""
    body, fine = SHAPES.get(view.kind, _by_family)(view)
    hooks = f"M{view.x - 2.5:.1f} {view.floor + 2:.1f}h2.5M{view.end:.1f} {view.floor + 2:.1f}h2.5"
    thin = f'<path class="ink thin" d="{fine}"/>' if fine else ""
    return f'<path class="ink" d="{hooks}{wheels(view)}{body}"/>{thin}'


def wheels(view: Side) -> str:
    """Draw the wheels: two axles, or bogies below what is long or has more axles."""
    length = view.end - view.x
    if view.kind == "engine":  # a steam engine: its axles in one row
        number = view.axles or 4
        places = [view.x + length * (0.14 + 0.72 * k / max(1, number - 1)) for k in range(number)]
        return "".join(_circle(p, view.rail - WHEEL_MM, WHEEL_MM) for p in places)
    usual = kinds()[view.kind].axles if view.kind in kinds() else ENGINE_AXLES.get(view.kind, 2)
    if family(view.kind) == "coach" and not view.axles:
        usual = 4 if length > LONGEST_TWO_AXLE_MM else 2
    number = view.axles or usual
    if number <= 2:
        places = [view.at(0.2), view.at(0.8)]
    elif number == 3:
        places = [view.at(0.15), view.at(0.5), view.at(0.85)]
    else:
        away = min(16.0, length * 0.14)
        step = max(BOGIE_MM / (number / 2 - 1 or 1), 2 * WHEEL_MM + 1)  # wheels never overlap
        half = [away + step * k for k in range(number // 2)]
        places = [view.x + h for h in half] + [view.end - h for h in reversed(half)]
    return "".join(_circle(p, view.rail - WHEEL_MM, WHEEL_MM) for p in places)


def _circle(x: float, y: float, r: float) -> str:
    return f"M{x - r:.1f} {y:.1f}a{r} {r} 0 1 0 {2 * r} 0a{r} {r} 0 1 0 {-2 * r} 0"


def _box(v: Side, top: float) -> str:
    return f"M{v.x:.1f} {v.floor:.1f}V{top:.1f}H{v.end:.1f}V{v.floor:.1f}Z"


def _roof(v: Side) -> str:
    edges = f"{v.at(0.5):.1f} {v.top - 7:.1f} {v.end + 1.5:.1f} {v.top:.1f}"
    return f"M{v.x - 1.5:.1f} {v.top:.1f}Q{edges}"


def _pane(x: float, y: float, wide: float, high: float) -> str:
    return f"M{x:.1f} {y:.1f}h{wide:.1f}v{high:.1f}h{-wide:.1f}z"


def _engine(v: Side) -> tuple[str, str]:
    cab, low = v.at(0.7), v.rail - 34
    body = (
        f"M{v.x:.1f} {v.floor:.1f}V{low:.1f}H{cab:.1f}V{v.rail - 46:.1f}H{v.end:.1f}V{v.floor:.1f}Z"
        f"M{v.x + 7:.1f} {low:.1f}v-13h7v13"
    )
    dome = f"M{v.at(0.38):.1f} {low:.1f}v-4a5 5 0 0 1 10 0v4"
    return body + dome, _pane(cab + 6, v.rail - 41, (v.end - cab) * 0.45, 10)


def _electric(v: Side) -> tuple[str, str]:
    """Draw a box with a cab at each end and a current collector over each bogie."""
    low = v.top + 3
    body = (
        f"M{v.x:.1f} {v.floor:.1f}V{low + 6:.1f}l5 -6H{v.end - 5:.1f}l5 6V{v.floor:.1f}Z"
        + _collector(v.at(0.24), low)
        + _collector(v.at(0.76), low)
    )
    grilles = "".join(f"M{v.at(s):.1f} {low + 8:.1f}v8" for s in (0.32, 0.41, 0.5, 0.59, 0.68))
    return body, _cab_panes(v, low) + grilles


def _collector(x: float, roof: float) -> str:
    return f"M{x - 7:.1f} {roof:.1f}l10 -6l-8 -5h13m-7 0"


def _diesel(v: Side) -> tuple[str, str]:
    """Draw a box with a cab at each end; a short engine has one cab and a hood before it."""
    if v.end - v.x <= LONGEST_HOOD_MM:
        hood, cab = v.rail - 32, v.at(0.62)
        body = (
            f"M{v.x:.1f} {v.floor:.1f}V{hood:.1f}H{cab:.1f}V{v.top + 2:.1f}H{v.end:.1f}"
            f"V{v.floor:.1f}Z"
        )
        doors = "".join(f"M{v.at(s):.1f} {hood + 4:.1f}V{v.floor - 3:.1f}" for s in (0.2, 0.4))
        return body, doors + _pane(cab + 5, v.top + 7, (v.end - cab) * 0.5, 10)
    low = v.top + 3
    body = f"M{v.x:.1f} {v.floor:.1f}V{low + 8:.1f}l6 -8H{v.end - 6:.1f}l6 8V{v.floor:.1f}Z"
    exhaust = f"M{v.at(0.47):.1f} {low:.1f}v-4h{(v.end - v.x) * 0.06:.1f}v4"
    grille = "".join(f"M{v.at(0.36):.1f} {low + h:.1f}H{v.at(0.64):.1f}" for h in (8, 12, 16))
    return body + exhaust, _cab_panes(v, low) + grille


def _cab_panes(v: Side, roof: float) -> str:
    return _pane(v.x + 7, roof + 7, 9, 10) + _pane(v.end - 16, roof + 7, 9, 10)


def _railcar(v: Side) -> tuple[str, str]:
    """Draw a coach with sloping ends."""
    low = v.top + 2
    body = f"M{v.x:.1f} {v.floor:.1f}V{low + 10:.1f}l5 -10H{v.end - 5:.1f}l5 10V{v.floor:.1f}Z"
    door = f"M{v.at(0.5) - 6:.1f} {v.floor:.1f}V{low + 5:.1f}h12V{v.floor:.1f}"
    return body, door + _windows(v, v.x + 8, v.at(0.5) - 8) + _windows(v, v.at(0.5) + 8, v.end - 8)


def _windows(v: Side, begin: float, end: float, pitch: float = 22.0) -> str:
    count = max(1, round((end - begin) / pitch))
    step = (end - begin) / count
    return "".join(
        _pane(begin + (k + 0.22) * step, v.rail - 36, step * 0.56, 10) for k in range(count)
    )


def _coach(v: Side) -> tuple[str, str]:
    doors = f"M{v.x + 9:.1f} {v.floor:.1f}V{v.top:.1f}M{v.end - 9:.1f} {v.floor:.1f}V{v.top:.1f}"
    return _box(v, v.top) + _roof(v), doors + _windows(v, v.x + 9, v.end - 9)


def _coach_brake(v: Side) -> tuple[str, str]:
    door = f"M{v.at(0.08):.1f} {v.floor:.1f}V{v.top + 4:.1f}h16V{v.floor:.1f}m-8 0V{v.top + 4:.1f}"
    return _box(v, v.top) + _roof(v), door + _windows(v, v.at(0.34), v.end - 6)


def _dining(v: Side) -> tuple[str, str]:
    body, _ = _coach(v)
    return body, _windows(v, v.at(0.3), v.end - 6, 30) + _pane(v.at(0.1), v.rail - 34, 14, 5)


def _luggage(v: Side) -> tuple[str, str]:
    look = f"M{v.at(0.4):.1f} {v.top - 5:.1f}v-5H{v.at(0.6):.1f}v5"
    doors = "".join(
        f"M{v.at(s) - 8:.1f} {v.floor:.1f}V{v.top + 5:.1f}h16V{v.floor:.1f}" for s in (0.25, 0.75)
    )
    return _box(v, v.top) + _roof(v) + look, doors


def _mail(v: Side) -> tuple[str, str]:
    door = f"M{v.at(0.5) - 8:.1f} {v.floor:.1f}V{v.top + 5:.1f}h16V{v.floor:.1f}"
    panes = "".join(_pane(v.at(s) - 4, v.rail - 37, 8, 5) for s in (0.15, 0.3, 0.7, 0.85))
    return _box(v, v.top) + _roof(v), door + panes


def _covered(v: Side) -> tuple[str, str]:
    door = f"M{v.at(0.5) - 10:.1f} {v.floor:.1f}V{v.top + 5:.1f}h20V{v.floor:.1f}"
    return _box(v, v.top) + _roof(v), door


def _livestock(v: Side) -> tuple[str, str]:
    slats = "".join(f"M{v.x:.1f} {v.rail - h:.1f}H{v.end:.1f}" for h in (20, 27, 34))
    return _box(v, v.top) + _roof(v), slats


def _brake(v: Side) -> tuple[str, str]:
    cabin = f"M{v.x + 2:.1f} {v.top - 1:.1f}v-9h16v7"
    body, door = _covered(v)
    return body + cabin, door + _pane(v.x + 6, v.rail - 36, 8, 9)


def _open(v: Side) -> tuple[str, str]:
    posts = "".join(
        f"M{v.at(s):.1f} {v.floor:.1f}v{FLOOR_MM - LOW_MM:.1f}" for s in (0.25, 0.5, 0.75)
    )
    return _box(v, v.rail - LOW_MM), posts


def _hopper(v: Side) -> tuple[str, str]:
    top = v.rail - LOW_MM - 8
    slope = f"M{v.x:.1f} {top:.1f}H{v.end:.1f}L{v.at(0.72):.1f} {v.floor:.1f}H{v.at(0.28):.1f}Z"
    frame = f"M{v.x:.1f} {v.floor:.1f}H{v.end:.1f}"
    return slope + frame, ""


def _tank(v: Side) -> tuple[str, str]:
    dome = f"M{v.at(0.5) - 5:.1f} {v.rail - 37:.1f}v-5h10v5"
    barrel = (
        f"M{v.x:.1f} {v.floor:.1f}H{v.end:.1f}M{v.x + 12:.1f} {v.rail - 37:.1f}H{v.end - 12:.1f}"
        f"a11 11 0 0 1 0 22H{v.x + 12:.1f}a11 11 0 0 1 0 -22"
    )
    return barrel + dome, ""


def _bed(v: Side) -> str:
    return f"M{v.x:.1f} {v.floor:.1f}v-4H{v.end:.1f}v4Z"


def _stake(v: Side) -> tuple[str, str]:
    shares = (0.04, 0.27, 0.5, 0.73, 0.96)
    return _bed(v), "".join(f"M{v.at(s):.1f} {v.floor - 4:.1f}v-14" for s in shares)


def _timber(v: Side) -> tuple[str, str]:
    logs = "".join(f"M{v.x + 4:.1f} {v.floor - h:.1f}H{v.end - 4:.1f}" for h in (8, 12, 16))
    _, stakes = _stake(v)
    return _bed(v), stakes + logs


def _container(v: Side) -> tuple[str, str]:
    return _bed(v) + _pane(v.at(0.1), v.floor - 28, (v.end - v.x) * 0.8, 24), ""


def _flat(v: Side) -> tuple[str, str]:
    return _bed(v), ""


def _crane(v: Side) -> tuple[str, str]:
    jib = f"M{v.at(0.35):.1f} {v.floor - 8:.1f}L{v.end - 2:.1f} {v.top - 6:.1f}v14"
    return _bed(v) + _pane(v.at(0.12), v.floor - 24, (v.end - v.x) * 0.3, 20), jib


def _by_family(v: Side) -> tuple[str, str]:
    return {"coach": _coach, "brake": _brake, "van": _luggage}.get(family(v.kind), _covered)(v)


SHAPES: dict[str, Callable[[Side], tuple[str, str]]] = {
    "engine": _engine,
    "engine-electric": _electric,
    "engine-diesel": _diesel,
    "engine-railcar": _railcar,
    "coach-brake": _coach_brake,
    "dining": _dining,
    "mail": _mail,
    "express-parcels": _mail,
    "livestock": _livestock,
    "open": _open,
    "hopper": _hopper,
    "tank": _tank,
    "flat": _flat,
    "stake": _stake,
    "timber": _timber,
    "container": _container,
    "crane": _crane,
}
