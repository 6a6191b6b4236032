"""How likely each cause is before any sign: weights, context, and what this shop has seen."""

from collections.abc import Mapping

import numpy as np
from numpy.typing import NDArray

from outshop.diagnosis.case import Case
from outshop.diagnosis.knowledge_base import Knowledge
from outshop.diagnosis.model import Weighting

# Expected number of causes in a model nobody complained of. Given a complaint this means that
# about one complaint in eight has two causes or more (0.25 / (1 - e^-0.25) = 1.13): resolved
# accounts nearly always end with one. Judgement.
EXPECTED_CAUSES = 0.25
_MOST = 0.5  # no cause is more likely than this before anything was seen


def weights(knowledge: Knowledge) -> NDArray[np.float64]:
    """Give the weight of each cause without context: group weight times share.

    Returns
    -------
    array [shape=(causes,)]
        Weights that add to 1.
    """
    shares = np.array([c.share for c in knowledge.causes])
    groups = knowledge.group_of_cause
    total = np.bincount(groups, shares, minlength=len(knowledge.groups))
    base = np.array([g.weight for g in knowledge.groups])
    weighted = base[groups] * shares / total[groups]
    return np.asarray(weighted / weighted.sum())


def prior(
    knowledge: Knowledge, case: Case, base: NDArray[np.float64] | None = None
) -> NDArray[np.float64]:
    """Give P(cause) from weights and context, before any sign.

    Parameters
    ----------
    base : array [shape=(causes,)], optional
        Weights to start from, such as those learnt; default :func:`weights`.

    Returns
    -------
    array [shape=(causes,)]
        Probabilities; several causes may be true at once.
    """
    base = weights(knowledge) if base is None else base
    group = np.array([_factor(knowledge, g.context, case) for g in knowledge.groups])
    cause = np.array([_factor(knowledge, c.context, case) for c in knowledge.causes])
    weighted = base * cause * group[knowledge.group_of_cause]
    return np.asarray(np.minimum(_MOST, EXPECTED_CAUSES * weighted / weighted.sum()))


def _factor(knowledge: Knowledge, context: Weighting, case: Case) -> float:
    product = _one(context.system, case.system) * _one(context.motor, case.motor)
    product *= _one(context.years, case.years) * _one(context.outline, case.outline)
    for sign in case.yes:
        product *= context.history.get(sign, 1.0)
    for sign in case.no:
        factor = context.history.get(sign)
        if factor is not None:
            product *= denied(factor, knowledge.sign_by_id[sign].frequency)
    return product


def denied(factor: float, frequency: float) -> float:
    """Factor of a history that was asked for and is not so.

    Chosen so that yes and no, mixed by ``frequency``, leave the weight as it was.
    """
    return max(0.1, (1 - factor * frequency) / (1 - frequency))


def _one(factors: Mapping[str, float], word: str | None) -> float:
    return factors.get(word, 1.0) if word else 1.0
