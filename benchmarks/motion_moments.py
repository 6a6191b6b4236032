"""Clicks in a room's noise: found, late, false; and starts: how far off the first motion is.

Run: python benchmarks/motion_moments.py [sounds]. The sounds are the tests' own.
"""

import sys
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).parents[1] / "tests"))

from bench.motion.test_moments import click, motor, room

from outshop.bench.motion.clicks import onsets
from outshop.bench.motion.kinematics import moving_spans, place_noise, speed_curve
from outshop.bench.motion.moments import start_times

RATE, SECONDS, WHEN_S = 44_100, 6.0, 2.5
SIZES = (0.002, 0.005, 0.01, 0.05, 0.5)  # peak of the click over full scale
NEAR_S = 0.02


def starts(runs: int) -> None:
    """Way after a start at uniform acceleration, a t^2 / 2, up to 120 mm/s."""
    print("| acceleration mm/s2 | frames/s | error ms (median, 95 %) | within 1.96 frames |")
    print("|---|---|---|---|")
    for gain in (20.0, 200.0, 800.0, 3000.0):
        for rate in (24, 30, 60, 120):
            rng = np.random.default_rng([5, int(gain), rate])
            off = []
            for _ in range(runs):
                t = np.arange(0, 5, 1 / rate) + rng.uniform(0, 1 / rate)
                begin = 1.5 + float(rng.uniform(0, 0.1))
                dt = np.clip(t - begin, 0, None)
                up = 120 / gain
                way = np.where(dt < up, gain * dt**2 / 2, gain * up**2 / 2 + 120 * (dt - up))
                x = way + rng.normal(0, rng.uniform(0.02, 0.05), len(t))
                v, error = speed_curve(t, x, 0.2)
                noise = place_noise(t, x)
                found = start_times(t, x, moving_spans(t, v, noise * error + 1e-9), noise)
                off.append(abs(found[0] - begin) if found else np.inf)
            times = np.array(off)
            print(
                f"| {gain:.0f} | {rate} | {1000 * np.median(times):.0f}, "
                f"{1000 * np.percentile(times, 95):.0f} | "
                f"{100 * np.mean(times < 1.96 / rate):.0f} % |"
            )


def main(sounds: int) -> None:
    starts(5 * sounds)
    print()
    print("| room | click, peak over room's deviation | found | error ms (median, 95 %) | false |")
    print("|---|---|---|---|---|")
    for running in (False, True):
        for size in SIZES:
            rng = np.random.default_rng([4, int(1000 * size), running])
            late, found, false = [], 0, 0
            over = 0.0
            for _ in range(sounds):
                sound = room(SECONDS, rng)
                if running:
                    motor(sound, 0.0, rng, 0.01)
                over = size / float(sound[RATE:].std())
                when = WHEN_S + float(rng.uniform(0, 1))
                click(sound, when, size)
                heard = [o.t_s - when for o in onsets(sound.astype(np.float32), RATE)]
                mine = [d for d in heard if abs(d) < NEAR_S]
                found += bool(mine)
                false += len(heard) - len(mine)
                late += [abs(d) for d in mine[:1]]
            times = 1000 * np.array(late)
            error = f"{np.median(times):.1f}, {np.percentile(times, 95):.1f}" if late else "-"
            print(
                f"| {'motor running' if running else 'quiet'} | {over:.1f} | "
                f"{100 * found / sounds:.0f} % | {error} | {false} in "
                f"{sounds * SECONDS / 60:.0f} min |"
            )


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 60)
