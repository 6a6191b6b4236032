"""Coverage of the change of level between two recordings: ``sound_coverage.py FIRST COUNT``.

Two takes of one simulated machine in one room: phases, roughness, noise and the slow wander of
the speed are drawn anew, and the machine is louder or quieter by a known amount. The interval of
the change should hold it in 95 % of the pairs.
"""

import sys
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).parents[1] / "tests" / "bench" / "sound"))

from recording_simulator import random_scene, record

from outshop.bench.compare import compare
from outshop.bench.sound import SoundBench
from outshop.bench.sound.laps import lap_time
from outshop.bench.sound.levels import measure_levels
from outshop.bench.sound.measure import digest_samples
from outshop.bench.sound.runs import find_runs
from outshop.bench.sound.thirds import third_octaves
from outshop.estimate import Estimate


def main() -> None:
    first, count = int(sys.argv[1]), int(sys.argv[2])
    pairs = [one(seed) for seed in range(first, first + count)]
    print("| pairs | level change held | median half width, dB |")
    print("|---|---|---|")
    for name, laps in (("no laps", False), ("laps", True)):
        some = [p for p in pairs if p[0] == laps and p[1] is not None]
        if some:
            held = sum(p[1] for p in some)
            print(f"| {name} | {held} of {len(some)} | {np.median([p[2] for p in some]):.2f} |")
    print(f"no level on one side: {sum(p[1] is None for p in pairs)}")


def one(seed):
    change_db = float(np.random.default_rng(seed).uniform(-8, 8))
    scene = random_scene(seed, drift=0.05, rate=22_050, run_s=12.0, ramp_s=0.2)
    takes = [record(random_scene(seed, **how(scene, take))) for take in (1, 2)]
    louder = takes[1].machine * 10 ** (change_db / 20) + takes[1].noise
    benches = [bench(s, scene.rate) for s in (takes[0].samples, louder.astype("f4"))]
    change = next((r.change for r in compare(*benches).rows if r.quantity == "level"), None)
    if not isinstance(change, Estimate):
        return scene.lap_s > 0, None, None
    return scene.lap_s > 0, change.low <= change_db <= change.high, change.half_width


def how(scene, take):
    return {"drift": 0.05, "rate": scene.rate, "run_s": 12.0, "ramp_s": 0.2, "take": take}


def bench(samples, rate):
    """Give the levels of a recording, by the same functions as the whole bench."""
    digest = digest_samples(samples, rate)
    runs = find_runs(digest)
    lap = lap_time(digest, runs)
    levels = measure_levels(digest, runs, None, lap.value if isinstance(lap, Estimate) else None)
    return SoundBench(
        digest.duration_s,
        rate,
        "",
        runs,
        levels.level,
        levels.as_recorded,
        levels.background,
        bands=third_octaves(digest, runs, None),
    )


if __name__ == "__main__":
    main()
