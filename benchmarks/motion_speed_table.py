"""How often the intervals of a speed table hold the truth: prints the table of the docs.

    python benchmarks/motion_speed_table.py [tables]

Each table is drawn anew: a model that starts and drops out at settings of its own, a parabola of
speed over voltage, a lag when lowered, a ruler that is off by a share common to the table.
"""

import math
import sys
import time

import numpy as np

from outshop.bench.motion.speed_rows import SpeedPoint, SpeedRows
from outshop.bench.motion.speed_table import measure
from outshop.estimate import Estimate


def draw(rng, *, scatter, repeats, step_v=1.0):
    """Draw a truth and the table that a person would write for it."""
    start = rng.uniform(2.7, 4.0)
    drop_out = start - rng.uniform(0.2, 1.2)
    bow, lag, back = rng.uniform(-0.1, 0.1), rng.uniform(-0.02, 0.04), rng.uniform(0.85, 1.15)
    ruler = 1 + 0.005 * rng.standard_normal()

    def speed(volts):  # a parabola from creep at 2 V to 0.42 m/s at 12 V
        x = (volts - 7) / 5
        return 0.235 + 0.2 * x + 2 * 0.2 * bow * (1 - x**2)

    grid = np.arange(rng.uniform(0.3, 1.3), 12, step_v)
    points = []
    for direction, ways in (("forward", 1.0), ("reverse", back)):
        for sweep, stands, more in (("up", start, 0.0), ("down", drop_out, lag)):
            for volts in (*grid, 12.0):
                for _ in range(repeats):
                    runs = volts > stands
                    true = ways * (speed(volts) + more * 0.2)
                    read = true * ruler * (1 + scatter * rng.standard_normal()) if runs else 0.0
                    points.append(SpeedPoint(float(volts), direction, sweep, max(read, 0.0)))
    truth = {
        "start_forward": start,
        "drop_out_forward": drop_out,
        "start_over_drop_out_forward": start - drop_out,
        "top_forward": speed(12) + 0.1 * lag,  # the mean of both sweeps
    }
    ran = [v for v in (*grid, 12.0) if v > drop_out]
    raised = [v for v in ran if v > start]
    truth["creep_forward"] = speed(ran[0]) + lag * 0.2 * (0.5 if ran[0] > start else 1.0)
    lowest, highest = ran[0], 12.0
    middle = speed((lowest + highest) / 2)
    chord = (speed(lowest) + speed(highest)) / 2
    truth["bow_forward"] = 100 * (middle - chord) / (speed(highest) - speed(lowest))
    mean = np.mean([speed(v) + lag * 0.1 for v in raised])
    truth["lag_forward"] = 100 * lag * 0.2 / mean
    truth["forward_over_reverse"] = 100 * (1 - back) / (1 + back) * 2
    runs = [speed(v) + m * 0.2 for v in ran for m in ((0.0, lag) if v > start else (lag,))]
    truth["unevenness_forward"] = (
        100 * scatter * math.sqrt(np.mean(np.square(runs))) / max(runs)
    )  # fmt: skip
    return truth, SpeedRows("V", tuple(points))


def main() -> None:
    tables = int(sys.argv[1]) if len(sys.argv) > 1 else 1000
    rng = np.random.default_rng(4)
    print(f"{tables} tables a line\n\n| figure | scatter | runs a setting | told | coverage |")
    print("|---|---|---|---|---|")
    for scatter, repeats in ((0.01, 1), (0.01, 3), (0.02, 3)):
        held: dict[str, list[bool]] = {}
        for _ in range(tables):
            truth, rows = draw(rng, scatter=scatter, repeats=repeats)
            found = measure(rows, nominal=12.0).readings()
            for key, value in truth.items():
                reading = found[key]
                if isinstance(reading, Estimate):
                    held.setdefault(key, []).append(reading.low <= value <= reading.high)
        for key, hits in held.items():
            name = key.removesuffix("_forward").replace("_", " ")
            told, share = len(hits) / tables, sum(hits) / len(hits)
            print(f"| {name} | {scatter:.0%} | {repeats} | {told:.0%} | {share:.1%} |")
    print(f"\n{time.process_time():.0f} s of processor time")


if __name__ == "__main__":
    main()
