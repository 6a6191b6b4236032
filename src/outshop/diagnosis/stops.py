"""Stop-signs: what must be said before anything else."""

from collections.abc import Mapping

from outshop.diagnosis.case import Case
from outshop.diagnosis.knowledge_base import Knowledge
from outshop.diagnosis.measures import soft_evidence
from outshop.diagnosis.model import Stop
from outshop.estimate import Estimate

_SURE = 0.5


def raised(
    knowledge: Knowledge, case: Case, group_probability: Mapping[str, float]
) -> tuple[Stop, ...]:
    """Give the stop-signs that a case raises, in the order of the table."""
    seen = set(case.yes) | _measured_signs(knowledge, case)
    return tuple(s for s in knowledge.stops if _is_raised(s, case, seen, group_probability))


def _is_raised(
    stop: Stop, case: Case, seen: set[str], group_probability: Mapping[str, float]
) -> bool:
    if seen & set(stop.signs):
        return True
    if set(stop.cleared_by) & set(case.no):
        return False
    if stop.years and case.years in stop.years:
        return True
    return bool(stop.group) and group_probability[stop.group] > stop.above


def _measured_signs(knowledge: Knowledge, case: Case) -> set[str]:
    found = set()
    for key, reading in case.measured.items():
        if isinstance(reading, Estimate):
            quantity = knowledge.quantity_by_key[key]
            for sign, _, there in soft_evidence(quantity, reading, case.system):
                if there > _SURE:
                    found.add(sign)
    return found
