"""The meter page: typed readings are explained at once and kept with the piece."""

import io

import pytest
from bs4 import BeautifulSoup
from django.urls import reverse
from pypdf import PdfReader

from outshop.records import services, store
from outshop.records.models import Measurement

pytestmark = pytest.mark.django_db

MOTOR = {
    "light_v": "12", "light_a": "0,12", "light_n": "171.9",
    "half_v": "8", "half_a": "0,12", "half_n": "108.2",
    "held1_v": "6", "held1_a": "0.6", "held2_v": "5", "held2_a": "0.5",
    "held3_v": "4", "held3_a": "0.4",
}  # fmt: skip


@pytest.fixture(name="piece")
def _piece():
    return services.add_piece(
        name="Invented tank engine", kind="steam", state="on_the_bench", scale="H0",
        arrangement="1'C1'", drive={"armature_poles": 3, "wheel_diameter_mm": 16.1},
    )  # fmt: skip


def post(client, piece, topic, **fields):
    return client.post(reverse("meter_say", args=[piece.pk, topic]), fields)


def text(answer):
    return BeautifulSoup(answer.content, "html.parser").get_text(" ", strip=True)


def test_the_page_shows_every_topic_and_the_next_reading(client, piece):
    answer = client.get(reverse("meter", args=[piece.pk]))
    assert answer.status_code == 200
    for words in ("Motor", "Windings", "Wheel sets", "Rolling", "Pull", "Next: Motor"):
        assert words in text(answer)


def test_motor_readings_are_explained_without_being_kept(client, piece):
    answer = post(client, piece, "motor", look="1", **MOTOR)
    assert answer.status_code == 200
    said = text(answer)
    assert "Resistance" in said
    assert "10.0" in said
    assert b"<svg" in answer.content
    assert not Measurement.objects.exists()


def test_kept_readings_come_back_with_what_was_typed(client, piece):
    answer = post(client, piece, "motor", keep="1", form_token="a" * 32, **MOTOR)
    assert answer.status_code == 302
    constant = piece.measurements.get(key="constant")
    assert constant.value == pytest.approx(0.01, rel=2e-3)
    assert constant.low < 0.01 < constant.high
    assert constant.result["findings"]
    page = BeautifulSoup(client.get(answer.url).content, "html.parser")
    assert page.find(id="motor-light_a")["value"] == "0,12"
    assert "On record" in page.find(id="motor").get_text()


def test_the_same_form_sent_twice_is_kept_once(client, piece):
    for _ in range(2):
        post(client, piece, "motor", keep="1", form_token="b" * 32, **MOTOR)
    assert piece.measurements.filter(key="constant").count() == 1


def test_a_slip_can_be_taken_back(client, piece):
    post(client, piece, "rolling", keep="1", tilt_deg="1.2 1.3 1.1")
    kept = piece.measurements.get()
    client.post(reverse("meter_forget", args=[piece.pk]), {"kept": str(kept.pk)})
    assert not piece.measurements.exists()


def test_a_shorted_coil_is_named_and_drawn(client, piece):
    answer = post(client, piece, "winding", r1="0", r2="3", r3="3", look="1")
    assert "Shorted: coil 1" in text(answer)
    assert b"ring stop" in answer.content


def test_wheel_sets_are_marked_on_the_axle_diagram(client, piece):
    post(
        client, piece, "wheels", keep="1", axle="1", gauge_mm="16.5", back_to_back="14.2 14.3 14.2"
    )
    page = BeautifulSoup(client.get(reverse("meter", args=[piece.pk])).content, "html.parser")
    assert "Out by 0.20 mm" in page.find(id="wheels").get_text(" ", strip=True)
    assert page.find(id="wheels").select(".axle-sheet .fault")
    chosen = client.get(reverse("meter", args=[piece.pk]), {"axle": "1"})
    field = BeautifulSoup(chosen.content, "html.parser").find(id="wheels-back_to_back")
    assert field["value"] == "14.2 14.3 14.2"


@pytest.mark.parametrize(
    ("topic", "fields", "says"),
    [
        ("pull", {"weights_g": "75 75 75", "driven_mass_g": "300", "tyres": "no"}, "usual"),
        ("rolling", {"tilt_deg": "1.2 1.3 1.1"}, "Rolls freely"),
        ("reversing", {"pull_in_v": "15"}, "driving range"),
        ("size", {"length_mm": "264", "full_length_mm": "26400"}, "deliberate compromise"),
    ],
)
def test_each_topic_answers_and_is_kept(client, piece, topic, fields, says):
    assert says in text(post(client, piece, topic, look="1", **fields))
    assert post(client, piece, topic, keep="1", **fields).status_code == 302
    assert piece.measurements.filter(kind=topic).exists()


def test_a_log_is_measured_on_upload(client, piece):
    rows = "\n".join(f"{k / 10};{0 if k < 20 else 350}" for k in range(100))
    log = io.BytesIO(f"Zeit [s];Strom [mA]\n{rows}\n".encode())
    log.name = "log 1.csv"
    answer = post(client, piece, "current", keep="1", log=log)
    assert answer.status_code == 302
    assert piece.measurements.get(key="running_current").value == pytest.approx(0.35)
    # the file stays as it came, and the page leads to it
    kept = {m.media for m in piece.measurements.filter(kind="current")}
    (media,) = kept
    assert store.path_of(media.sha256).read_bytes() == log.getvalue()
    page = client.get(reverse("meter", args=[piece.pk])).content.decode()
    assert reverse("file", args=[media.sha256]) in page
    given = client.get(reverse("file", args=[media.sha256]))
    assert b"".join(given.streaming_content) == log.getvalue()
    assert "attachment" in given["Content-Disposition"]


