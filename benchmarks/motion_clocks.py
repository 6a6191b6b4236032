"""How often the intervals of clocks, slip and ratio hold the truth: prints the tables of the docs.

    python benchmarks/motion_clocks.py [runs]

The truths are drawn anew for each run; nothing of the bench is used to draw them.
"""

import math
import sys
import time

import numpy as np

from outshop.bench.motion.clocks import Kind, Timing, clocked, from_clip
from outshop.bench.motion.slip import measure_slip, wheel_diameter
from outshop.bench.motion.together import together
from outshop.estimate import Estimate


def watch_times(rng, seconds, n, *, press, wander):
    """Draw what a person reads: presses, a bias of its own, the runs' own scatter, 0.01 s steps."""
    true = seconds * (1 + wander * rng.standard_normal(n))
    ends = press * rng.standard_normal((n, 2))
    read = true + ends[:, 1] - ends[:, 0] + 0.03 * rng.standard_normal()
    return np.round(read, 2), true


def stop_watch(rng, n, wander, sure):
    speed = rng.uniform(0.05, 0.5)
    way = rng.choice([500.0, 1000.0, 2000.0])
    # how steady this hand is, is known to a quarter of itself only
    press = 0.1 * math.sqrt(rng.chisquare(8) / 8) if not sure else 0.1
    times, true = watch_times(rng, way / 1000 / speed, n, press=press, wander=wander)
    if (times <= 0).any():
        return None
    said = way + 0.5 * max(1.0, 0.001 * way) * rng.standard_normal()
    found = clocked(Timing(Kind.STOP_WATCH, float(said), tuple(times))).speed
    # a single time speaks of its own run, the mean of several of the speed that is set
    truth = way / 1000 / true[0] if n == 1 else speed
    return found, truth


def gates(rng, n, wander):
    speed, way = rng.uniform(0.05, 0.5), rng.choice([200.0, 500.0, 1000.0])
    true = way / 1000 / speed * (1 + wander * rng.standard_normal(n))
    read = np.round(true + 0.002 * rng.standard_normal((n, 2)) @ [1, -1], 3)
    said = way + 0.5 * max(1.0, 0.001 * way) * rng.standard_normal()
    found = clocked(Timing(Kind.GATES, float(said), tuple(read))).speed
    return found, (way / 1000 / true[0] if n == 1 else speed)


def covered(draw, runs):
    held = total = 0
    widths = []
    for _ in range(runs):
        drawn = draw()
        if drawn is None or not isinstance(drawn[0], Estimate):
            continue
        found, truth = drawn
        total += 1
        held += found.low <= truth <= found.high
        widths.append(found.half_width / found.value)
    return f"{held / total:.1%} | {100 * float(np.median(widths)):.2f}"


def agreeing(rng, *, same_way):
    """Three clocks on one run at one speed: stop-watch, gates and a clip."""
    speed = rng.uniform(0.1, 0.4)
    error = 0.5 * rng.standard_normal(2)
    ways = [1000 + error[0], 1000 + error[0] if same_way else 500 + error[1]]
    watch = np.round(
        1 / speed + 0.1 * rng.standard_normal((3, 2)) @ [1, -1] + 0.03 * rng.standard_normal(), 2
    )
    gate = (1 if same_way else 0.5) / speed + 0.002 * rng.standard_normal(2) @ [1, -1]
    clip = speed * (1 + 0.006 * rng.standard_normal())
    half = 1.96 * 0.006 * clip
    return together([
        clocked(Timing(Kind.STOP_WATCH, float(ways[0]), tuple(watch), way_tolerance_mm=0.98)),
        clocked(Timing(Kind.GATES, float(ways[1]), (float(gate),), way_tolerance_mm=0.98)),
        from_clip(Estimate.plus_minus(clip, half, "m/s")),
    ]), speed  # fmt: skip


def agreement_row(rng, runs, *, same_way):
    agreed = held = 0
    for _ in range(runs):
        found, speed = agreeing(rng, same_way=same_way)
        if found.agree and isinstance(found.speed, Estimate):
            agreed += 1
            held += found.speed.low <= speed <= found.speed.high
    return f"{agreed / runs:.1%} | {held / agreed:.1%}"


def slipping(rng, share):
    """Draw a wheel, a turn rate and a track speed with errors of their own."""
    diameter, turns = rng.uniform(8, 25), rng.uniform(2, 12)
    speed = (1 - share) * math.pi * diameter / 1000 * turns
    measured = diameter + 0.1 / 1.96 * rng.standard_normal()
    heard = turns * (1 + 0.003 * rng.standard_normal())
    seen = speed * (1 + 0.006 * rng.standard_normal())
    wheel = Estimate.plus_minus(heard, 1.96 * 0.003 * heard, "1/s")
    track = Estimate.plus_minus(seen, 1.96 * 0.006 * seen, "m/s")
    return measure_slip(wheel, wheel_diameter(measured, 0.1), track).slip, 100 * share


def turning(rng):
    """Draw a true ratio, unslipping."""
    ratio, diameter, turns = rng.uniform(8, 40), rng.uniform(8, 25), rng.uniform(40, 150)
    speed = math.pi * diameter / 1000 * turns / ratio
    measured = diameter + 0.1 / 1.96 * rng.standard_normal()
    heard = turns * (1 + 0.003 * rng.standard_normal())
    seen = speed * (1 + 0.006 * rng.standard_normal())
    motor = Estimate.plus_minus(heard, 1.96 * 0.003 * heard, "1/s")
    track = Estimate.plus_minus(seen, 1.96 * 0.006 * seen, "m/s")
    found = measure_slip(
        motor / ratio, wheel_diameter(measured, 0.1), track, motor=motor, rolling=True
    )
    return found.ratio, ratio


def main() -> None:
    runs = int(sys.argv[1]) if len(sys.argv) > 1 else 4000
    rng = np.random.default_rng(20)
    print(f"{runs} runs a line\n\n| clock | runs | own scatter | coverage | half width % |")
    print("|---|---|---|---|---|")
    for wander in (0.0, 0.005, 0.01, 0.02):
        for n in (1, 2, 3, 5, 10):
            row = covered(lambda n=n, w=wander: stop_watch(rng, n, w, sure=False), runs)
            print(f"| stop-watch | {n} | {wander:.1%} | {row} |")
    for wander in (0.0, 0.005, 0.01, 0.02):
        for n in (1, 2, 3, 5):
            row = covered(lambda n=n, w=wander: gates(rng, n, w), runs)
            print(f"| gates | {n} | {wander:.1%} | {row} |")
    print("\n| stop-watch, gates and clip | said to agree | common speed covered |\n|---|---|---|")
    print(f"| over one way | {agreement_row(rng, runs, same_way=True)} |")
    print(f"| over two ways | {agreement_row(rng, runs, same_way=False)} |")
    print("\n| figure | coverage | half width % of value |\n|---|---|---|")
    for share in (0.02, 0.2, 0.7):
        print(f"| slip {share:.0%} | {covered(lambda s=share: slipping(rng, s), runs)} |")
    print(f"| ratio | {covered(lambda: turning(rng), runs)} |")
    print(f"\n{time.process_time():.0f} s of processor time")


if __name__ == "__main__":
    main()
