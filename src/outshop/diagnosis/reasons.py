"""Why: what each observation adds to, or takes from, the odds of each cause."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from outshop.diagnosis.case import Case
from outshop.diagnosis.evidence import Evidence, gather
from outshop.diagnosis.inference import Posterior, infer
from outshop.diagnosis.knowledge_base import Knowledge

_FLOOR = 1e-12


@dataclass(frozen=True, slots=True)
class Weighed:
    """Posterior of a case together with that of the case less each single item.

    Parameters
    ----------
    posterior : Posterior
        Row 0 is the whole case, row i the case without ``items[i - 1]``.
    items : tuple of str
        Signs found, signs not found and measured keys.
    evidence : Evidence
        What entered for the whole case.
    """

    posterior: Posterior
    items: tuple[str, ...]
    evidence: Evidence

    def log_odds(self) -> NDArray[np.float64]:
        """Natural log-odds each item adds to each cause [shape=(items, causes)]."""
        p = np.clip(self.posterior.cause, _FLOOR, 1 - _FLOOR)
        odds = np.log(p) - np.log1p(-p)
        return np.asarray(odds[0] - odds[1:])


def weigh(
    knowledge: Knowledge,
    case: Case,
    base: NDArray[np.float64] | None = None,
    *,
    items: bool = True,
) -> Weighed:
    """Infer a case, and, unless ``items`` is false, the case without each of its items."""
    whole = gather(knowledge, case, base)
    for lost in whole.lost:  # so that leaving one out does not let another in
        case = case.without(lost.split(":")[0])
    names = case.items if items else ()
    variants = [whole, *(gather(knowledge, case.without(name), base) for name in names)]
    union = {f.name: f for variant in variants for f in variant.findings}
    weight = np.ones((len(variants), len(union), 2))
    for row, variant in enumerate(variants):
        present = {f.name: f for f in variant.findings}
        for column, name in enumerate(union):
            if name in present:
                weight[row, column] = present[name].absent, present[name].there
    none = np.zeros((len(knowledge.causes), 0))
    posterior = infer(
        np.stack([v.prior for v in variants]),
        np.stack([v.factor for v in variants]),
        np.array([f.leak for f in union.values()]),
        np.stack([f.strength for f in union.values()], axis=1) if union else none,
        weight,
        knowledge.group_of_cause,
    )
    return Weighed(posterior, names, variants[0])
