"""Time of a whole diagnosis against a naive enumeration of pairs of causes, in the same run.

The baseline weighs only "no cause", single causes and pairs, in plain numpy, for one ranking
without reasons or checks; the diagnosis ranks exactly, gives reasons and plans two checks ahead.

Run: python benchmarks/diagnosis_speed.py
"""

import time

import numpy as np

from outshop.diagnosis.case import Case
from outshop.diagnosis.diagnosis import diagnose
from outshop.diagnosis.evidence import gather
from outshop.diagnosis.load import load_knowledge, shipped_knowledge

NAMES = (
    "runs_slow", "motor_hot", "jerky", "starts_with_push", "arcing_sound_sparks", "noise_general",
    "stiff_by_hand", "lights_dim", "once_per_rev", "slows_uphill",
)  # fmt: skip
ROUNDS = 5


def pairs(knowledge, case):
    """Rank by single causes and pairs alone."""
    evidence = gather(knowledge, case)
    odds = evidence.prior / (1 - evidence.prior) * evidence.factor
    weight = np.outer(odds, odds)
    single = odds.copy()
    for finding in evidence.findings:
        missing = (1 - finding.leak) * (1 - finding.strength)
        single *= 1 - missing
        weight *= 1 - np.outer(missing, 1 - finding.strength)
    np.fill_diagonal(weight, 0)
    return single + weight.sum(axis=1)


def timed(function, *words):
    """Give the median of a few rounds in milliseconds."""
    spent = []
    for _ in range(ROUNDS):
        begun = time.perf_counter()
        function(*words)
        spent.append(1e3 * (time.perf_counter() - begun))
    return float(np.median(spent))


def main():
    begun = time.perf_counter()
    load_knowledge()
    loading = 1e3 * (time.perf_counter() - begun)
    knowledge = shipped_knowledge()
    diagnose(Case())
    print(f"loading the knowledge: {loading:.0f} ms\n")
    print("| findings | diagnosis, ms | pairs alone, ms | ratio |")
    print("|---|---|---|---|")
    for count in (0, 1, 3, 5, 7, 10):
        case = Case(system="dc2", yes=NAMES[:count])
        whole, base = timed(diagnose, case), timed(pairs, knowledge, case)
        print(f"| {count} | {whole:.1f} | {base:.2f} | {whole / base:.0f} |")


if __name__ == "__main__":
    main()
