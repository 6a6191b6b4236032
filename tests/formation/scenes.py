"""Random scenes and slow references for the formation tests; shares no code with the project's."""

import itertools
import random

from outshop.formation.scene import Locomotive, Range, Scene, Section, Vehicle, Wish

CURVES = (0, 0, 360, 437, 515, 610)


def vehicle(name="van", length=110.0, mass=60.0, rolling=20.0, couplings=("loop", "loop"), **more):
    return Vehicle(
        name, length, mass, rolling=Range(rolling, rolling, rolling), couplings=couplings, **more
    )


def scene(line, vehicles, *, pull=75.0, engine_mass=300.0, engine_length=120.0, **wish):
    return Scene(
        tuple(line),
        Locomotive(engine_length, engine_mass, pull, couplings=("loop", "loop")),
        tuple(vehicles),
        Wish(**wish),
    )


def random_scene(
    rng: random.Random,
    vehicles: int,
    sections: int,
    couplings=("loop",),
    loop=1400.0,
    pull=75.0,
    tenths=False,
):
    def mm(low, high):
        return round(rng.uniform(low, high), 1) if tenths else float(rng.randint(low, high))

    line = [
        Section(
            mm(60, 1500),
            rng.choice((0, 0, rng.randint(-40, 40), round(rng.uniform(-40, 40), 1))),
            rng.choice(CURVES),
        )
        for _ in range(sections)
    ]
    shelf = [
        vehicle(
            f"v{i}",
            mm(70, 280),
            float(rng.randint(20, 200)),
            float(rng.randint(5, 50)),
            (rng.choice(couplings), rng.choice(couplings)),
            min_radius_mm=rng.choice((0, 360, 360, 400)),
        )
        for i in range(vehicles)
    ]
    return scene(
        line,
        shelf,
        pull=pull,
        engine_mass=float(rng.randint(100, 500)),
        engine_length=mm(80, 250),
        loop_mm=loop,
    )


def section_under(line, x):
    """The section that holds x in [begin, end), or None off the line; lengths in 0.1 mm / 2."""
    begin = 0
    for section in line:
        end = begin + round(section.length_mm * 20)
        if begin <= x < end:
            return section
        begin = end
    return None


def needed_by_dense_walk(asked: Scene, train=None) -> float:
    """The contract's formula at every 0.1 mm, place by place (positions in 1/20 mm, exact)."""
    train = asked.vehicles if train is None else train
    line_length = sum(round(s.length_mm * 20) for s in asked.line)
    train_length = sum(round(b.length_mm * 20) for b in (asked.locomotive, *train))
    table = [section_under(asked.line, x) for x in range(0, line_length, 1)]
    worst = float("-inf")
    for head in range(0, line_length + train_length + 2, 2):
        front, force = head, 0.0
        for number, body in enumerate((asked.locomotive, *train)):
            middle = front - round(body.length_mm * 10)
            front -= round(body.length_mm * 20)
            section = table[middle] if 0 <= middle < line_length else None
            grade = section.grade_permille if section else 0.0
            curve = 10 * 32 / (section.radius_mm / 25.4) if section and section.radius_mm else 0.0
            if number == 0:
                force += body.mass_g * grade / 1000
            else:
                force += body.mass_g * (body.rolling.value + grade + curve) / 1000
        worst = max(worst, force)
    return worst


def needed_at_crossings(asked: Scene, train) -> float:
    """The same just behind each crossing only: quick enough for brute force."""
    ends = [0]
    for section in asked.line:
        ends.append(ends[-1] + round(section.length_mm * 20))
    middles, front = [], 0
    for body in (asked.locomotive, *train):
        middles.append(front + round(body.length_mm * 10))
        front += round(body.length_mm * 20)
    worst = float("-inf")
    for head in {0} | {e + m for e in ends for m in middles}:
        force = 0.0
        for number, (body, middle) in enumerate(
            zip((asked.locomotive, *train), middles, strict=True)
        ):
            section = section_under(asked.line, head - middle)
            grade = section.grade_permille if section else 0.0
            curve = 8128 / section.radius_mm if section and section.radius_mm else 0.0
            rolling = body.rolling.value + curve if number else 0.0
            force += body.mass_g * (rolling + grade) / 1000
        worst = max(worst, force)
    return worst


def couples(rear: str, train) -> bool:
    """Try every way of turning each vehicle."""
    for turns in itertools.product((False, True), repeat=len(train)):
        joint, good = rear, True
        for body, turned in zip(train, turns, strict=True):
            front, back = body.couplings[::-1] if turned else body.couplings
            good = good and front == joint
            joint = back
        if good:
            return True
    return not train


def best_by_brute_force(asked: Scene) -> tuple[int, float]:
    """Most vehicles, then the longest train (vehicles only), over all choices and orders."""
    tightest = min((s.radius_mm for s in asked.line if s.radius_mm), default=0)
    free = [v for v in asked.vehicles if not tightest or v.min_radius_mm <= tightest]
    for number in range(len(free), 0, -1):
        best = 0.0
        for choice in itertools.combinations(free, number):
            length = sum(v.length_mm for v in choice)
            if length + asked.locomotive.length_mm > asked.wish.loop_mm + 1e-9 or length <= best:
                continue
            for train in itertools.permutations(choice):
                if not couples(asked.locomotive.couplings[1], train):
                    continue
                if needed_at_crossings(asked, train) <= asked.locomotive.available_g + 1e-9:
                    best = length
                    break
        if best:
            return number, best
    return 0, 0.0
