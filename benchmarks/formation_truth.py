"""The haul against a dense walk, and the longest train against brute force; prints a table.

Run: ``python benchmarks/formation_truth.py [haul scenes] [brute-force scenes]``. The references
are those of the tests (tests/formation/scenes.py), which share no code with the room.
"""

import random
import sys
import time
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[1] / "tests"))

from formation.scenes import best_by_brute_force, needed_by_dense_walk, random_scene

from outshop.formation.haul import haul
from outshop.formation.solve import solve
from outshop.formation.task import prepare_task

COUPLINGS = (("loop",), ("loop", "hook"), ("loop", "hook", "claw"))


def main(hauls: int, solves: int) -> None:
    worst = 0.0
    for seed in range(hauls):
        rng = random.Random(seed)
        asked = random_scene(rng, rng.randint(0, 10), rng.randint(1, 8), tenths=seed % 2 == 0)
        worst = max(worst, abs(haul(asked).needed_g - needed_by_dense_walk(asked)))
    print(f"haul: {hauls} scenes, largest difference {worst:.1e} g", flush=True)
    wrong, unproven, spent = 0, 0, []
    for seed in range(solves):
        rng = random.Random(10_000 + seed)
        asked = random_scene(
            rng, rng.randint(1, 7 if seed % 10 else 8), rng.randint(1, 20), rng.choice(COUPLINGS),
            loop=rng.choice((600.0, 900.0, 1400.0)), pull=rng.choice((8.0, 12.0, 20.0, 40.0)),
            tenths=seed % 3 == 0,
        )  # fmt: skip
        number, length = best_by_brute_force(asked)
        begin = time.perf_counter()
        found = solve(prepare_task(asked))
        spent.append(time.perf_counter() - begin)
        train = found.trains[0] if found.trains else ()
        wrong += len(train) != number or abs(sum(v.length_mm for v in train) - length) > 1e-6
        unproven += not found.proven
    print(f"longest: {solves} scenes, {wrong} wrong, {unproven} not proven, "
          f"mean {sum(spent) / len(spent):.2f} s, worst {max(spent):.2f} s")  # fmt: skip


if __name__ == "__main__":
    main(*(int(a) for a in sys.argv[1:3])) if len(sys.argv) > 2 else main(300, 200)
