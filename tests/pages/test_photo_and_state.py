"""Photos, states and taking a piece off the record."""

import io

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.urls import reverse
from PIL import Image
from pypdf import PdfReader

from outshop.records import services
from outshop.records.models import Piece


def picture(colour: str) -> SimpleUploadedFile:
    file = io.BytesIO()
    Image.new("RGB", (60, 40), colour).save(file, "PNG")
    return SimpleUploadedFile(f"{colour}.png", file.getvalue(), "image/png")


def test_a_photo_is_captioned_made_cover_and_taken_away(client, piece):
    for colour in ("red", "blue"):
        client.post(reverse("photo_add", args=[piece.pk]), {"file": picture(colour)})
    first, second = piece.photos.all()
    piece.refresh_from_db()
    assert piece.cover == first
    client.post(reverse("photo_caption", args=[second.pk]), {"caption": "left <side>"})
    assert "left &lt;side&gt;" in client.get(reverse("photo", args=[second.pk])).content.decode()
    client.post(reverse("photo_cover", args=[second.pk]))
    piece.refresh_from_db()
    assert piece.cover == second
    client.post(reverse("photo_remove", args=[second.pk]))
    piece.refresh_from_db()
    assert piece.cover == first
    history = client.get(reverse("history", args=[piece.pk])).content.decode()
    assert "left &lt;side&gt;" in history


def test_a_piece_moves_on_by_one_button_and_the_bench_shows_it(client, piece):
    page = client.get(reverse("piece", args=[piece.pk])).content.decode()
    assert "Put it on the bench" in page
    client.post(reverse("piece_state", args=[piece.pk]), {"state": "on_the_bench"})
    piece.refresh_from_db()
    assert piece.state == "on_the_bench"
    assert "The bench is clear" not in client.get("/").content.decode()
    wrong = client.post(reverse("piece_state", args=[piece.pk]), {"state": "melted"})
    assert wrong.status_code == 400


@pytest.mark.parametrize("state", Piece.State.values)
def test_every_state_has_a_page(client, piece, state):
    services.change_piece(piece=piece, state=state)
    assert client.get(reverse("piece", args=[piece.pk])).status_code == 200


def test_removing_asks_first_and_says_what_goes_with_it(client, piece):
    services.add_inspection(piece=piece)
    address = reverse("piece_remove", args=[piece.pk])
    assert "Inspections" in client.get(address).content.decode()
    assert client.post(address).status_code == 400
    assert Piece.objects.count() == 1
    answer = client.post(address, {"sure": "yes"}, follow=True)
    assert Piece.objects.count() == 0
    assert "was taken off the record" in answer.content.decode()


def test_the_printed_card_says_what_the_page_says(client, piece):
    inspection = services.add_inspection(piece=piece)
    services.set_finding(inspection=inspection, target_kind="axle", target="a", state="seized")
    card = services.write_job_card(piece=piece, title="Service", inspection=inspection)
    step = card.steps.first()
    services.tick_step(step=step, note="done by lamp light")
    answer = client.get(reverse("job_print", args=[card.pk]))
    assert answer["Content-Type"] == "application/pdf"
    pages = PdfReader(io.BytesIO(answer.content)).pages
    text = " ".join(" ".join(page.extract_text() for page in pages).split())
    assert "Axle a: seized" in text
    assert "done by lamp light" in text
    assert all(kept.title.split()[0] in text for kept in card.steps.all())
