"""Accuracy and coverage of the motion bench on rendered clips; prints markdown tables.

Run: python benchmarks/motion_accuracy.py [clips]. The renderer is the tests' own.
"""

import sys
import tempfile
from collections import defaultdict
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).parents[1] / "tests" / "bench" / "motion"))

from film import Camera, Scene, render

from outshop.bench.motion.measure import Setup, measure_clip
from outshop.bench.motion.ruler import Marks
from outshop.errors import OutshopError
from outshop.estimate import Estimate

HARD = ("shaky", "dim", "noisy", "hidden", "slanted")


def scene(kind: str, seed: int, rng: np.random.Generator) -> Scene:
    walls = ["plain", "spots", "stripes"]
    common = {
        "seed": seed,
        "wall": walls[seed % 3],
        "length_mm": float(rng.uniform(80, 220)),
        "field_mm": float(rng.uniform(500, 900)),
        "body": float(rng.choice([45, 60, 85])),
        "exposure": float(rng.uniform(0.1, 0.6)),
        "rolling": float(rng.choice([0, 0.6])),
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
        "hidden": {"post": True, "hand": True},
        "slanted": {"yaw": float(rng.uniform(8, 14))},
    }[kind]
    return Scene(**(common | extra))


def main(clips: int) -> None:
    rng = np.random.default_rng(2024)
    kinds = ("clean", *HARD)
    errors: dict[tuple[str, str], list[float]] = defaultdict(list)
    covered: dict[tuple[str, str], list[bool]] = defaultdict(list)
    widths: dict[tuple[str, str], list[float]] = defaultdict(list)
    refused: list[str] = []
    with tempfile.TemporaryDirectory() as folder:
        for seed in range(clips):
            kind = kinds[seed % len(kinds)]
            view = scene(kind, seed, rng)
            speed = float(rng.uniform(120, 400)) * (1 if seed % 4 else -1)
            reach = view.field_mm + view.length_mm
            seconds = min(reach / abs(speed), 4.0)
            start = -speed * seconds / 2
            path = Path(folder) / "clip.mp4"
            render(path, view, lambda t, s=start, v=speed: s + v * t, seconds)
            camera = Camera(view)
            a, b = (camera.pixel(x, 0) + rng.normal(0, 0.6, 2) for x in (-120.0, 120.0))
            rulers = {
                "marks": Setup(marks=Marks(*a, *b, 240.0)),
                "length": Setup(length_mm=view.length_mm * (1 + rng.normal(0, 0.002))),
            }
            for name, setup in rulers.items():
                try:
                    found = measure_clip(path, setup).speed
                except OutshopError as problem:
                    refused.append(f"{kind} {name} seed {seed}: {problem}")
                    continue
                if not isinstance(found, Estimate):
                    refused.append(f"{kind} {name} seed {seed}: {found.reason}")
                    continue
                truth = abs(speed) / 1000
                errors[kind, name].append(100 * (found.value / truth - 1))
                covered[kind, name].append(found.low <= truth <= found.high)
                widths[kind, name].append(100 * found.half_width / truth)
                if not covered[kind, name][-1]:
                    print("missed", kind, name, seed, errors[kind, name][-1], view, file=sys.stderr)
            path.unlink()
    print(
        "| clips | ruler | n | median error % | 95 % of errors below % | half width % | coverage |"
    )
    print("|---|---|---|---|---|---|---|")
    for (kind, name), off in sorted(errors.items()):
        size = np.abs(off)
        inside = np.mean(covered[kind, name])
        print(
            f"| {kind} | {name} | {len(off)} | {np.median(size):.2f} | "
            f"{np.percentile(size, 95):.2f} | {np.median(widths[kind, name]):.2f} | "
            f"{100 * inside:.0f} % |"
        )
    for name in ("marks", "length"):
        every = [c for (_, n), cs in covered.items() if n == name for c in cs]
        print(f"\nAll with {name}: {100 * np.mean(every):.1f} % of {len(every)} intervals cover.")
    print(f"\nNot measured: {len(refused)}")
    for line in refused:
        print(f"- {line}")


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 60)
