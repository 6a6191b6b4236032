"""Speed and proof of the train solver; prints the table of docs/methods/formation.md.

Run: ``python benchmarks/formation.py [scenes] [row from 0]``. Each row is a set of seeded random
scenes; times are the worst of them, CPU is the work of this process (all its threads). The baseline
in the same run is a plain mixed-integer model of the same question in HiGHS
(benchmarks/formation_milp.py), on the small scenes it can close.
"""

import sys
import time
from statistics import median

from formation_scenes import random_scene

from outshop.formation.exact import score_of
from outshop.formation.recipes import find_recipe
from outshop.formation.solve import Best, solve
from outshop.formation.task import prepare_task, units

CASES = (
    # title, vehicles, sections, loop, pull, recipe, aim
    ("60, longest, no recipe", 60, 30, 2500.0, 50.0, None, "longest"),
    ("60, longest, goods", 60, 30, 2500.0, 50.0, "goods", "longest"),
    ("60, believable, goods", 60, 30, 2500.0, 50.0, "goods", "believable"),
    ("60, believable, stopping", 60, 30, 2500.0, 50.0, "stopping-passenger", "believable"),
    ("60, believable, weak engine", 60, 30, 2500.0, 25.0, "goods", "believable"),
    ("500, longest", 500, 30, 4000.0, 70.0, None, "longest"),
    ("500, believable, goods", 500, 30, 4000.0, 70.0, "goods", "believable"),
)


def gap_percent(best: Best, engine_mm: float, score: float | None) -> float:
    """Gap of the first aim that is open: score, then vehicles, then length."""
    train = best.trains[0]
    if score is not None and score < best.most["score"] - 1e-9:
        return best.most["score"] - score
    lack = best.most["vehicles"] - len(train)
    if lack > 0:
        return 100 * lack / best.most["vehicles"]
    length = engine_mm + sum(units(v.length_mm) for v in train) / 1e6
    return 100 * (best.most["length_mm"] - length) / best.most["length_mm"]


def main(scenes: int, rows: range) -> None:
    print("| scenes | first train s | all s | CPU s | proven | gap %, median | worst | vehicles |")
    print("|---|---|---|---|---|---|---|---|")
    for title, vehicles, sections, loop, pull, recipe, aim in (CASES[row] for row in rows):
        first, total, work, gaps, proven, sizes = [], [], [], [], 0, []
        for seed in range(scenes):
            scene = random_scene(seed, vehicles, sections, loop_mm=loop, pull_g=pull, recipe=recipe)
            begin, worked = time.perf_counter(), time.process_time()
            task = prepare_task(scene, find_recipe(recipe) if recipe else None)
            best = solve(task, aim)
            total.append(time.perf_counter() - begin)
            work.append(time.process_time() - worked)
            first.append(best.first_after_s)
            proven += best.proven
            score = score_of(task, best.trains[0]) if aim == "believable" else None
            gap = gap_percent(best, scene.locomotive.length_mm, score)
            gaps.append(0.0 if best.proven else gap)
            sizes.append(len(best.trains[0]))
        print(
            f"| {title} | {max(first):.2f} | {max(total):.1f} | {max(work):.1f} "
            f"| {proven} of {scenes} | {median(gaps):.1f} | {max(gaps):.1f} "
            f"| {min(sizes)} to {max(sizes)} |",
            flush=True,
        )


if __name__ == "__main__":
    every = range(len(CASES))
    main(
        int(sys.argv[1]) if len(sys.argv) > 1 else 10,
        range(int(sys.argv[2]), int(sys.argv[2]) + 1) if len(sys.argv) > 2 else every,
    )
