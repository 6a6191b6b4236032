"""Troubles as the diagnosis takes them: cases, what other pages already know, what was learnt."""

from collections.abc import Callable, Mapping
from typing import Any

import numpy as np
from numpy.typing import NDArray

from outshop.diagnosis import bridges
from outshop.diagnosis.case import Case, checked_case, read_measured
from outshop.diagnosis.diagnosis import Diagnosis, diagnose
from outshop.diagnosis.knowledge_base import Knowledge
from outshop.diagnosis.learning import Experience
from outshop.diagnosis.load import shipped_knowledge
from outshop.diagnosis.terms import OUTLINES
from outshop.records.models import CauseCounts, Finding, Measurement, Piece, Recording, Trouble
from outshop.records.queries.pieces import latest_inspection

UNKNOWN = Trouble.System.UNKNOWN
METERED: Mapping[str, Callable[[bridges.Json], bridges.Measured]] = {
    "current": bridges.from_current,
    "winding": bridges.from_winding,
    "wheels": bridges.from_wheels,
}


def case_of(trouble: Trouble) -> Case:
    """Give the case of a trouble: its own answers, and what other pages know already.

    An own answer outweighs what was found elsewhere. Ids that this version no longer knows
    are left out.
    """
    knowledge = shipped_knowledge()
    answers = {**known_elsewhere(trouble), **trouble.answers}
    known = {k: v for k, v in answers.items() if k in knowledge.sign_by_id}
    case = Case(
        system=None if trouble.system == UNKNOWN else trouble.system,
        motor=None if trouble.motor == UNKNOWN else trouble.motor,
        decade=trouble.decade,
        outline=trouble.piece.kind if trouble.piece.kind in OUTLINES else None,
        yes=tuple(k for k, v in known.items() if v is True),
        no=tuple(k for k, v in known.items() if v is False),
        measured=read_measured(_measured(trouble, knowledge), knowledge),
    )
    return checked_case(case, knowledge)


def diagnosis_of(trouble: Trouble) -> Diagnosis:
    """Rank the causes of a trouble with what this collection has learnt.

    The trouble's own confirmed cause is left out of what was learnt.
    """
    return diagnose(case_of(trouble), base=learnt_weights(without=trouble))


def known_elsewhere(trouble: Trouble) -> dict[str, bool]:
    """Name the signs that the latest inspection and the motor bench tell: found or not."""
    inspection = latest_inspection(trouble.piece)
    pairs = [
        ("axle" if f.target_kind == Finding.TargetKind.AXLE else f.target, f.state)
        for f in (inspection.findings.all() if inspection else ())
    ]
    yes, no = bridges.from_findings(pairs)
    found, cleared = bridges.from_motor(_metered(trouble.piece).get("motor", {}))
    answers = dict.fromkeys((*no, *cleared), False)
    return {**answers, **dict.fromkeys((*yes, *found), True)}


def measured_elsewhere(trouble: Trouble) -> dict[str, Any]:
    """Give measured keys that the latest recording before the work and the meter page tell."""
    found: dict[str, Any] = {}
    done = trouble.piece.recordings.filter(status=Recording.Status.DONE)
    latest = done.exclude(role=Recording.Role.AFTER).first()
    if latest and isinstance(latest.result, dict):
        bench = bridges.from_motion if "speed_ripple" in latest.result else bridges.from_sound
        found |= bench(latest.result)
    for kind, result in _metered(trouble.piece).items():
        if kind in METERED:
            found |= METERED[kind](result)
    knowledge = shipped_knowledge()
    for row in Measurement.objects.filter(
        piece=trouble.piece, key__in=knowledge.quantity_by_key, value__isnull=False
    ).order_by("taken_at", "pk"):
        if row.unit == knowledge.quantity_by_key[row.key].unit:
            found[row.key] = row.reading.as_json()
    return found


def _metered(piece: Piece) -> dict[str, dict[str, Any]]:
    """Give the latest whole result of each kind of meter reading."""
    rows = Measurement.objects.filter(piece=piece, recording=None, result__isnull=False)
    kept = rows.order_by("taken_at", "pk").values_list("kind", "result")
    return {kind: result for kind, result in kept if isinstance(result, dict)}


def troubles_of(piece: Piece) -> list[Trouble]:
    """Give the troubles of a piece, latest first."""
    return list(Trouble.objects.filter(piece=piece).select_related("job"))


def solved_troubles() -> list[Trouble]:
    """Give the troubles whose cause was confirmed, latest first."""
    solved = Trouble.objects.exclude(cause="").select_related("piece")
    return list(solved.order_by("-confirmed_at", "-pk"))


def experience(*, without: Trouble | None = None) -> Experience:
    """Give what closed troubles and taken-over counts have taught."""
    closed = Trouble.objects.exclude(cause="").values_list("uid", "cause")
    skip = without.uid if without else None
    return Experience(
        jobs={str(uid): cause for uid, cause in closed if uid != skip},
        others={c.name: c.counts for c in CauseCounts.objects.all()},
    )


def learnt_weights(*, without: Trouble | None = None) -> NDArray[np.float64]:
    """Weights of the causes as this collection has learnt them [shape=(causes,)]."""
    return experience(without=without).weights(shipped_knowledge())


def _measured(trouble: Trouble, knowledge: Knowledge) -> Mapping[str, Any]:
    measured = {**measured_elsewhere(trouble), **trouble.measured}
    return {k: v for k, v in measured.items() if k in knowledge.quantity_by_key}
