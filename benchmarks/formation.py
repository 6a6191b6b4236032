"""Speed and proof of the train solver; prints the table of docs/methods/formation.md.

Run: ``python benchmarks/formation.py [scenes] [row from 0, -1 for all] [first seed]``. Each row is
a set of seeded random scenes; times are the worst of them, CPU is the work of this process (all its
threads). The baseline in the same run is a plain mixed-integer model of the same question in HiGHS
(benchmarks/formation_milp.py), on the small scenes it can close.
"""

import sys
import time
from statistics import median

from formation_scenes import random_scene

from outshop.formation.proof import AIMED
from outshop.formation.recipes import find_recipe
from outshop.formation.solve import Best, solve
from outshop.formation.task import prepare_task

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


def gaps(best: Best) -> tuple[float, float]:
    """Gap of the aim (points of score, or per cent of vehicles, then length), and of the ties."""
    if best.proof is None:
        return (0.0, 0.0) if best.proven else (100.0, 100.0)
    found = {"aim": 0.0, "ties": 0.0}
    for level, lack in best.proof.gap.items():
        part = "aim" if level in AIMED[best.proof.aim] else "ties"
        if lack and not any(found.values()):
            found[part] = lack if level == "score" else 100 * lack / best.proof.most[level]
    return found["aim"], found["ties"]


def main(scenes: int, rows: range, start: int) -> None:
    print("| scenes | first train s | all s | CPU s | proven | gap, worst | ties proven "
          "| ties' gap %, median | worst | vehicles |")  # fmt: skip
    print("|---|---|---|---|---|---|---|---|---|---|")
    for title, vehicles, sections, loop, pull, recipe, aim in (CASES[row] for row in rows):
        first, total, work, aims, ties, proven, equals, sizes = [], [], [], [], [], 0, 0, []
        for seed in range(start, start + scenes):
            scene = random_scene(seed, vehicles, sections, loop_mm=loop, pull_g=pull, recipe=recipe)
            begin, worked = time.perf_counter(), time.process_time()
            task = prepare_task(scene, find_recipe(recipe) if recipe else None)
            best = solve(task, aim)
            total.append(time.perf_counter() - begin)
            work.append(time.process_time() - worked)
            first.append(best.first_after_s)
            proven += best.proven
            equals += best.best_of_equals
            aims.append(gaps(best)[0])
            ties.append(gaps(best)[1])
            sizes.append(len(best.trains[0]) if best.trains else 0)
        print(
            f"| {title} | {max(first):.2f} | {max(total):.1f} | {max(work):.1f} "
            f"| {proven} of {scenes} | {max(aims):.1f} | {equals} of {scenes} "
            f"| {median(ties):.1f} | {max(ties):.1f} | {min(sizes)} to {max(sizes)} |",
            flush=True,
        )


if __name__ == "__main__":
    given = [int(a) for a in sys.argv[1:]] + [None] * 3
    main(
        10 if given[0] is None else given[0],
        range(len(CASES)) if given[1] in (None, -1) else range(given[1], given[1] + 1),
        given[2] or 0,
    )
