"""The train solver against a plain mixed-integer model in HiGHS, in the same run.

Wagons of one length stand at known places, so that every demand of hauling is linear in "wagon i
stands at place k": the whole question is one assignment model, written out in full for every
crossing. Both must find the same number of vehicles.

Run: ``python benchmarks/formation_milp.py [scenes]``
"""

import random
import sys
import time

import numpy as np
from formation_scenes import random_line
from scipy.optimize import Bounds, LinearConstraint, milp

from outshop.formation.scene import Locomotive, Range, Scene, Vehicle, Wish
from outshop.formation.solve import solve
from outshop.formation.task import prepare_task

LENGTH, ENGINE, LOOP = 110, 120, 1500.0


def like_long(seed: int, vehicles: int, pull: float) -> Scene:
    rng = random.Random(seed)
    shelf = []
    for i in range(vehicles):
        roll = float(rng.randint(10, 40))
        shelf.append(
            Vehicle(f"w{i}", LENGTH, rng.randint(25, 110), rolling=Range(roll, roll, roll),
                    couplings=("loop", "loop"))
        )  # fmt: skip
    engine = Locomotive(ENGINE, 300, pull, couplings=("loop", "loop"))
    return Scene(random_line(rng, 12), engine, tuple(shelf), Wish(loop_mm=LOOP))


def by_milp(scene: Scene, seconds: float) -> tuple[int, bool]:
    """Solve the assignment model; give the number of vehicles and whether it is proven."""
    n = len(scene.vehicles)
    places = min(n, int((LOOP - ENGINE) // LENGTH))
    ends = np.concatenate([[0.0], np.cumsum([s.length_mm for s in scene.line])])
    slope = [s.grade_permille + (8128 / s.radius_mm if s.radius_mm else 0) for s in scene.line]
    grade = [s.grade_permille for s in scene.line]
    slope, grade = np.array([0, *slope, 0]), np.array([0, *grade, 0])
    middles = ENGINE + LENGTH * (np.arange(places) + 0.5)
    heads = {0.0} | {float(e + m) for e in ends for m in (ENGINE / 2, *middles)}
    mass = np.array([v.mass_g for v in scene.vehicles])
    roll = np.array([v.rolling_permille for v in scene.vehicles])
    rows, most = [], []
    for head in heads:
        e = slope[np.searchsorted(ends, head - middles, side="right")]
        own = grade[np.searchsorted(ends, head - ENGINE / 2, side="right")]
        rows.append((mass[:, None] * (roll[:, None] + e[None, :]) / 1000).ravel())
        most.append(scene.locomotive.pull_g - scene.locomotive.mass_g * own / 1000)
    once = np.kron(np.eye(n), np.ones(places))
    place = np.tile(np.eye(places), n)
    packed = place[1:] - place[:-1]  # no gap before a vehicle
    demands = [
        LinearConstraint(np.array(rows), -np.inf, np.array(most)),
        LinearConstraint(once, 0, 1),
        LinearConstraint(place, 0, 1),
        LinearConstraint(packed, -np.inf, 0),
    ]
    found = milp(
        -np.ones(n * places),
        constraints=demands,
        integrality=np.ones(n * places),
        bounds=Bounds(0, 1),
        options={"time_limit": seconds},
    )
    return (-1 if found.x is None else round(-found.fun)), found.status == 0


def main(scenes: int) -> None:
    print("| vehicles | ours s | HiGHS s | ratio | ours proven | HiGHS proven | same number |")
    print("|---|---|---|---|---|---|---|")
    for vehicles, pull in ((8, 12.0), (12, 18.0), (20, 22.0)):
        ours, theirs, proven, closed, same = 0.0, 0.0, 0, 0, 0
        for seed in range(scenes):
            scene = like_long(seed, vehicles, pull)
            begin = time.perf_counter()
            best = solve(prepare_task(scene))
            ours += time.perf_counter() - begin
            begin = time.perf_counter()
            number, done = by_milp(scene, 20.0)
            theirs += time.perf_counter() - begin
            proven += best.proven
            closed += done
            same += len(best.trains[0] if best.trains else ()) == number
        print(
            f"| {vehicles} | {ours / scenes:.2f} | {theirs / scenes:.2f} | {ours / theirs:.2f} "
            f"| {proven} of {scenes} | {closed} of {scenes} | {same} of {scenes} |",
            flush=True,
        )


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 6)
