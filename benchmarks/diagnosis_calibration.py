"""Calibration and first-place share over cases drawn from the network itself, as a table.

A case: causes drawn from the prior until at least one is there, every sign of owners' kinds
drawn from its noisy-OR. Each sign is looked for with a chance that does not depend on whether
it is there; what was looked for is told, the rest is unknown. So the posterior must be
calibrated. "Exact" is the share that the posterior itself expects for its
first place: no other ranking can do better.

Run: python benchmarks/diagnosis_calibration.py [cases]
"""

import sys

import numpy as np

from outshop.diagnosis.case import Case
from outshop.diagnosis.evidence import MOST_BITS, abnormal
from outshop.diagnosis.load import shipped_knowledge
from outshop.diagnosis.priors import prior
from outshop.diagnosis.reasons import weigh

LOOKED_FOR = 0.3
SYSTEMS = (None, "dc2", "ac3", "digital2", "digital3", "s-ac")
DECADES = (None, 1930, 1950, 1970, 1990, 2010)
BINS = 10


def draw(rng, knowledge):
    """Draw one case and its true causes."""
    context = Case(
        system=SYSTEMS[rng.integers(len(SYSTEMS))], decade=DECADES[rng.integers(len(DECADES))]
    )
    chances = prior(knowledge, context)
    truth = np.zeros(len(chances), dtype=bool)
    while not truth.any():
        truth = rng.random(len(chances)) < chances
    implied = {x for s in knowledge.signs for x in s.implies}
    implying = {s.id for s in knowledge.signs if s.implies}
    yes, no = [], []
    for sign in knowledge.signs:
        # signs bound by meaning are left out: their noisy-ORs are not independent
        if sign.kind in ("history", "measured", "check") or sign.id in implied | implying:
            continue
        leak, strength = abnormal(knowledge, context, sign)
        odd = rng.random() < 1 - (1 - leak) * np.prod(1 - strength[truth])
        there = odd != sign.healthy
        if rng.random() < LOOKED_FOR:
            (yes if there else no).append(sign.id)
    return Case(context.system, None, context.decade, tuple(yes), tuple(no)), truth


def study(cases, seed=20261125):
    """Return ECE over groups, causes and first places, shares first and expected, and of two."""
    knowledge = shipped_knowledge()
    rng = np.random.default_rng(seed)
    groups = knowledge.group_of_cause
    said, so, said_cause, so_cause, first, expected, two = [], [], [], [], 0.0, 0.0, 0
    used = 0
    while used < cases:
        case, truth = draw(rng, knowledge)
        posterior = weigh(knowledge, case, items=False)
        if posterior.evidence.lost:  # thinned: not exact
            continue
        used += 1
        p = posterior.posterior.group[0]
        true_groups = np.bincount(groups[truth], minlength=len(p)) > 0
        said.append(p)
        so.append(true_groups)
        said_cause.append(posterior.posterior.cause[0])
        so_cause.append(truth)
        best = int(p.argmax())
        first += true_groups[best]
        expected += p[best]
        two += truth.sum() > 1
    top = np.array([p.argmax() for p in said])
    rows = np.arange(used)
    return (
        ece(np.concatenate(said), np.concatenate(so)),
        ece(np.concatenate(said_cause), np.concatenate(so_cause)),
        ece(np.stack(said)[rows, top], np.stack(so)[rows, top]),
        first / used,
        expected / used,
        two / used,
    )


def ece(said, so):
    """Give the expected calibration error over ten bins of equal width."""
    place = np.minimum((said * BINS).astype(int), BINS - 1)
    total = 0.0
    for b in range(BINS):
        inside = place == b
        if inside.any():
            total += inside.mean() * abs(said[inside].mean() - so[inside].mean())
    return float(total)


def main():
    cases = int(sys.argv[1]) if len(sys.argv) > 1 else 2000
    group, cause, top, first, expected, two = study(cases)
    print("| quantity | value |")
    print("|---|---|")
    print(f"| cases (at most {MOST_BITS} findings each) | {cases} |")
    print(f"| with two causes or more | {100 * two:.1f} % |")
    print(f"| calibration error, groups | {group:.4f} |")
    print(f"| calibration error, causes | {cause:.4f} |")
    print(f"| calibration error, first places alone | {top:.4f} |")
    print(f"| a true group first | {100 * first:.1f} % |")
    print(f"| share that exact enumeration allows | {100 * expected:.1f} % |")


if __name__ == "__main__":
    main()
