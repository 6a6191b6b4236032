"""Accuracy and coverage of the printed strip on rendered clips; prints a markdown table.

Run: python benchmarks/motion_strip.py [clips of each kind]. The renderer is the tests' own.
"""

import sys
import tempfile
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).parents[1] / "tests"))

from bench.motion.film import Scene, render
from bench.motion.paper import strip_on_wall

from outshop.bench.motion.measure import Setup, measure_clip
from outshop.bench.motion.strip_ruler import Print
from outshop.errors import OutshopError
from outshop.estimate import Estimate

KINDS = ("checked", "unchecked", "off the plane", "two markers")


def one(kind: str, rng: np.random.Generator, path: Path) -> Estimate:
    """Render one clip of 0.2 m/s and measure it; what a person reads off is off by a little."""
    name = str(rng.choice(["A", "B"])) if kind != "two markers" else "A"
    printed = float(rng.uniform(0.96, 1.02)) if kind != "unchecked" else float(rng.normal(1, 0.003))
    behind = {"checked": 0.0, "unchecked": 0.0, "off the plane": float(rng.uniform(-30, 40))}
    stands = behind.get(kind, 0.0)
    known = Print(
        control_mm=100 * printed + float(rng.normal(0, 0.2)),
        behind_mm=stands,
        camera_mm=420 + float(rng.normal(0, 10)) if kind == "off the plane" else None,
    )
    scene = Scene(
        seed=int(rng.integers(1 << 30)), width=640, height=360, field_mm=420, rate=24,
        yaw=float(rng.uniform(-12, 12)), roll=float(rng.uniform(-3, 3)),
        noise=float(rng.uniform(1, 7)), shake_px=float(rng.choice([0, 1.2])),
        wall=str(rng.choice(["plain", "spots", "stripes"])), exposure=float(rng.uniform(0.1, 0.6)),
        light=float(rng.choice([1, 0.6])), crf=int(rng.integers(20, 28)),
        paint=strip_on_wall(
            name, low_mm=-65, printed=printed, only=(2, 3) if kind == "two markers" else None,
            behind_mm=stands + float(rng.normal(0, 2.0 if kind == "unchecked" else 1.0)),
        ),
    )  # fmt: skip
    render(path, scene, lambda t: -210 + 200 * t, 2.0)
    speed = measure_clip(path, Setup(strip=known if kind != "unchecked" else Print())).speed
    if not isinstance(speed, Estimate):
        raise OutshopError(speed.reason)
    return speed


def main(clips: int) -> None:
    print("| strip | n | median error % | 95 % of errors below % | half width % | coverage |")
    print("|---|---|---|---|---|---|")
    for number, kind in enumerate(KINDS):
        rng = np.random.default_rng([7, number])
        errors, widths, covered = [], [], []
        with tempfile.TemporaryDirectory() as folder:
            for _ in range(clips):
                try:
                    speed = one(kind, rng, Path(folder) / "c.mp4")
                except OutshopError as problem:
                    print(f"refused ({kind}): {problem}", file=sys.stderr)
                    continue
                errors.append(100 * abs(speed.value / 0.2 - 1))
                widths.append(100 * speed.half_width / 0.2)
                covered.append(speed.low <= 0.2 <= speed.high)
        print(
            f"| {kind} | {len(errors)} | {np.median(errors):.2f} | "
            f"{np.percentile(errors, 95):.2f} | {np.median(widths):.2f} | "
            f"{100 * np.mean(covered):.0f} % |",
            flush=True,
        )


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 24)
