"""Clicks heard in a room's noise: how many are found, how late, how many are false.

Run: python benchmarks/motion_moments.py [sounds]. The sounds are the tests' own.
"""

import sys
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).parents[1] / "tests"))

from bench.motion.test_moments import click, motor, room

from outshop.bench.motion.clicks import onsets

RATE, SECONDS, WHEN_S = 44_100, 6.0, 2.5
SIZES = (0.002, 0.005, 0.01, 0.05, 0.5)  # peak of the click over full scale
NEAR_S = 0.02


def main(sounds: int) -> None:
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
            times = 1000 * np.array(late or [np.nan])
            print(
                f"| {'motor running' if running else 'quiet'} | {over:.1f} | "
                f"{100 * found / sounds:.0f} % | {np.median(times):.1f}, "
                f"{np.percentile(times, 95):.1f} | {false} in {sounds * SECONDS / 60:.0f} min |"
            )


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 60)
