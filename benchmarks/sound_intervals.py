"""Coverage of motor speed and wheel-turn modulation: ``sound_intervals.py FIRST COUNT``.

Quicker than ``sound_accuracy.py``: at 22 to 24 kHz, and the motor is looked for within 1.3 times
of its true speed only, so this tells how good the intervals are once the right reading is taken.
"""

import sys
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).parents[1] / "tests" / "bench" / "sound"))

from recording_simulator import random_scene, record

from outshop.bench.sound import details, motor, read_drive
from outshop.bench.sound.measure import digest_samples
from outshop.bench.sound.runs import find_runs
from outshop.bench.sound.speed import Sight, speed_range, track_near
from outshop.bench.sound.stretch import stretches
from outshop.estimate import Estimate


def main() -> None:
    first, count = int(sys.argv[1]), int(sys.argv[2])
    found = (one(seed) for seed in range(first, first + count))
    rows = [row for row in found if row is not None]
    print("| recordings | motor speed held | modulation held |")
    print("|---|---|---|")
    groups = {
        "all": lambda _: True,
        "no swing, no echo": lambda s: s.swing == 0 and s.echo_s == 0,
        "no swing, echo": lambda s: s.swing == 0 and s.echo_s > 0,
        "swing, no echo": lambda s: s.swing > 0 and s.echo_s == 0,
        "swing and echo": lambda s: s.swing > 0 and s.echo_s > 0,
    }
    for name, belongs in groups.items():
        some = [row for row in rows if belongs(row[0])]
        print(f"| {name} | {tell([r[1] for r in some])} | {tell([r[2] for r in some])} |")


def one(seed):
    scene = random_scene(seed, rate=22_050 + 1_950 * (seed % 2))
    take = record(scene)
    drive = read_drive(scene.model.toml())
    digest = digest_samples(take.samples, scene.rate)
    runs = find_runs(digest)
    running = stretches(digest, runs)
    if len(running) != 1:
        return None
    hum = motor.find_hum(running[0].samples, scene.rate)
    samples = motor.without_tones(running[0].samples, scene.rate, hum)
    sight = Sight(samples, scene.rate, drive, speed_range(drive))
    best = track_near(sight, take.motor_rate)[0]
    if abs(best.speed.mean() / take.motor_rate - 1) > 0.02:
        return None
    heard = motor.Heard(running[0], hum, "confident", 1.0, best)
    turns = details.turn_fields(heard, drive, stretches(digest, runs, "still"))
    depth = turns["wheel_turn_modulation"]
    return (
        scene,
        held(motor.mean_speed([heard]), take.motor_rate),
        held(depth, 100 * scene.wheel_am),
    )


def held(reading, truth):
    return reading.low <= truth <= reading.high if isinstance(reading, Estimate) else None


def tell(answers):
    known = [a for a in answers if a is not None]
    return f"{np.sum(known)} of {len(known)}"


if __name__ == "__main__":
    main()
