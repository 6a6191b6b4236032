"""Coverage of the change of level between two recordings: ``sound_coverage.py FIRST COUNT``.

The machine's noise source changes by a known amount, room and programme stay; the interval of
the change should hold it in 95 % of the pairs.
"""

import sys
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).parents[1] / "tests" / "bench" / "sound"))

from recording_simulator import coloured, random_scene, record

from outshop.bench.compare import compare
from outshop.bench.sound import measure_samples
from outshop.estimate import Estimate


def main() -> None:
    first, count = int(sys.argv[1]), int(sys.argv[2])
    held = [x for x in (one(seed) for seed in range(first, first + count)) if x is not None]
    print(f"Level change held by its interval: {np.mean(held):.1%} of {len(held)}")


def one(seed):
    rng = np.random.default_rng(seed)
    change_db = float(rng.uniform(-8, 8))
    scene = random_scene(seed, lap_s=0.0, drift=0.05, rate=22_050, run_s=10.0, ramp_s=0.2)
    take = record(scene)
    rate = scene.rate
    before = measure_samples(take.samples, rate)
    noise = coloured(rng, take.noise.size, scene.noise_colour) * take.noise.std()
    louder = take.machine * 10 ** (change_db / 20)
    after = measure_samples((louder + noise).astype("f4"), rate)
    change = next(r.change for r in compare(before, after).rows if r.quantity == "level")
    return change.low <= change_db <= change.high if isinstance(change, Estimate) else None


if __name__ == "__main__":
    main()
