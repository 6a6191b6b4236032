"""Inspection by diagram and list, and the card that answers it."""

import io

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.urls import reverse
from PIL import Image

from outshop.records import services


@pytest.fixture(name="inspection")
def _inspection(piece):
    return services.add_inspection(piece=piece)


def keep(client, inspection, **form):
    return client.post(reverse("finding_keep", args=[inspection.pk]), form, follow=True)


def test_an_axle_is_marked_and_the_next_one_offered(client, inspection):
    answer = keep(client, inspection, kind="axle", target="a", state="seized", note="rusty")
    page = answer.content.decode()
    assert answer.redirect_chain[-1][0].endswith("?axle=1#axles")
    assert "carrying axle a: seized" in page
    finding = inspection.findings.get()
    assert (finding.target, finding.state, finding.note) == ("a", "seized", "rusty")


def test_saying_it_again_replaces_and_an_empty_state_takes_it_back(client, inspection):
    keep(client, inspection, kind="part", target="body", state="good")
    keep(client, inspection, kind="part", target="body", state="cracked")
    assert [f.state for f in inspection.findings.all()] == ["cracked"]
    keep(client, inspection, kind="part", target="body", state="")
    assert inspection.findings.count() == 0


@pytest.mark.parametrize(
    ("form", "status"),
    [
        ({"kind": "axle", "target": "9", "state": "free"}, 400),
        ({"kind": "axle", "target": "a", "state": "flying"}, 404),
        ({"kind": "part", "target": "wings", "state": "good"}, 404),
        ({"kind": "part", "target": "body", "state": "", "note": "hm"}, 400),
        ({"kind": "soul", "target": "body", "state": "good"}, 400),
        ({}, 400),
    ],
)
def test_what_cannot_be_is_refused_in_a_sentence(client, inspection, form, status):
    answer = keep(client, inspection, **form)
    assert answer.status_code == status
    assert inspection.findings.count() == 0


def test_a_photo_of_a_part_is_kept_with_its_finding(client, inspection):
    file = io.BytesIO()
    Image.new("RGB", (60, 40), "red").save(file, "PNG")
    photo = SimpleUploadedFile("crack.png", file.getvalue(), "image/png")
    keep(client, inspection, kind="part", target="body", state="cracked", file=photo)
    assert inspection.findings.get().photos.count() == 1


def test_the_summary_goes_part_by_part_and_gives_no_single_number(client, inspection):
    keep(client, inspection, kind="axle", target="a", state="seized")
    keep(client, inspection, kind="part", target="handrails", state="missing")
    page = keep(client, inspection, kind="part", target="body", state="cracked").content.decode()
    summary = page[page.index('id="summary"') :]
    assert "Axle a: seized" in summary
    assert "Body: cracked or chipped" in summary
    assert "Handrails" in summary
    assert "2 of" in summary
    assert "%" not in summary[: summary.index("</div>")]


def test_an_inspection_without_an_arrangement_says_where_to_enter_it(client, db):
    bare = services.add_piece(name="No axles known")
    inspection = services.add_inspection(piece=bare)
    page = client.get(reverse("inspection", args=[inspection.pk])).content.decode()
    assert reverse("piece_edit", args=[bare.pk]) in page


def test_the_card_tells_each_caution_in_full_once_and_folded_after(client, inspection):
    keep(client, inspection, kind="axle", target="a", state="seized")
    answer = client.post(reverse("job_from_inspection", args=[inspection.pk]), follow=True)
    page = answer.content.decode()
    assert page.count("Windows") == 0
    full = page.count('<div class="caution"><b>Small parts fly')
    folded = page.count('<details class="caution"><summary>Small parts fly')
    assert full == 1
    assert folded >= 1


def test_a_tick_says_what_it_wants_so_that_a_second_tap_is_harmless(client, piece):
    card = services.write_job_card(piece=piece, title="card", tasks=["free-axle"])
    step = card.steps.first()
    address = reverse("step_tick", args=[step.pk])
    for _ in range(2):
        client.post(address, {"done": "yes"})
    step.refresh_from_db()
    assert step.done_at is not None
    client.post(address, {"done": "no"})
    step.refresh_from_db()
    assert step.done_at is None


def test_an_open_step_keeps_the_card_open_with_the_reason(client, piece):
    card = services.write_job_card(piece=piece, title="card", tasks=["free-axle"])
    page = client.post(reverse("job_finish", args=[card.pk]), follow=True).content.decode()
    assert "still open" in page
    card.refresh_from_db()
    assert card.state == "open"


def test_a_card_from_chosen_tasks_needs_one(client, piece):
    address = reverse("job_new", args=[piece.pk])
    assert client.post(address).status_code == 400
    assert client.post(address, {"task": "no-such-task"}).status_code == 404
    assert client.post(address, {"task": "free-axle"}).status_code == 302


def test_a_release_lists_what_is_missing_and_can_be_signed_all_the_same(client, piece):
    card = services.write_job_card(piece=piece, title="card", tasks=["free-axle"])
    address = reverse("release_new", args=[card.pk])
    page = client.get(address).content.decode()
    assert page.count("missing") >= 3
    form = {"signed_by": "R. Invented", "form_token": "1" * 32}
    first = client.post(address, form, follow=True)
    second = client.post(address, form, follow=True)
    assert first.redirect_chain == second.redirect_chain
    release = piece.releases.get()
    pdf = client.get(reverse("file", args=[release.pdf.sha256]))
    assert b"".join(pdf.streaming_content).startswith(b"%PDF")
