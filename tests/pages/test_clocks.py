"""The page of clocks and slip: clocks of a run held together, with its clip and its sound."""

import io
import math
import wave

import pytest
from bs4 import BeautifulSoup
from django.urls import reverse

from outshop.estimate import Estimate
from outshop.records import services
from outshop.records.models import Measurement, Recording

pytestmark = pytest.mark.django_db

RIM = 4 * math.pi * 0.016  # m/s of a 16 mm wheel at 4 turns a second
GRID = {"kind1": "stop-watch", "way1": "1000", "times1": "5,52 5,50 5,55"}


@pytest.fixture(name="piece")
def _piece():
    return services.add_piece(
        name="Invented tank engine", scale="H0", drive={"wheel_diameter_mm": 16.0, "ratio": 15.0}
    )


def recording(piece, programme, result):
    """A measured recording; what is in the file does not matter here."""
    sound = io.BytesIO()
    with wave.open(sound, "wb") as file:
        file.setnchannels(1)
        file.setsampwidth(2)
        file.setframerate(8000)
        file.writeframes(bytes(str(result), "utf-8")[:1000] * 2)
    sound.seek(0)
    kept = services.add_recording(piece=piece, source=sound, name="run.wav", programme=programme)
    Recording.objects.filter(pk=kept.pk).update(status="done", result=result)
    return kept


@pytest.fixture(name="clip")
def _clip(piece):
    return recording(
        piece, "motion", {"speed": Estimate.plus_minus(0.9 * RIM, 0.001, "m/s").as_json()}
    )


@pytest.fixture(name="sound")
def _sound(piece):
    heard = {
        "motor_speed": Estimate.plus_minus(60, 0.2, "1/s").as_json(),
        "wheel_speed": Estimate.plus_minus(4, 0.013, "1/s").as_json(),
        "motor_speed_status": "confident",
        "lap_time": Estimate.plus_minus(10, 0.05, "s").as_json(),
        "drive": {"wheel_diameter_mm": 16.0, "ratio": 15.0},
    }
    return recording(piece, "bench", heard)


def send(client, piece, action="look", **more):
    return client.post(reverse("clocks_say", args=[piece.pk]), {**GRID, **more, action: "1"})


def text(answer):
    return BeautifulSoup(answer.content, "html.parser").get_text(" ", strip=True)


def test_a_stop_watch_alone_gives_its_speed_at_full_size_too(client, piece):
    said = text(send(client, piece))
    assert "Stop-watch over 1000 mm" in said
    assert "km/h" in said  # NEM 010: H0 is 1:87
    assert not Measurement.objects.exists()


def test_clip_sound_and_stop_watch_of_one_run_agree_and_give_the_slip(client, piece, clip, sound):
    said = text(send(client, piece, clip=clip.pk, sound=sound.pk, loop_mm="1810", wheel_mm="16"))
    assert "The clocks agree." in said
    assert "Laps heard in the recording" in said
    assert "The wheels slip" in said


def test_clocks_that_disagree_are_all_shown_with_a_slip_each(client, piece, clip, sound):
    said = text(send(client, piece, clip=clip.pk, sound=sound.pk, times1="3,1 3,1 3,1"))
    assert "do not agree" in said
    assert "Slip, by clip" in said
    assert "Slip, by stop-watch" in said
    assert "no wheel slips that way" in said


def test_the_ratio_when_nothing_slips_with_whole_teeth(client, piece, clip, sound):
    said = text(send(client, piece, clip=clip.pk, sound=sound.pk, rolling="on", times1=""))
    assert "True gear ratio" in said
    assert "Whole teeth that fit" in said
    assert "does not fit the measured" in said


def test_kept_readings_are_on_record_and_can_be_taken_back(client, piece, clip, sound):
    fields = {"clip": clip.pk, "sound": sound.pk, "form_token": "c" * 32}
    for _ in range(2):  # sent twice by a nervous thumb
        assert send(client, piece, "keep", **fields).status_code == 302
    assert piece.measurements.get(key="slip").value == pytest.approx(10, abs=1)
    assert piece.measurements.get(key="clocked_speed").unit == "m/s"
    page = client.get(reverse("clocks", args=[piece.pk]))
    assert "On record" in text(page)
    assert "Clocks and slip" in text(client.get(reverse("piece", args=[piece.pk])))
    pks = BeautifulSoup(page.content, "html.parser").find(attrs={"name": "kept"})["value"]
    client.post(reverse("clocks_forget", args=[piece.pk]), {"kept": pks})
    assert not piece.measurements.filter(kind="clock").exists()


def test_the_wheel_of_the_drive_is_offered(client, piece):
    page = BeautifulSoup(client.get(reverse("clocks", args=[piece.pk])).content, "html.parser")
    assert page.find(id="id_wheel_mm")["value"] == "16.0"


@pytest.mark.parametrize(
    ("fields", "says"),
    [
        ({"way1": ""}, "Line 1: the times need their way"),
        ({"way1": "0"}, "Line 1: a way of 0 mm cannot be"),
        ({"way1": "long"}, "“long” is not a number"),
        ({"times1": "soon"}, "Line 1: 'soon' is no number"),
        ({"times1": "-5"}, "Line 1: a time of -5 s cannot be"),
        ({"laps1": "1,5"}, "Line 1: count whole laps"),
        ({"wheel_mm": "-16"}, "A length below 0 mm cannot be"),
        ({"clip": "999"}, "999"),
        ({"times1": "", "way1": ""}, "Nothing is filled in yet"),
    ],
)
def test_each_slip_of_the_pen_is_a_sentence_and_nothing_is_kept(client, piece, fields, says):
    answer = send(client, piece, "keep", **fields)
    assert answer.status_code == 400
    assert says in text(answer)
    assert not Measurement.objects.exists()


def test_a_sound_without_a_wheel_leaves_the_clocks_standing(client, sound, piece):
    Recording.objects.update(result={**Recording.objects.get(pk=sound.pk).result, "drive": None})
    said = text(send(client, piece, sound=sound.pk))
    assert "diameter is not known" in said
    assert "Stop-watch over 1000 mm" in said


def test_htmx_asks_for_the_answer_alone(client, piece):
    address = reverse("clocks_say", args=[piece.pk])
    answer = client.post(address, GRID, headers={"HX-Request": "true"})
    assert b"<html" not in answer.content
    assert "Stop-watch" in text(answer)
