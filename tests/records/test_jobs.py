"""Inspections, job cards and releases."""

import pytest

from outshop.errors import InputError
from outshop.records import queries, services, store
from outshop.records.models import JobCard, JobStep, Piece

pytestmark = pytest.mark.django_db
STEPS = (
    {"title": "Take the body off", "tools": ["screwdriver"], "minutes": 5},
    {"title": "Free the axle", "cautions": ["solvent: air the room"], "minutes": 20},
    {"title": "Put the body on", "minutes": 5, "reverses": 0},
)


@pytest.fixture(name="card")
def _card(piece: Piece) -> JobCard:
    return services.add_job(piece=piece, title="Free axle 3", steps=STEPS)


def test_saying_a_state_again_replaces_the_first_word(piece: Piece) -> None:
    inspection = services.add_inspection(piece=piece)
    for state in ("stiff", "seized"):
        services.set_finding(
            inspection=inspection, target_kind="axle", target="3", state=state, note="gum"
        )
    finding = inspection.findings.get()
    assert finding.state == "seized"
    change = piece.changes.filter(action="changed").get()
    assert change.changes == [{"field": "state", "old": "stiff", "new": "seized"}]


def test_many_states_at_once_keep_notes_and_drop_empty_ones(piece: Piece) -> None:
    inspection = services.add_inspection(piece=piece)
    services.set_finding(
        inspection=inspection, target_kind="axle", target="1", state="free", note="fine"
    )
    services.set_finding(inspection=inspection, target_kind="part", target="tyres", state="hard")
    services.set_findings(
        inspection=inspection,
        findings={("axle", "1"): "stiff", ("part", "tyres"): "", ("part", "motor"): "good"},
    )
    found = {(f.target_kind, f.target): (f.state, f.note) for f in inspection.findings.all()}
    assert found == {("axle", "1"): ("stiff", "fine"), ("part", "motor"): ("good", "")}


def test_a_card_keeps_order_and_what_undoes_what(card: JobCard) -> None:
    steps = list(queries.job_card(card.pk).steps.all())
    assert [s.order for s in steps] == [1, 2, 3]
    assert steps[2].reverses == steps[0]
    assert queries.step_progress(card) == (0, 3, 30)


def test_a_step_that_undoes_a_later_one_is_refused(piece: Piece) -> None:
    with pytest.raises(InputError, match="does not come before"):
        services.add_job(piece=piece, title="x", steps=[{"title": "a", "reverses": 1}, STEPS[0]])
    assert not JobCard.objects.exists()


def test_ticking_twice_keeps_the_first_time(card: JobCard) -> None:
    step = card.steps.first()
    first = services.tick_step(step=step).done_at
    assert services.tick_step(step=JobStep.objects.get(pk=step.pk), note="gum").done_at == first
    assert JobStep.objects.get(pk=step.pk).note == "gum"
    assert services.untick_step(step=step).done_at is None


def test_a_card_with_open_steps_is_not_done(card: JobCard) -> None:
    with pytest.raises(InputError, match="3 steps"):
        services.finish_job(card=card)
    for step in card.steps.all():
        services.tick_step(step=step)
    services.finish_job(card=card)
    assert (card.state, card.finished_at is not None) == ("done", True)
    services.reopen_job(card=card)
    assert (card.state, card.finished_at) == ("open", None)


def test_giving_up_needs_no_ticks(card: JobCard) -> None:
    assert services.finish_job(card=card, given_up=True).state == "given_up"


def test_a_release_freezes_data_and_pdf_and_counts_for_each_piece(
    piece: Piece, card: JobCard
) -> None:
    made = [
        services.issue_release(
            piece=piece,
            job=card,
            snapshot={"name": piece.name},
            pdf=b"%%PDF-1.7 page %d" % n,
            token=f"t{n}",
        )
        for n in (1, 2, 2)
    ]
    assert [r.number for r in made] == [1, 2, 2]
    services.change_piece(piece=piece, name="renamed")
    made[0].refresh_from_db()
    assert made[0].snapshot == {"name": "Invented tank engine"}
    assert store.path_of(made[0].pdf.sha256).read_bytes() == b"%PDF-1.7 page 1"
