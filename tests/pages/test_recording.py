"""Taking a recording in, and showing before and after."""

import io
import wave

import numpy as np
import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.urls import reverse

from outshop.bench.compare import Comparison, Row
from outshop.estimate import Estimate, NotMeasurable
from outshop.pages import comparing
from outshop.records.models import Recording


def wav(seconds: float = 0.2) -> SimpleUploadedFile:
    samples = np.random.default_rng(1).normal(0, 2000, int(8000 * seconds)).astype("<i2")
    file = io.BytesIO()
    with wave.open(file, "wb") as target:
        target.setparams((1, 2, 8000, len(samples), "NONE", ""))
        target.writeframes(samples.tobytes())
    return SimpleUploadedFile("run.wav", file.getvalue(), "audio/wav")


def test_a_recording_is_kept_once_though_the_form_comes_twice(client, piece):
    address = reverse("record", args=[piece.pk])
    for _ in range(2):
        form = {"role": "before", "form_token": "2" * 32, "file": wav()}
        answer = client.post(address, form)
    recording = Recording.objects.get()
    assert answer.url == reverse("recording", args=[recording.pk])
    assert recording.role == "before"
    page = client.get(answer.url).content.decode()
    assert "Waiting to be measured" in page
    assert 'hx-trigger="every 1s"' in page


@pytest.mark.parametrize(
    ("form", "words"),
    [
        ({}, "No file was sent"),
        ({"file": SimpleUploadedFile("a.wav", b"")}, "file is empty"),
        ({"file": SimpleUploadedFile("a.wav", b"just words " * 50)}, "plain text"),
        ({"file": wav(), "full_scale_db": "loud"}, "is not a number"),
        ({"file": wav(), "full_scale_db": "900"}, "cannot be right"),
    ],
    ids=["none", "empty", "text", "level no number", "level impossible"],
)
def test_a_bad_recording_form_is_shown_again_with_the_sentence(client, piece, form, words):
    answer = client.post(reverse("record", args=[piece.pk]), form | {"role": "after"})
    page = answer.content.decode()
    assert answer.status_code == 400
    assert words in page
    assert 'value="after" checked' in page
    assert Recording.objects.count() == 0


def test_after_a_before_the_page_offers_the_after(client, piece):
    client.post(reverse("record", args=[piece.pk]), {"role": "before", "file": wav()})
    page = client.get(reverse("record", args=[piece.pk])).content.decode()
    assert 'value="after" checked' in page


def test_a_recording_can_be_marked_anew_and_taken_off(client, piece):
    client.post(reverse("record", args=[piece.pk]), {"role": "before", "file": wav()})
    recording = Recording.objects.get()
    client.post(reverse("recording_role", args=[recording.pk]), {"role": "other"})
    recording.refresh_from_db()
    assert recording.role == "other"
    wrong = client.post(reverse("recording_role", args=[recording.pk]), {"role": "during"})
    assert wrong.status_code == 400
    client.post(reverse("recording_remove", args=[recording.pk]))
    assert Recording.objects.count() == 0


def test_the_player_gets_peaks_that_follow_the_sound(client, piece):
    client.post(reverse("record", args=[piece.pk]), {"role": "before", "file": wav()})
    shape = client.get(reverse("peaks", args=[Recording.objects.get().pk])).json()
    assert max(shape["peaks"]) == 1
    assert all(0 <= p <= 1 for p in shape["peaks"])
    again = client.get(reverse("peaks", args=[Recording.objects.get().pk])).json()
    assert again == shape


def test_the_sheet_without_two_recordings_says_which_is_missing(client, piece):
    page = client.get(reverse("compare", args=[piece.pk])).content.decode()
    assert "no measured recording yet" in page


def row(quantity: str, change: float, verdict: str) -> Row:
    before = Estimate.plus_minus(60, 0.5, "dB(A)")
    return Row(
        quantity, before, before + change, Estimate.plus_minus(change, 0.7, "dB(A)"), verdict, "why"
    )


def test_the_verdict_comes_in_words_with_its_own_kind_first():
    untold = NotMeasurable("no drive given", "1/s")
    comparison = Comparison(
        (
            row("level", -4.1, "better"),
            row("squeal", 0.2, "no_provable_change"),
            Row("motor_speed", untold, untold, untold, "not_comparable", "no drive given"),
        ),
        "better",
    )
    said = comparing.sentence(comparison)
    assert said.startswith("Running level −4.1 dB(A).")
    assert "No provable change: squeal" in said
    assert "motor" not in said


def test_nothing_comparable_is_said_in_a_sentence():
    untold = NotMeasurable("silence", "dB(A)")
    rows = (Row("level", untold, untold, untold, "not_comparable", "silence"),)
    assert "None of the quantities" in comparing.sentence(Comparison(rows, "not_comparable"))
