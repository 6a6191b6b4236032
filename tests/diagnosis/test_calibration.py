"""Probabilities mean what they say: cases drawn from the network come true as often as said."""

import numpy as np

from outshop.diagnosis.case import Case
from outshop.diagnosis.evidence import abnormal
from outshop.diagnosis.load import shipped_knowledge
from outshop.diagnosis.priors import prior
from outshop.diagnosis.reasons import weigh

KNOWLEDGE = shipped_knowledge()
ASKED = ("movement", "sound_heat", "by_hand")
CASES = 350


def draw(rng):
    """Causes by rejection, signs by flipping each true cause's own coin and the leak's."""
    case = Case(system=str(rng.choice(["dc2", "ac3", "digital2"])), decade=1970)
    chances = prior(KNOWLEDGE, case)
    truth = np.zeros(len(chances), dtype=bool)
    while not truth.any():
        truth = rng.random(len(chances)) < chances
    bound = {x for s in KNOWLEDGE.signs for x in (*s.implies, *([s.id] if s.implies else []))}
    answers = {True: [], False: []}
    for sign in KNOWLEDGE.signs:
        if sign.kind in ASKED and sign.id not in bound and rng.random() < 0.4:
            leak, strength = abnormal(KNOWLEDGE, case, sign)
            odd = rng.random() < leak or (rng.random(truth.sum()) < strength[truth]).any()
            answers[odd != sign.healthy].append(sign.id)
    return Case(case.system, None, 1970, tuple(answers[True]), tuple(answers[False])), truth


def test_said_probabilities_come_true(rng):
    said, so, first, expected = [], [], 0.0, 0.0
    for _ in range(CASES):
        case, truth = draw(rng)
        p = weigh(KNOWLEDGE, case, items=False).posterior.group[0]
        true = np.bincount(KNOWLEDGE.group_of_cause[truth], minlength=len(p)) > 0
        said.append(p)
        so.append(true)
        first += true[p.argmax()] / CASES
        expected += p.max() / CASES
    said, so = np.concatenate(said), np.concatenate(so)
    bins = np.minimum((said * 10).astype(int), 9)
    error = sum(
        (bins == b).mean() * abs(said[bins == b].mean() - so[bins == b].mean())
        for b in np.unique(bins)
    )
    assert error < 0.02
    assert abs(first - expected) < 3 * np.sqrt(0.25 / CASES)
    assert expected > 3 / 35
