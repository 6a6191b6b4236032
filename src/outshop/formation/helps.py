"""What would help a train that does not get round for sure: remedies, each walked anew."""

from collections.abc import Iterator
from dataclasses import dataclass, replace

from outshop.formation.chance import chance
from outshop.formation.haul import Haul, haul
from outshop.formation.scene import Range, Scene, Vehicle

FREE_ROLLING = 10.0  # a cleaned, oiled, pin-point bearing: 1 % (from memory, no published series)
ADDED_MASS = 50.0  # grams of ballast tried in the locomotive
# Share of added weight that becomes pull: metal on metal about 0.25 of the weight on drivers
# (modellers' measurements, weak); real models differ, so measure again.
ADHESION = 0.25
# A fresh tyre raises the pull; by how much must be measured. Tried: a quarter more (judgement).
TYRE_GAIN = 1.25


@dataclass(frozen=True, slots=True)
class Remedy:
    """One change, and what it would bring."""

    what: str
    haul: Haul
    probability: float


def remedies(scene: Scene, train: tuple[Vehicle, ...]) -> tuple[Remedy, ...]:
    """Give the remedies that help, the best first.

    Parameters
    ----------
    scene : Scene
        Line and locomotive.
    train : tuple of Vehicle
        From the engine backwards.
    """
    before = haul(scene, train)
    base = chance(scene, train).probability
    found = []
    for what, changed, vehicles in _tried(scene, train):
        after = haul(changed, vehicles)
        likely = chance(changed, vehicles).probability
        if after.margin_percent > before.margin_percent + 1e-9 and likely >= base - 1e-9:
            found.append(Remedy(what, after, likely))
    # a remedy that makes it haul goes first, then the larger margin
    found.sort(key=lambda r: (r.haul.verdict != "hauls", -r.probability, -r.haul.margin_percent))
    return tuple(found)


def _tried(
    scene: Scene, train: tuple[Vehicle, ...]
) -> Iterator[tuple[str, Scene, tuple[Vehicle, ...]]]:
    engine = scene.locomotive
    heavy: tuple[float, int] | None = None
    for k in range(len(train)):
        less = (*train[:k], *train[k + 1 :])
        needed = haul(scene, less).needed_g
        if heavy is None or needed < heavy[0]:
            heavy = (needed, k)
    if heavy is not None:
        k = heavy[1]
        yield f"leave off {train[k].name}", scene, (*train[:k], *train[k + 1 :])
    stiff = [v for v in train if v.rolling_permille > FREE_ROLLING]
    if stiff:
        worst = max(stiff, key=lambda v: v.mass_g * (v.rolling_permille - FREE_ROLLING))
        free = replace(worst, rolling=Range(FREE_ROLLING, FREE_ROLLING, FREE_ROLLING))
        cleaned = tuple(free if v is worst else v for v in train)
        yield f"clean and oil the axles of {worst.name}", scene, cleaned
    weighted = replace(
        engine,
        mass_g=engine.mass_g + ADDED_MASS,
        pull_g=engine.pull_g + ADHESION * ADDED_MASS,
        low_g=None if engine.low_g is None else engine.low_g + ADHESION * ADDED_MASS,
        high_g=None if engine.high_g is None else engine.high_g + ADHESION * ADDED_MASS,
    )
    yield f"{ADDED_MASS:g} g of weight in the engine", replace(scene, locomotive=weighted), train
    tyred = replace(
        engine,
        pull_g=engine.pull_g * TYRE_GAIN,
        low_g=None if engine.low_g is None else engine.low_g * TYRE_GAIN,
        high_g=None if engine.high_g is None else engine.high_g * TYRE_GAIN,
    )
    yield (
        "new traction tyres (a quarter more pull assumed)",
        replace(scene, locomotive=tyred),
        train,
    )
