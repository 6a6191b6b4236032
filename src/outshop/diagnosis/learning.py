"""Closed jobs teach the weights: Dirichlet counts, each job reversible, counts shareable.

The shipped weights count as ``TRUST`` imagined jobs. With n confirmed jobs of which n_c were
cause c, the weight of c becomes (TRUST · w_c + n_c) / (TRUST + n): the posterior mean of a
Dirichlet prior (Gelman et al., Bayesian Data Analysis, 3rd ed., section 3.4, from memory).
"""

import json
from collections import Counter
from collections.abc import Mapping
from dataclasses import dataclass, field, replace

import numpy as np
from numpy.typing import NDArray

from outshop.diagnosis.knowledge_base import Knowledge
from outshop.diagnosis.priors import weights
from outshop.diagnosis.terms import nearest
from outshop.errors import ArchiveError, InputError

TRUST = 60.0  # judgement: sixty jobs of one's own outweigh the shipped table
FORMAT = "outshop-cause-counts-1"
LONGEST_FILE = 200_000  # bytes; a full table of counts is about 3,000


@dataclass(frozen=True, slots=True)
class Experience:
    """What this shop has confirmed, and what it took over from others.

    Parameters
    ----------
    jobs : mapping
        Job id to the cause that was confirmed.
    others : mapping
        Name of an import to its counts by cause.
    """

    jobs: Mapping[str, str] = field(default_factory=dict)
    others: Mapping[str, Mapping[str, int]] = field(default_factory=dict)

    def learnt(self, job: str, cause: str, knowledge: Knowledge) -> "Experience":
        """Add a closed job, or change its cause.

        Raises
        ------
        InputError
            The cause is unknown.
        """
        if cause not in knowledge.cause_by_id:
            message = f"there is no cause '{cause}'{nearest(cause, knowledge.cause_by_id)}"
            raise InputError(message)
        return replace(self, jobs={**self.jobs, job: cause})

    def forgotten(self, name: str) -> "Experience":
        """Take back a job or an import; unknown names change nothing."""
        return replace(
            self,
            jobs={k: v for k, v in self.jobs.items() if k != name},
            others={k: v for k, v in self.others.items() if k != name},
        )

    def counts(self) -> Counter[str]:
        """Add up confirmed causes, own and taken over."""
        total = Counter(self.jobs.values())
        for counts in self.others.values():
            total.update(counts)
        return total

    def weights(self, knowledge: Knowledge) -> NDArray[np.float64]:
        """Give the learnt weight of each cause [shape=(causes,)], adding to 1.

        Counts of causes that this knowledge does not hold are left out.
        """
        counts = self.counts()
        seen = np.array([counts[c.id] for c in knowledge.causes], dtype=float)
        return np.asarray((TRUST * weights(knowledge) + seen) / (TRUST + seen.sum()))

    def exported(self) -> str:
        """Write the own counts, without job ids, dates or models."""
        counts = dict(sorted(Counter(self.jobs.values()).items()))
        return json.dumps({"format": FORMAT, "counts": counts}, indent=2) + "\n"

    def imported(self, name: str, text: str) -> "Experience":
        """Take over the counts of another shop under a name, replacing an earlier import.

        Raises
        ------
        ArchiveError
            The text holds no counts of this format.
        """
        try:
            document = json.loads(text)
        except json.JSONDecodeError as problem:
            message = f"{name} is no JSON: {problem}; export the counts again"
            raise ArchiveError(message) from problem
        if not isinstance(document, dict) or document.get("format") != FORMAT:
            message = f"{name} is no file of cause counts; its 'format' must be {FORMAT}"
            raise ArchiveError(message)
        counts = document.get("counts")
        if not isinstance(counts, dict):
            message = f"{name} holds no 'counts'; export them again"
            raise ArchiveError(message)
        for cause, count in counts.items():
            if isinstance(count, bool) or not isinstance(count, int) or count < 0:
                message = f"{name}: the count of '{cause}' is {count!r}; it must be 0 or more"
                raise ArchiveError(message)
        return replace(self, others={**self.others, name: counts})