@pytest.mark.parametrize(
    ("topic", "fields", "says"),
    [
        ("motor", {"light_v": "12"}, "whole line"),
        ("motor", {**MOTOR, "light_a": "3"}, "“Light, full voltage” draws 3 A"),
        ("motor", {"light_v": "abc", "light_a": "1", "light_n": "1"}, "number"),
        ("winding", {"r1": "-4", "r2": "4", "r3": "4"}, "negative"),
        ("winding", {"r1": "4", "r2": "4"}, "still empty"),
        ("winding", {"r1": "x", "r2": "4", "r3": "4"}, "no number"),
        ("wheels", {"gauge_mm": "17", "back_to_back": "14.2"}, "17 mm"),
        ("wheels", {"gauge_mm": "", "back_to_back": "14.2"}, "gauge"),
        ("rolling", {"tilt_deg": "89"}, "tilt"),
        ("rolling", {"heights_mm": "10"}, "base"),
        ("pull", {"pulled_g": "300", "rest_g": "200"}, "scale shows"),
        ("reversing", {"throws": "yes"}, "voltage at which"),
        ("reversing", {"pull_in_v": "230"}, "not believable"),
        ("size", {"wagon_mass_g": "-3", "length_mm": "100"}, "above 0"),
        ("motor", {}, "Nothing is filled in"),
    ],
)
def test_wrong_readings_are_one_sentence_and_nothing_is_lost(client, piece, topic, fields, says):
    answer = post(client, piece, topic, keep="1", **fields)
    assert answer.status_code == 400
    assert says in text(answer)
    page = BeautifulSoup(answer.content, "html.parser")
    for name, typed in fields.items():
        shown = page.find(id=f"{topic}-{name}")
        if shown.name == "input":
            assert shown["value"] == typed if typed else not shown.get("value")
    assert not Measurement.objects.exists()


def test_a_file_that_is_no_log_is_refused(client, piece):
    file = io.BytesIO(b"\x00\x01\x02")
    file.name = "x.csv"
    answer = post(client, piece, "current", keep="1", log=file)
    assert answer.status_code == 400
    assert "text table" in text(answer)


def test_the_answer_alone_is_sent_to_htmx(client, piece):
    answer = client.post(
        reverse("meter_say", args=[piece.pk, "rolling"]),
        {"tilt_deg": "1.2"},
        HTTP_HX_REQUEST="true",
    )
    assert answer.status_code == 200
    assert b"<html" not in answer.content
    assert "permille" in text(answer) or "‰" in text(answer)


def test_the_pencil_form_is_one_page_with_the_axles(client, piece):
    answer = client.get(reverse("meter_form", args=[piece.pk]))
    pages = PdfReader(io.BytesIO(answer.content)).pages
    assert len(pages) == 1
    printed = pages[0].extract_text()
    for words in ("Invented tank engine", "held, any angle", "1-2", "1 to 2 s", "licensed"):
        assert words in printed


def test_the_pencil_form_stays_one_page_for_the_longest_engine(client):
    piece = services.add_piece(
        name="Long", kind="steam", state="arrived", scale="H0", arrangement="(2'D)D2'+2'2'",
        drive={"armature_poles": 13},
    )  # fmt: skip
    answer = client.get(reverse("meter_form", args=[piece.pk]))
    assert len(PdfReader(io.BytesIO(answer.content)).pages) == 1


def test_the_piece_page_shows_the_latest_of_each_topic(client, piece):
    post(client, piece, "rolling", keep="1", tilt_deg="1.2 1.3 1.1")
    assert "Rolls freely" in text(client.get(reverse("piece", args=[piece.pk])))


def test_unknown_topics_and_pieces_are_not_found(client, piece):
    assert post(client, piece, "steam", keep="1").status_code == 404
    assert client.get(reverse("meter", args=[piece.pk + 99])).status_code == 404


def test_what_the_meter_found_reaches_the_diagnosis(client, piece):
    """A motor with bad stall readings, a shorted coil and narrow wheels, kept on the page."""
    from outshop.records.models import Trouble
    from outshop.records.queries.troubles import known_elsewhere, measured_elsewhere

    worn = {**MOTOR, "held2_a": "0.35"}
    post(client, piece, "motor", keep="1", **worn)
    post(client, piece, "winding", keep="1", r1="0", r2="3", r3="3")
    post(client, piece, "wheels", keep="1", gauge_mm="16.5", back_to_back="14.2 14.3 14.2")
    trouble = Trouble(piece=piece)
    assert known_elsewhere(trouble)["current_jumpy"]
    measured = measured_elsewhere(trouble)
    assert measured["winding_verdict"] == "shorted"
    assert measured["back_to_back_error_mm"] == pytest.approx(0.2)


def test_readings_are_set_against_those_kept_before(client, piece):
    """Rolling resistance halves after cleaning: provable; the same again is not."""
    post(client, piece, "rolling", keep="1", tilt_deg="2.4 2.5 2.3 2.4")
    said = text(post(client, piece, "rolling", look="1", tilt_deg="1.2 1.3 1.1 1.2"))
    assert "change since" in said
    assert "no provable change" not in said
    same = text(post(client, piece, "rolling", look="1", tilt_deg="2.4 2.4 2.5 2.3"))
    assert "no provable change" in same


def test_the_kept_pull_is_ready_for_a_train(client, piece):
    from outshop.records.queries.meters import engine_for_a_train

    assert engine_for_a_train(piece) == {}
    post(client, piece, "pull", keep="1", weights_g="75 75 75", step_g="5", mass_g="300")
    known = engine_for_a_train(piece)
    assert known["pull_g"] == 75
    assert known["low_g"] < 75 < known["high_g"]
    assert known["engine_mass_g"] == 300
