"""Start, stop, coasting, acceleration and swing on rendered clips; prints a markdown table.

Run: python benchmarks/motion_secondary.py CLIPS [FIRST_SEED]. The renderer is the tests' own. Each
model stands, gains speed evenly, runs with a known swing once per wheel turn, coasts and stands.
"""

import math
import sys
import tempfile
from collections import defaultdict
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).parents[1] / "tests" / "bench" / "motion"))

from film import Camera, Scene, render

from outshop.bench.motion.measure import Setup, measure_clip
from outshop.bench.motion.result import MotionBench
from outshop.bench.motion.ruler import Marks
from outshop.errors import OutshopError
from outshop.estimate import Estimate

CLICK_PX = 0.6  # standard error with which a person sets a mark, pixels of the clip
REST_S = 0.5


class Run:
    """A run with even gain and loss of speed, and a swing in between."""

    def __init__(self, rng: np.random.Generator) -> None:
        self.speed = float(rng.uniform(90, 200))
        self.gain_s, self.steady_s = float(rng.uniform(0.2, 0.6)), float(rng.uniform(1.6, 2.2))
        self.coast_s = float(rng.uniform(0.2, 0.8))
        self.wheel_mm = float(rng.uniform(10, 16))
        self.swing = float(rng.choice([0.0, 0.03, 0.08]))
        self.start_s = REST_S
        self.stop_s = REST_S + self.gain_s + self.steady_s + self.coast_s
        self.gain = self.speed / self.gain_s / 1000  # m/s2
        self.coasting_mm = self.speed * self.coast_s / 2
        self.seconds = self.stop_s + REST_S
        fine = np.arange(0, self.seconds + 0.1, 0.0005)
        up = np.clip((fine - REST_S) / self.gain_s, 0, 1)
        down = np.clip((self.stop_s - fine) / self.coast_s, 0, 1)
        even = np.concatenate([[0.0], np.cumsum(self.speed * np.minimum(up, down) * 0.0005)[:-1]])
        # the swing hangs on the way: x + the wave of amplitude a C / (2 pi), within the steady part
        period = math.pi * self.wheel_mm
        inside = np.clip(np.minimum(fine - REST_S - self.gain_s,
                                    self.stop_s - self.coast_s - fine) / 0.05, 0, 1)  # fmt: skip
        wave = self.swing * period / (2 * math.pi) * np.sin(2 * math.pi * even / period)
        self._t, self._x = fine, even + wave * inside
        self.middle = float(self._x[-1]) / 2

    def place(self, t: float) -> float:
        """Give the place at a moment, in mm."""
        return float(np.interp(t, self._t, self._x)) - self.middle


def scene(seed: int, rng: np.random.Generator) -> Scene:
    return Scene(
        seed=seed, width=640, height=360, wall=("plain", "spots", "stripes")[seed % 3],
        length_mm=float(rng.uniform(90, 160)), field_mm=float(rng.uniform(500, 750)),
        exposure=float(rng.uniform(0.1, 0.5)), noise=float(rng.uniform(1, 4)),
        rate=float(rng.choice([25, 30, 50])), jitter=float(rng.choice([0, 0.3])),
    )  # fmt: skip


def judged(rows: dict[str, list[tuple[float, float, bool]]], bench: MotionBench, run: Run) -> None:
    """Note the errors: ms for moments, percent for the rest, percent points for the swing."""
    for name, found, truth in (
        ("start, ms", bench.start_s, run.start_s), ("stop, ms", bench.stop_s, run.stop_s),
    ):  # fmt: skip
        if found is not None:
            rows[name].append((1000 * (found - truth), math.nan, True))
    for name, read, truth, unit in (
        ("acceleration, %", bench.acceleration, run.gain, run.gain),
        ("coasting, %", bench.coasting, run.coasting_mm, run.coasting_mm),
        (f"swing of {100 * run.swing:.0f} %, points", bench.speed_ripple, 100 * run.swing, 100),
    ):
        if isinstance(read, Estimate):
            hit = read.low - 1e-9 <= truth <= read.high
            off, wide = 100 * (read.value - truth) / unit, 100 * read.half_width / unit
            rows[name].append((off, wide, hit))
        else:
            print(f"{name}: {read.reason}", file=sys.stderr)


def main(clips: int, first: int) -> None:
    rows: dict[str, list[tuple[float, float, bool]]] = defaultdict(list)
    refused = 0
    with tempfile.TemporaryDirectory() as folder:
        for seed in range(first, first + clips):
            rng = np.random.default_rng([78, seed])
            run, view = Run(rng), scene(seed, rng)
            path = Path(folder) / "clip.mp4"
            render(path, view, run.place, run.seconds)
            a, b = (Camera(view).pixel(x, 0) + rng.normal(0, CLICK_PX, 2) for x in (-120.0, 120.0))
            try:
                bench = measure_clip(path, Setup(marks=Marks(*a, *b, 240.0), wheel_mm=run.wheel_mm))
            except OutshopError as problem:
                refused += 1
                print(problem, file=sys.stderr)
                continue
            judged(rows, bench, run)
            print({k: [round(v, 2) for v in r[-1]] for k, r in rows.items()}, file=sys.stderr,
                  flush=True)  # fmt: skip
    print("| figure | n | median error | 95 % of errors below | half width | interval holds |")
    print("|---|---|---|---|---|---|")
    for name, found in sorted(rows.items()):
        off, wide, hit = (np.array(column) for column in zip(*found, strict=True))
        half, held = "-", "-"
        if np.isfinite(wide).any():
            half, held = f"{np.nanmedian(wide):.1f}", f"{int(hit.sum())} of {len(hit)}"
        size = np.abs(off)
        print(f"| {name} | {len(off)} | {np.median(size):.1f} | {np.percentile(size, 95):.1f} | "
              f"{half} | {held} |")  # fmt: skip
    print(f"\n{refused} not measured.")


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 30, int(sys.argv[2]) if sys.argv[2:] else 0)
