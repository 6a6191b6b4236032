"""Troubles as the diagnosis takes them: cases, what other pages already know, what was learnt."""

from collections.abc import Mapping
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
    """Signs that the latest inspection and the meter page tell: found or not."""
    yes, no = bridges.from_motor(_latest_meter(trouble.piece, "motor"))
    found = {**dict.fromkeys(no, False), **dict.fromkeys(yes, True)}
    inspection = latest_inspection(trouble.piece)
    if inspection is None:
        return found
    pairs = [
        ("axle" if f.target_kind == Finding.TargetKind.AXLE else f.target, f.state)
        for f in inspection.findings.all()
    ]
    yes, no = bridges.from_findings(pairs)
    return {**found, **dict.fromkeys(no, False), **dict.fromkeys(yes, True)}


def _latest_meter(piece: Piece, topic: str) -> Mapping[str, Any]:
    """Give the bench's JSON of what the meter page found last on a topic; empty for nothing."""
    rows = Measurement.objects.filter(piece=piece, kind=topic, recording=None)
    latest = rows.exclude(result=None).order_by("-taken_at", "pk").first()
    return latest.result if latest and isinstance(latest.result, dict) else {}


def measured_elsewhere(trouble: Trouble) -> dict[str, Any]:
    """Measured keys that the piece's latest recording before the work, and meters, tell."""
    found: dict[str, Any] = {}
    done = trouble.piece.recordings.filter(status=Recording.Status.DONE)
    latest = done.exclude(role=Recording.Role.AFTER).first()
    if latest and isinstance(latest.result, dict):
        bench = bridges.from_motion if "speed_ripple" in latest.result else bridges.from_sound
        found |= bench(latest.result)
    for topic, take in (
        ("current", bridges.from_current),
        ("winding", bridges.from_winding),
        ("wheels", bridges.from_wheels),
    ):
        found |= take(_latest_meter(trouble.piece, topic))
    knowledge = shipped_knowledge()
    for row in Measurement.objects.filter(
        piece=trouble.piece, key__in=knowledge.quantity_by_key, value__isnull=False
    ).order_by("taken_at", "pk"):
        quantity = knowledge.quantity_by_key[row.key]
        if row.unit == quantity.unit:
            found[row.key] = row.reading.as_json()
    return found


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
