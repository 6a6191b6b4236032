"""Accuracy and status of the motor speed, and coverage of intervals, on simulated recordings.

``python benchmarks/sound_accuracy.py FIRST COUNT`` prints markdown tables. The simulator is the
independent one of the tests. Two passes with different FIRST may run side by side.
"""

import sys
from collections import Counter
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).parents[1] / "tests" / "bench" / "sound"))

from recording_simulator import random_model, random_scene, record

from outshop.bench.sound import measure_samples, read_drive
from outshop.bench.sound.measure import digest_samples
from outshop.bench.sound.motor import find_motor
from outshop.bench.sound.runs import find_runs
from outshop.bench.sound.stretch import stretches
from outshop.estimate import Estimate


def main() -> None:
    first, count = int(sys.argv[1]), int(sys.argv[2])
    rows = [one(seed) for seed in range(first, first + count)]
    print_accuracy(rows)
    print_coverage(rows)


def one(seed):
    scene = random_scene(seed)
    take = record(scene)
    bench = measure_samples(take.samples, scene.rate, read_drive(scene.model.toml()))
    wrong, _ = random_model(np.random.default_rng(seed + 200_000))
    digest = digest_samples(take.samples, scene.rate)
    other = find_motor(stretches(digest, find_runs(digest)), read_drive(wrong.toml()))
    speed = bench.motor_speed
    right = isinstance(speed, Estimate) and abs(speed.value / take.motor_rate - 1) < 0.02
    return {
        "scene": scene,
        "status": bench.motor_speed_status,
        "wrong": other.status,
        "right": right,
        "speed_held": right and speed.low <= take.motor_rate <= speed.high,
        "depth_held": held(bench.wheel_turn_modulation, 100 * scene.wheel_am),
        "runs": [r.state for r in bench.runs] == ["still", "running", "still"],
    }


def held(reading, truth):
    return reading.low <= truth <= reading.high if isinstance(reading, Estimate) else None


def print_accuracy(rows):
    print("| recordings | count | within 2 % | confident | of these right | not found |")
    print("|---|---|---|---|---|---|")
    groups = {"all": lambda s: bool(s)}
    groups |= {f"{p} poles": lambda s, p=p: s.model.poles == p for p in (3, 5, 7)}
    groups |= {
        "worm": lambda s: s.model.teeth[0][0] <= 4,
        "spur": lambda s: s.model.teeth[0][0] > 4,
        "10 to 17 dB": lambda s: s.snr_db < 17,
        "17 to 24 dB": lambda s: 17 <= s.snr_db < 24,
        "24 to 30 dB": lambda s: s.snr_db >= 24,
        "swing within the wheel turn": lambda s: s.swing > 0,
        "all tones of the drive there": lambda s: s.drop == 0,
        "three tenths of the tones missing": lambda s: s.drop == 0.3,
    }
    for name, belongs in groups.items():
        some = [r for r in rows if belongs(r["scene"])]
        if not some:
            continue
        sure = [r for r in some if r["status"] == "confident"]
        print(
            f"| {name} | {len(some)} | {share(some, 'right')} | {len(sure) / len(some):.1%} "
            f"| {share(sure, 'right')} | {sum(r['status'] == 'not_found' for r in some)} |"
        )
    print(f"\nA drive of another model: {dict(Counter(r['wrong'] for r in rows))}")
    print(f"Still, running, still as recorded: {share(rows, 'runs')}")


def print_coverage(rows):
    dry = [r for r in rows if r["scene"].echo_s == 0 and r["scene"].swing == 0]
    right = [r for r in rows if r["right"]]
    print()
    print(f"Motor speed held by its interval: {share(right, 'speed_held')}")
    known = [r for r in dry if r["depth_held"] is not None and r["right"]]
    print(f"Wheel-turn modulation held, no echo, no swing: {share(known, 'depth_held')}")


def share(rows, key):
    return f"{np.mean([r[key] for r in rows]):.1%} of {len(rows)}" if rows else "none"


if __name__ == "__main__":
    main()
