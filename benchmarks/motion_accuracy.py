"""Accuracy and coverage of the motion bench on rendered clips; prints markdown tables.

Run: python benchmarks/motion_accuracy.py CLIPS [FIRST_SEED]. The renderer is the tests' own; each
seed is a clip of its own, so that runs with different seeds share nothing.
"""

import resource
import sys
import tempfile
from collections import defaultdict
from collections.abc import Callable
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).parents[1] / "tests" / "bench" / "motion"))

from film import Camera, Scene, render

from outshop.bench.motion.measure import Setup, measure_clip
from outshop.bench.motion.result import MotionBench
from outshop.bench.motion.ruler import Marks
from outshop.errors import OutshopError
from outshop.estimate import Estimate

KINDS = ("clean", "shaky", "dim", "noisy", "hidden", "slanted", "train", "phone")
CLICK_PX = 0.6  # standard error with which a person sets a mark, pixels of the clip
CALIPER = 0.002  # relative standard error of a measured length over buffers
RUNS = ("passes", "stops", "reverses")


def scene(kind: str, seed: int, rng: np.random.Generator) -> Scene:
    common = {
        "seed": seed,
        "width": 854 if rng.uniform() < 0.5 else 960,
        "height": 480 if rng.uniform() < 0.5 else 540,
        "wall": ("plain", "spots", "stripes")[int(rng.integers(3))],
        "length_mm": float(rng.uniform(80, 220)),
        "field_mm": float(rng.uniform(500, 900)),
        "body": float(rng.choice([45, 60, 85])),
        "exposure": float(rng.uniform(0.1, 0.6)),
        "rolling": float(rng.choice([0, 0.6], p=[0.7, 0.3])),
        "crf": int(rng.integers(20, 29)),
        "jitter": float(rng.choice([0, 0.4])),
        "rate": float(rng.choice([24, 30, 50])),
        "roll": float(rng.uniform(-2, 2)),
        "yaw": float(rng.uniform(-3, 3)),
        "noise": float(rng.uniform(1, 3)),
        "shadow": float(rng.choice([0, 0.25])),
    }
    extra = {
        "clean": {},
        "shaky": {"shake_px": 1.5, "shake_turn": 0.1},
        "dim": {"light": 0.35, "noise": 4.0},
        "noisy": {"noise": 9.0, "crf": 30},
        "hidden": {"post": True, "hand": True, "passer": 0.06},
        "slanted": {"yaw": float(rng.uniform(8, 14))},
        "train": {"cars": 2, "length_mm": float(rng.uniform(220, 320)), "mirror": 0.2},
        "phone": {"drop": 0.15, "drift": 0.1, "interlaced": bool(rng.uniform() < 0.3)},
    }[kind]
    return Scene(**(common | extra))


def run_of(kind: str, view: Scene, speed: float) -> tuple[Callable[[float], float], float]:
    """Give the place over time (mm) and the seconds of a run with one steady speed."""
    if kind == "passes":
        seconds = min((view.field_mm + view.length_mm) / abs(speed), 3.0)
        return (lambda t: speed * (t - seconds / 2)), seconds
    if kind == "reverses":
        return (lambda t: speed * (0.75 - abs(t - 1.5))), 3.0
    gain, rest, steady = 4 * speed, 0.4, 1.6  # from rest to the speed in a quarter of a second

    def place(t: float) -> float:
        up = min(max(t - rest, 0.0), 0.25)
        even = min(max(t - rest - 0.25, 0.0), steady)
        down = min(max(t - rest - 0.25 - steady, 0.0), 0.25)
        way = gain * up * up / 2 + speed * even + speed * down - gain * down * down / 2
        return way - speed * (steady + 0.25) / 2

    return place, rest + 0.25 + steady + 0.25 + 0.4


class Table:
    """Errors, widths and hits, by group."""

    def __init__(self) -> None:
        self.rows: dict[tuple[str, str], list[tuple[float, float, bool]]] = defaultdict(list)

    def add(self, group: tuple[str, str], found: Estimate, truth: float, where: str) -> None:
        """Note one reading; say on the error channel when its interval misses."""
        hit = found.low <= truth <= found.high
        size = abs(truth) or 1.0
        self.rows[group].append(
            (100 * (found.value - truth) / size, 100 * found.half_width / size, hit)
        )
        if not hit:
            off = 100 * (found.value - truth) / size
            print(f"missed {where}: {off:.2f} %, half width {100 * found.half_width / size:.2f} %",
                  file=sys.stderr, flush=True)  # fmt: skip

    def show(self) -> None:
        """Print the table."""
        print("| clips | by | n | median error % | 95 % of errors below % | half width % | cover |")
        print("|---|---|---|---|---|---|---|")
        for (kind, name), rows in sorted(self.rows.items()):
            off, wide, hit = (np.array(column) for column in zip(*rows, strict=True))
            print(
                f"| {kind} | {name} | {len(rows)} | {np.median(np.abs(off)):.2f} | "
                f"{np.percentile(np.abs(off), 95):.2f} | {np.median(wide):.2f} | "
                f"{100 * hit.mean():.0f} % |"
            )
        for name in sorted({n for _, n in self.rows}):
            every = [row[2] for (_, n), rows in self.rows.items() if n == name for row in rows]
            print(f"\nAll by {name}: {sum(every)} of {len(every)} ({100 * np.mean(every):.1f} %).")


def judged(table: Table, kind: str, name: str, bench: MotionBench, speed: float, at: str) -> None:
    if isinstance(bench.speed, Estimate):
        table.add((kind, name), bench.speed, abs(speed) / 1000, at)


def main(clips: int, first: int) -> None:
    table, refused = Table(), []
    with tempfile.TemporaryDirectory() as folder:
        for seed in range(first, first + clips):
            rng = np.random.default_rng([77, seed])
            kind, run = KINDS[seed % len(KINDS)], RUNS[seed // len(KINDS) % len(RUNS)]
            view = scene(kind, seed, rng)
            speed = float(rng.uniform(120, 300)) * (1 if rng.uniform() < 0.5 else -1)
            place, seconds = run_of(run, view, speed)
            path = Path(folder) / "clip.mp4"
            render(path, view, place, seconds)
            camera = Camera(view)
            a, b = (camera.pixel(x, 0) + rng.normal(0, CLICK_PX, 2) for x in (-120.0, 120.0))
            rulers = {
                "marks": Setup(marks=Marks(*a, *b, 240.0)),
                "length": Setup(length_mm=view.length_mm * (1 + rng.normal(0, CALIPER))),
            }
            for name, setup in rulers.items():
                at = f"{kind} {run} {view.wall} {name} seed {seed}"
                try:
                    bench = measure_clip(path, setup)
                except OutshopError as problem:
                    refused.append(f"{at}: {problem}")
                    continue
                if not isinstance(bench.speed, Estimate):
                    refused.append(f"{at}: {bench.speed.reason}")
                judged(table, kind, name, bench, speed, at)
            path.unlink()
    table.show()
    print(f"\nNot measured: {len(refused)}")
    for line in refused:
        print(f"- {line}")
    print(f"\n{resource.getrusage(resource.RUSAGE_SELF).ru_utime:.0f} s of processor time")


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 64, int(sys.argv[2]) if sys.argv[2:] else 0)
