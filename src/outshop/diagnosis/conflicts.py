"""Observations that hardly go together: which, and how improbable."""

from dataclasses import dataclass
from itertools import combinations

import numpy as np

from outshop.diagnosis.case import Case
from outshop.diagnosis.evidence import abnormal, set_aside
from outshop.diagnosis.knowledge_base import Knowledge
from outshop.diagnosis.priors import prior

RARE = 0.2  # a pair seen together less than a fifth as often as by chance is worth a word


@dataclass(frozen=True, slots=True)
class Conflict:
    """Two observations that are seldom true together.

    Parameters
    ----------
    ratio : float
        P(both) / (P(one) P(other)); 1 is chance.
    probability : float
        P(both).
    by_meaning : bool
        They cannot both be true.
    """

    one: str
    other: str
    ratio: float
    probability: float
    by_meaning: bool = False

    @property
    def says(self) -> str:
        """Give one sentence for the person."""
        if self.by_meaning:
            return (
                f"'{self.one}' and '{self.other}' exclude each other by their meaning "
                f"(probability {self.probability:.1g} even with both taken loosely): look again"
            )
        return (
            f"'{self.one}' and '{self.other}' are seldom true together "
            f"({self.ratio:.2g} of chance, probability {self.probability:.1g}): look again"
        )


def conflicts(knowledge: Knowledge, case: Case) -> tuple[Conflict, ...]:
    """Compare every pair of answers with chance, exactly, before any other evidence.

    With P(absent) a product over causes, the four probabilities of a pair follow from those of
    its single and joint absence.
    """
    start = prior(knowledge, case)
    excluded = {frozenset((s, x)) for s in case.yes for x in knowledge.sign_by_id[s].excludes}
    dropped, _ = set_aside(knowledge, case)
    rows = []
    for answer, names in ((True, case.yes), (False, case.no)):
        for name in names:
            sign = knowledge.sign_by_id[name]
            if sign.kind != "history" and name not in dropped:
                leak, strength = abnormal(knowledge, case, sign)
                label = name if answer else f"no {name}"
                rows.append((label, answer != sign.healthy, leak, strength))
    found = []
    for (one, p, la, sa), (other, q, lb, sb) in combinations(rows, 2):
        a = (1 - la) * float(np.prod(1 - start * sa))
        b = (1 - lb) * float(np.prod(1 - start * sb))
        ab = (1 - la) * (1 - lb) * float(np.prod(1 - start + start * (1 - sa) * (1 - sb)))
        table = {(False, False): ab, (True, False): b - ab, (False, True): a - ab}
        table[True, True] = 1 - a - b + ab
        single = (1 - a if p else a) * (1 - b if q else b)
        ratio = max(0.0, table[p, q]) / single if single > 0 else 1.0
        by_meaning = frozenset((one, other)) in excluded
        if ratio < RARE or by_meaning:
            found.append(Conflict(one, other, ratio, max(0.0, table[p, q]), by_meaning))
    return tuple(sorted(found, key=lambda c: c.ratio))
