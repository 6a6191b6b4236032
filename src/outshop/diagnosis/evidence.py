"""A case in numbers: which findings enter the network, and how."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from outshop.diagnosis.case import Case
from outshop.diagnosis.knowledge_base import MOST, Knowledge
from outshop.diagnosis.measures import soft_evidence
from outshop.diagnosis.model import Pattern, Sign, When
from outshop.diagnosis.priors import prior

MOST_BITS = 10
_FLOOR = 1e-6


@dataclass(frozen=True, slots=True)
class Finding:
    """One noisy-OR node that must be summed over.

    Parameters
    ----------
    leak : float
        P(there | no cause).
    strength : array [shape=(causes,)]
        P(this cause brings it about).
    absent, there : float
        Likelihood of what was observed, given absent and given there.
    """

    name: str
    leak: float
    strength: NDArray[np.float64]
    absent: float
    there: float


@dataclass(frozen=True, slots=True)
class Evidence:
    """All that a case says, ready for exact inference.

    Parameters
    ----------
    prior : array [shape=(causes,)]
        P(cause) from context.
    factor : array [shape=(causes,)]
        Likelihood of all factorising evidence given that cause over its absence.
    constant : float
        Likelihood of the factorising evidence with no cause at all.
    findings : tuple of Finding
        Positive and soft findings.
    notes : tuple of str
        What was set aside, and why.
    lost : tuple of str
        Findings left out because there were more than MOST_BITS.
    """

    prior: NDArray[np.float64]
    factor: NDArray[np.float64]
    constant: float
    findings: tuple[Finding, ...]
    notes: tuple[str, ...]
    lost: tuple[str, ...] = ()


def strengths_in(knowledge: Knowledge, case: Case, sign: Sign) -> NDArray[np.float64]:
    """P(sign | each cause alone) under the case's context [shape=(causes,)]."""
    column = knowledge.strengths[:, knowledge.sign_column[sign.id]]
    for when in sign.when:
        if _holds(when, case):
            own = np.array(
                [
                    when.cause.get(
                        c.id, np.nan if sign.id in c.signs else when.group.get(c.group, np.nan)
                    )
                    for c in knowledge.causes
                ]
            )
            told = np.minimum(own * knowledge.telling, np.maximum(own, MOST))
            column = np.where(np.isnan(own), column, told)
    return column


def gather(knowledge: Knowledge, case: Case, base: NDArray[np.float64] | None = None) -> Evidence:
    """Turn a checked case into numbers."""
    start = prior(knowledge, case, base)
    factor = np.ones(len(knowledge.causes))
    constant = 1.0
    findings: list[Finding] = []
    dropped, notes = set_aside(knowledge, case)
    for answer, names in ((True, case.yes), (False, case.no)):
        for name in names:
            sign = knowledge.sign_by_id[name]
            if sign.kind == "history" or name in dropped:
                continue
            leak, strength = abnormal(knowledge, case, sign)
            if answer != sign.healthy:
                findings.append(Finding(name, leak, strength, 0.0, 1.0))
            else:
                factor = factor * np.maximum(_FLOOR, 1 - strength)
                constant *= 1 - leak
    findings.extend(_measured(knowledge, case))
    for pattern in patterns_met(knowledge, case):
        by_group = np.array([pattern.factor.get(g.id, 1.0) for g in knowledge.groups])
        factor = factor * by_group[knowledge.group_of_cause]
    kept, lost = _most_telling(findings)
    return Evidence(start, factor, constant, tuple(kept), (*notes, *_thinned(lost)), lost)


def abnormal(knowledge: Knowledge, case: Case, sign: Sign) -> tuple[float, NDArray[np.float64]]:
    """Leak and strengths of a sign as a noisy-OR; a healthy sign by its absence.

    A healthy sign is there with chance ``usual`` unless causes hinder it, so its absence is a
    noisy-OR with leak 1 - usual.
    """
    shown = strengths_in(knowledge, case, sign)
    if sign.healthy:
        return 1 - sign.usual, 1 - shown / sign.usual
    return sign.leak, shown


def patterns_met(knowledge: Knowledge, case: Case) -> list[Pattern]:
    """Patterns whose signs and context are all known to be so."""
    yes, no = set(case.yes), set(case.no)
    return [
        p
        for p in knowledge.patterns
        if yes.issuperset(p.yes) and no.issuperset(p.no) and _holds(p, case)
    ]


def set_aside(knowledge: Knowledge, case: Case) -> tuple[set[str], list[str]]:
    """Name signs that say nothing new: implied by another, or measured as well."""
    dropped: set[str] = set()
    notes = []
    for name in case.yes:
        for implied in _all_implied(knowledge, name):
            dropped.add(implied)
            if implied in case.no:
                notes.append(
                    f"'{name}' and no '{implied}' exclude each other by their meaning "
                    f"(probability 0); 'no {implied}' was set aside: look again"
                )
    for key in case.measured:
        for name in knowledge.quantity_by_key[key].same_as:
            if name in case.yes or name in case.no:
                dropped.add(name)
                notes.append(f"'{name}' was set aside: {key} measures the same")
    return dropped, notes


def _all_implied(knowledge: Knowledge, name: str) -> list[str]:
    found: list[str] = []
    todo = list(knowledge.sign_by_id[name].implies)
    while todo:
        step = todo.pop()
        if step not in found:
            found.append(step)
            todo.extend(knowledge.sign_by_id[step].implies)
    return found


def _measured(knowledge: Knowledge, case: Case) -> list[Finding]:
    found = []
    for key, reading in case.measured.items():
        quantity = knowledge.quantity_by_key[key]
        for name, absent, there in soft_evidence(quantity, reading, case.system):
            leak, strength = abnormal(knowledge, case, knowledge.sign_by_id[name])
            found.append(Finding(f"{key}:{name}", leak, strength, absent, there))
    return found


def _most_telling(findings: list[Finding]) -> tuple[list[Finding], tuple[str, ...]]:
    """Keep at most MOST_BITS findings, those that tell the causes apart most; name the rest."""
    if len(findings) <= MOST_BITS:
        return findings, ()
    spread = {f.name: float(np.std(np.log(_single(f)))) for f in findings}
    keep = set(sorted(spread, key=lambda n: -spread[n])[:MOST_BITS])
    return [f for f in findings if f.name in keep], tuple(set(spread) - keep)


def _thinned(lost: tuple[str, ...]) -> tuple[str, ...]:
    if not lost:
        return ()
    return (
        (
            f"more than {MOST_BITS} findings: the least telling were set aside "
            f"({', '.join(sorted(lost))}); name only what stands out"
        ),
    )


def _single(finding: Finding) -> NDArray[np.float64]:
    """Likelihood of a finding given each cause alone."""
    there = 1 - (1 - finding.leak) * (1 - finding.strength)
    return np.maximum(_FLOOR, finding.absent * (1 - there) + finding.there * there)


def _holds(condition: When | Pattern, case: Case) -> bool:
    pairs = (
        (condition.system, case.system),
        (condition.motor, case.motor),
        (condition.years, case.years),
    )
    return all(not allowed or (word or "unknown") in allowed for allowed, word in pairs)
