"""The next check: what it is expected to tell, for what it costs.

For choosing a check one cause at a time is supposed, as a fitter does: L is "the" cause, with
P(L = c) proportional to P(only c is true, evidence). The ranking itself lets several be true.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import product

import numpy as np
from numpy.typing import NDArray

from outshop.diagnosis.case import Case
from outshop.diagnosis.evidence import Evidence, abnormal
from outshop.diagnosis.knowledge_base import Knowledge
from outshop.diagnosis.model import Check

Array = NDArray[np.float64]

# Costs in minutes' worth (judgement): a body off and on again, a motor out, a strip-down;
# a small or real risk to the model; to the person.
OPENING = {"nothing": 0.0, "body": 4.0, "motor": 10.0, "strip": 20.0}
RISK_MODEL, RISK_PERSON, POWER = 5.0, 10.0, 1.0
SETTLING_TO_IT = 2.0  # fetching, noting, putting back: else trifles would always come first
_AHEAD = 6  # first checks that are followed by a second one
_SECONDS = 16  # second checks tried after each


@dataclass(frozen=True, slots=True)
class NextCheck:
    """A check with its worth.

    Parameters
    ----------
    bits : float
        Expected information about which cause it is, in bits.
    bits_two : float
        The same together with the best second check after each outcome.
    score : float
        Bits per minute's worth, the better of alone and with its second.
    then : str
        The second check most often best, or empty.
    """

    check: Check
    cost: float
    bits: float
    bits_two: float
    score: float
    then: str


def cost_of(check: Check) -> float:
    """Give the minutes' worth of a check: time, opening, risks and power."""
    risks = RISK_MODEL * check.risk_model + RISK_PERSON * check.risk_person
    time = check.minutes + SETTLING_TO_IT
    return time + OPENING[check.opens] + risks + (POWER if check.power else 0.0)


def single_cause(evidence: Evidence) -> Array:
    """P(L = cause | evidence), supposing exactly one cause [shape=(causes,)]."""
    log = np.log(np.maximum(evidence.prior, 1e-300)) - np.log1p(-evidence.prior)
    log = log + np.log(np.maximum(evidence.factor, 1e-300))
    for finding in evidence.findings:
        there = 1 - (1 - finding.leak) * (1 - finding.strength)
        log = log + np.log(finding.absent * (1 - there) + finding.there * there + 1e-300)
    odds = np.exp(log - log.max())
    return np.asarray(odds / odds.sum())


def outcome_table(knowledge: Knowledge, case: Case, check: Check) -> Array:
    """P(outcome | cause alone) over all answers of a check [shape=(outcomes, causes)].

    Signs already known are left out; with nothing left there is one sure outcome.
    """
    known = already_known(knowledge, case)
    rows = []
    for name in check.tells:
        if name not in known:
            sign = knowledge.sign_by_id[name]
            leak, strength = abnormal(knowledge, case, sign)
            rows.append(1 - (1 - leak) * (1 - strength))
    table = [np.ones(len(knowledge.causes))]
    for answers in product((True, False), repeat=len(rows)):
        cells = [row if yes else 1 - row for row, yes in zip(rows, answers, strict=True)]
        table.append(np.prod(cells, axis=0) if cells else table[0])
    return np.stack(table[1:])


def information(belief: Array, table: Array) -> float:
    """Mutual information of outcome and cause, in bits.

    Parameters
    ----------
    belief : array [shape=(causes,)]
        P(cause), adding to 1.
    table : array [shape=(outcomes, causes)]
        P(outcome | cause), columns adding to 1.
    """
    joint = table * belief
    outcome = joint.sum(axis=1)
    return max(0.0, _entropy(belief) - float(_entropies(joint, outcome) @ outcome))


def next_checks(
    knowledge: Knowledge, case: Case, evidence: Evidence, *, power: bool = True, count: int = 8
) -> tuple[NextCheck, ...]:
    """Rank the checks that may still tell something.

    Parameters
    ----------
    power : bool
        False holds back every check under power.
    count : int
        How many to give at most.
    """
    belief = single_cause(evidence)
    known = already_known(knowledge, case)
    offered = [c for c in knowledge.checks if _offered(c, case, known, power=power)]
    tables = [outcome_table(knowledge, case, c) for c in offered]
    costs = np.array([cost_of(c) for c in offered])
    bits = np.array([information(belief, t) for t in tables])
    order = np.argsort(-bits / costs, kind="stable")
    ranked = []
    for rank, i in enumerate(order):
        alone = bits[i] / costs[i]
        two, then, with_second = bits[i], "", alone
        if rank < _AHEAD and bits[i] > 0:
            others = [j for j in order[:_SECONDS] if j != i]
            two, cost, best = _look_ahead(belief, i, others, tables, costs, bits[i])
            then = offered[best].id if best >= 0 else ""
            with_second = two / cost
        score = max(alone, with_second)
        ranked.append(
            NextCheck(offered[i], float(costs[i]), float(bits[i]), float(two), float(score), then)
        )
    ranked.sort(key=lambda n: -n.score)
    return tuple(n for n in ranked if n.bits > 1e-4)[:count]


def _look_ahead(
    belief: Array,
    first: int,
    others: Sequence[int],
    tables: Sequence[Array],
    costs: Array,
    bits: float,
) -> tuple[float, float, int]:
    """Bits and cost of a check followed by the best second one after each outcome."""
    joint = tables[first] * belief
    chances = joint.sum(axis=1)
    total, cost = bits, float(costs[first])
    votes: dict[int, float] = {}
    for row, chance in zip(joint, chances, strict=True):
        if chance <= 0:
            continue
        after = row / chance
        gains = np.array([information(after, tables[j]) for j in others])
        rates = gains / costs[list(others)] if len(others) else gains
        if not len(others) or rates.max() <= 0:
            continue
        pick = int(rates.argmax())
        total += chance * gains[pick]
        cost += chance * float(costs[others[pick]])
        votes[others[pick]] = votes.get(others[pick], 0.0) + chance
    best = max(votes, key=lambda j: votes[j]) if votes else -1
    return total, cost, best


def already_known(knowledge: Knowledge, case: Case) -> set[str]:
    """Name the signs that are answered, or follow from an answer by their meaning."""
    known = set(case.yes) | set(case.no)
    for sign in knowledge.signs:
        if sign.id in case.yes:
            known |= {*sign.implies, *sign.excludes}
        elif set(sign.excludes) & set(case.yes):
            known.add(sign.id)
    return known


def _offered(check: Check, case: Case, known: set[str], *, power: bool) -> bool:
    if check.power and not power:
        return False
    pairs = ((check.system, case.system), (check.motor, case.motor))
    if any(allowed and (word or "unknown") not in allowed for allowed, word in pairs):
        return False
    return not set(check.tells) <= known


def _entropy(p: Array) -> float:
    positive = p[p > 0]
    return float(-(positive * np.log2(positive)).sum())


def _entropies(joint: Array, outcome: Array) -> Array:
    """Entropy of the causes after each outcome [shape=(outcomes,)]."""
    after = joint / np.maximum(outcome, 1e-300)[:, None]
    return np.asarray(-(after * np.log2(np.maximum(after, 1e-300))).sum(axis=1))
