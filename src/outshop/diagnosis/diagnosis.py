"""From a case to ranked causes, the next check, the stop-signs and the reasons."""

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from outshop.diagnosis.case import Case, checked_case
from outshop.diagnosis.checks import NextCheck, next_checks
from outshop.diagnosis.conflicts import Conflict, conflicts
from outshop.diagnosis.evidence import Evidence
from outshop.diagnosis.knowledge_base import Knowledge
from outshop.diagnosis.load import shipped_knowledge
from outshop.diagnosis.model import Cause, Stop
from outshop.diagnosis.reasons import Weighed, weigh
from outshop.diagnosis.stops import raised

_WORTH_SAYING = 0.05  # nats; less moves nothing


@dataclass(frozen=True, slots=True)
class Reason:
    """What one item adds to a cause.

    Parameters
    ----------
    log_odds : float
        Natural logarithm of the factor on the odds; negative speaks against.
    """

    item: str
    answer: str
    asks: str
    log_odds: float

    def as_json(self) -> dict[str, Any]:
        """Give the JSON shape."""
        return {
            "observation": self.item,
            "answer": self.answer,
            "says": self.asks,
            "log_odds": round(self.log_odds, 4),
        }


@dataclass(frozen=True, slots=True)
class RankedCause:
    """A cause with its probability and reasons, strongest first."""

    cause: Cause
    probability: float
    because: tuple[Reason, ...]


@dataclass(frozen=True, slots=True)
class Diagnosis:
    """All that Outshop makes of a case.

    Parameters
    ----------
    causes : tuple of RankedCause
        All causes, most probable first; several may be true at once.
    groups : tuple of (group id, probability)
        All groups, most probable first.
    improbability_bits : float
        How surprising the observations are together, in bits.
    """

    case: Case
    causes: tuple[RankedCause, ...]
    groups: tuple[tuple[str, float], ...]
    next_checks: tuple[NextCheck, ...]
    stop: tuple[Stop, ...]
    conflicts: tuple[Conflict, ...]
    notes: tuple[str, ...]
    improbability_bits: float

    def second_reading(self, cause: RankedCause) -> RankedCause | None:
        """Give the most probable cause of another group."""
        return next((c for c in self.causes if c.cause.group != cause.cause.group), None)

    def as_json(self) -> dict[str, Any]:
        """Give the contract's JSON shape."""
        return {
            "causes": [self._cause_json(c) for c in self.causes],
            "groups": [{"group": g, "probability": p} for g, p in self.groups],
            "next_checks": [_check_json(n) for n in self.next_checks],
            "stop": [{"id": s.id, "says": s.says, "no_power": s.no_power} for s in self.stop],
            "conflicts": [
                {"observations": [c.one, c.other], "ratio": c.ratio, "probability": c.probability}
                for c in self.conflicts
            ],
            "improbability_bits": self.improbability_bits,
            "warnings": [*(c.says for c in self.conflicts), *self.notes],
        }

    def _cause_json(self, ranked: RankedCause) -> dict[str, Any]:
        second = self.second_reading(ranked)
        return {
            "id": ranked.cause.id,
            "group": ranked.cause.group,
            "name": ranked.cause.name,
            "probability": ranked.probability,
            "because": [r.as_json() for r in ranked.because],
            "settled_by": ranked.cause.confirm,
            "second_reading": second.cause.id if second else None,
            "remedy": ranked.cause.remedy,
            "minutes": ranked.cause.minutes,
            "cautions": list(ranked.cause.cautions),
            "place": list(ranked.cause.place),
        }


def diagnose(
    case: Case,
    knowledge: Knowledge | None = None,
    base: NDArray[np.float64] | None = None,
) -> Diagnosis:
    """Rank the causes of a case and name the next check.

    Parameters
    ----------
    knowledge : Knowledge, optional
        Default: what comes with Outshop.
    base : array [shape=(causes,)], optional
        Weights learnt from closed jobs, see :mod:`outshop.diagnosis.learning`.

    Raises
    ------
    InputError
        The case names what is not known, or contradicts itself in one id.
    """
    knowledge = knowledge or shipped_knowledge()
    case = checked_case(case, knowledge)
    weighed = weigh(knowledge, case, base)
    group = {
        g.id: float(p) for g, p in zip(knowledge.groups, weighed.posterior.group[0], strict=True)
    }
    stop = raised(knowledge, case, group)
    power = not any(s.no_power for s in stop)
    return Diagnosis(
        case=case,
        causes=_ranked(knowledge, case, weighed),
        groups=tuple(sorted(group.items(), key=lambda pair: -pair[1])),
        next_checks=next_checks(knowledge, case, weighed.evidence, power=power),
        stop=stop,
        conflicts=conflicts(knowledge, case),
        notes=(*case.notes, *weighed.evidence.notes),
        improbability_bits=_improbability(weighed.evidence, float(weighed.posterior.evidence[0])),
    )


def _improbability(evidence: Evidence, joint: float) -> float:
    some = 1 - float(np.prod(1 - evidence.prior))
    return float(-np.log2(max(joint * evidence.constant / some, 1e-300)))


def _ranked(knowledge: Knowledge, case: Case, weighed: Weighed) -> tuple[RankedCause, ...]:
    added = weighed.log_odds()
    asks = [_said(knowledge, case, item) for item in weighed.items]
    ranked = []
    for column, cause in enumerate(knowledge.causes):
        reasons = [
            Reason(item, answer, words, float(added[row, column]))
            for row, (item, (answer, words)) in enumerate(zip(weighed.items, asks, strict=True))
            if abs(added[row, column]) > _WORTH_SAYING
        ]
        reasons.sort(key=lambda r: -abs(r.log_odds))
        probability = float(weighed.posterior.cause[0, column])
        ranked.append(RankedCause(cause, probability, tuple(reasons)))
    return tuple(sorted(ranked, key=lambda r: -r.probability))


def _said(knowledge: Knowledge, case: Case, item: str) -> tuple[str, str]:
    if item in case.measured:
        return "measured", knowledge.quantity_by_key[item].name
    return ("yes" if item in case.yes else "no"), knowledge.sign_by_id[item].asks


def _check_json(found: NextCheck) -> dict[str, Any]:
    check = found.check
    return {
        "id": check.id,
        "name": check.name,
        "minutes": check.minutes,
        "information_bits": found.bits,
        "score": found.score,
        "cautions": list(check.cautions),
        "opens": check.opens,
        "power": check.power,
        "tells": list(check.tells),
        "information_bits_with_next": found.bits_two,
        "then": found.then or None,
        "means": check.means,
        "else_means": check.else_means,
    }


def strongest_at(found: Diagnosis) -> dict[str, RankedCause]:
    """Give the most probable cause at each place of the model, places by falling probability."""
    at: dict[str, RankedCause] = {}
    for ranked in found.causes:
        for place in ranked.cause.place:
            at.setdefault(place, ranked)
    return at
