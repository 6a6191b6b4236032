"""Random shelves and lines for the formation benchmarks (all invented)."""

import random

from outshop.formation.scene import Locomotive, Range, Scene, Section, Vehicle, Wish

GOODS = ("covered", "covered", "open", "open", "flat", "tank", "stake", "livestock", "refrigerated")
COACHES = ("coach-2", "coach-2", "coach-1", "coach-12", "dining")
CURVES = (0, 0, 360, 437, 515, 610)


def random_line(rng: random.Random, sections: int) -> tuple[Section, ...]:
    """Draw a line with grades to 30 per mille and curves down to 360 mm."""
    return tuple(
        Section(
            rng.randint(150, 1200),
            rng.choice((0, 0, rng.randint(-30, 30))),
            rng.choice(CURVES),
        )
        for _ in range(sections)
    )


def random_vehicle(rng: random.Random, number: int, couplings: tuple[str, ...]) -> Vehicle:
    """Draw one vehicle of any kind."""
    coach = rng.random() < 0.25
    kind = rng.choice(COACHES) if coach else rng.choice((*GOODS, "brake-van", "luggage"))
    rolling = rng.randint(10, 40)
    return Vehicle(
        name=f"{kind} {number}",
        length_mm=rng.randint(190, 280) if coach else rng.randint(80, 160),
        mass_g=rng.randint(80, 170) if coach else rng.randint(25, 110),
        kind=kind,
        years="1948/1970",
        rolling=Range(rolling, 0.8 * rolling, 1.2 * rolling),
        min_radius_mm=360,
        couplings=(rng.choice(couplings), rng.choice(couplings)),
        country=rng.choice(("D", "D", "D", "F", "A")),
        dangerous=kind == "tank" and rng.random() < 0.5,
        built=str(rng.randint(1910, 1955)),
    )


def random_scene(
    seed: int,
    vehicles: int,
    sections: int,
    *,
    loop_mm: float,
    pull_g: float,
    recipe: str | None = None,
    couplings: tuple[str, ...] = ("loop",),
) -> Scene:
    """Draw a whole question; the same seed draws the same."""
    rng = random.Random(seed)
    engine = Locomotive(
        120,
        300,
        pull_g,
        min_radius_mm=360,
        couplings=(couplings[0], couplings[0]),
        years="1950/1968",
    )
    shelf = tuple(random_vehicle(rng, i, couplings) for i in range(vehicles))
    wish = Wish(year=1958, recipe=recipe, loop_mm=loop_mm, country="D")
    return Scene(random_line(rng, sections), engine, shelf, wish)
