"""The sound page: pictures, tones in words, honest speed, and the drive behind them."""

import io
import math
import wave
from xml.etree import ElementTree as ET

import numpy as np
import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.urls import reverse
from PIL import Image

from outshop.estimate import Estimate, NotMeasurable
from outshop.pages import sound_drive, sound_status, sound_tones
from outshop.records import services, spectrograms
from outshop.records.models import Recording
from outshop.reports.rose import Bump, turn_rose
from outshop.reports.spectrogram import RunSpan, ToneLine, spectrogram_sheet

DRIVE = {
    "armature_poles": 3,
    "stages": [{"driver_teeth": 10, "driven_teeth": 50}],
    "wheel_diameter_mm": 16.0,
    "scale": 87.0,
}


def tone_wav(hz: float = 1000.0, seconds: float = 2.0, rate: int = 16_000) -> SimpleUploadedFile:
    t = np.arange(int(seconds * rate)) / rate
    file = io.BytesIO()
    with wave.open(file, "wb") as target:
        target.setparams((1, 2, rate, t.size, "NONE", ""))
        target.writeframes((8000 * np.sin(2 * math.pi * hz * t)).astype("<i2").tobytes())
    return SimpleUploadedFile("tone.wav", file.getvalue(), "audio/wav")


def result(status: str = "confident", **more: object) -> dict:
    found = {
        "duration_s": 2.0,
        "sample_rate_hz": 16_000.0,
        "runs": [{"start_s": 0.5, "end_s": 1.5, "state": "running"}],
        "level": Estimate.plus_minus(-40, 1, "dB(A)").as_json(),
        "motor_speed": Estimate.plus_minus(50, 1, "1/s").as_json(),
        "scale_speed": Estimate.plus_minus(157.4, 3, "km/h").as_json(),
        "motor_speed_status": status,
        "alternatives": [100.0] if status == "ambiguous" else [],
        "drive": DRIVE,
        "orders": [
            order("commutation (6 per turn)", 6.0, 18.0),
            order("stage 1 mesh ×2", 20.0, 9.0, side_bands=[{"shaft": "wheel", "order": 0.2}]),
            order("motor turn", 1.0, 1.0, heard=False),
        ],
        "track": [{"t_s": 0.5 + i / 20, "motor_speed": 50.0} for i in range(20)],
        "steady_tones": [
            {
                "name": "mains hum 100 Hz",
                "frequency_hz": 100.0,
                "level_db": -60.0,
                "prominence_db": 12.0,
            }
        ],
        "turn_envelope": [1 + 0.2 * math.cos(2 * math.pi * i / 24) for i in range(24)],
        "thumps": [{"angle_deg": 90.0, "height_db": 3.2, "chance": 0.0025}],
    }
    return found | more


def order(name: str, per_turn: float, above: float, *, heard: bool = True, side_bands=()) -> dict:
    return {
        "name": name,
        "shaft": "motor",
        "order": per_turn,
        "frequency_hz": 50 * per_turn,
        "level_db": -50.0,
        "prominence_db": above,
        "heard": heard,
        "side_bands": list(side_bands),
    }


@pytest.fixture(name="recording")
def _recording(client, piece) -> Recording:
    services.change_piece(piece=piece, drive=DRIVE)
    client.post(reverse("record", args=[piece.pk]), {"role": "before", "file": tone_wav()})
    return Recording.objects.get()


def keep(recording: Recording, found: dict) -> None:
    services.keep_result(recording=recording, result=found, kind="sound")


def page_of(client, name: str, pk: int) -> str:
    answer = client.get(reverse(name, args=[pk]))
    assert answer.status_code == 200
    return answer.content.decode()


def test_a_tone_of_1_khz_is_dark_at_the_row_of_1_khz(client, recording):
    answer = client.get(reverse("spectrogram", args=[recording.pk]))
    assert answer["Content-Type"] == "image/png"
    image = np.asarray(Image.open(io.BytesIO(b"".join(answer.streaming_content))), float)
    low, high = spectrograms.limits_hz(16_000)
    darkest = image[:, image.shape[1] // 4 : -image.shape[1] // 4].mean(1).argmin()
    share = 1 - darkest / (image.shape[0] - 1)
    assert low * (high / low) ** share == pytest.approx(1000, rel=0.03)


def test_the_picture_is_made_once_and_then_read(client, recording, monkeypatch):
    first = spectrograms.path_of(recording.media.sha256).read_bytes()
    monkeypatch.setattr(spectrograms, "_drawn", lambda _path: pytest.fail("made again"))
    assert spectrograms.path_of(recording.media.sha256).read_bytes() == first


def test_the_page_names_tones_in_words_and_keeps_hum_apart(client, recording):
    keep(recording, result())
    page = page_of(client, "sound", recording.pk)
    assert "from segment to segment of the commutator" in page
    assert "2 times as high as: teeth meeting teeth in gear stage 1" in page
    assert "swells once per turn of: wheel" in page
    assert "not heard" in page
    hum = page.index("Tones that stay where they are")
    assert page.index("3 · mains hum 100 Hz", hum) > hum
    assert "at most 0.003" in page
    assert "style=" not in page


def test_what_rings_by_itself_is_told_with_the_tones_that_pass_it(client, recording):
    ring = {
        "frequency_hz": 1214.0,
        "low_hz": 1180.0,
        "high_hz": 1252.0,
        "prominence_db": 11.3,
        "error_db": 0.2,
        "excited_by": ["stage 1 mesh ×2"],
    }
    keep(recording, result(fixed_resonances=[ring], fixed_resonances_note=""))
    page = page_of(client, "sound", recording.pk)
    part = page[page.index("What rings by itself") :]
    assert "1214 Hz" in part
    assert "+11 dB" in part
    assert "from 1180 to 1252 Hz; passed by: stage 1 mesh ×2" in part


def test_that_rings_cannot_be_told_is_said(client, recording):
    note = "the speed varied by 1% only: what stays cannot be told from what moves"
    keep(recording, result(fixed_resonances=[], fixed_resonances_note=note))
    page = page_of(client, "sound", recording.pk)
    assert "The speed varied by 1% only" in page[page.index("What rings by itself") :]
    keep(recording, result())
    assert "What rings by itself" not in page_of(client, "sound", recording.pk)


def test_runs_can_be_heard_without_script(client, recording):
    keep(recording, result())
    page = page_of(client, "sound", recording.pk)
    assert f"/file/{recording.media.sha256}#t=0.50,1.50" in page


def test_before_it_is_measured_the_page_leads_to_the_recording(client, recording):
    answer = client.get(reverse("sound", args=[recording.pk]))
    assert answer.url == reverse("recording", args=[recording.pk])


def test_an_unsure_speed_never_stands_alone(client, recording):
    keep(recording, result("ambiguous"))
    piece_page = page_of(client, "piece", recording.piece.pk)
    assert "speed not sure: 157 or 315 km/h" in piece_page
    assert "157.4" not in piece_page
    page = page_of(client, "recording", recording.pk)
    doubt = page.index("Right only if the likeliest speed is the true one")
    assert "Motor speed" in page[doubt:]
    table = page[page.index("<table") : page.index("</table>")]
    assert "Motor speed" not in table
    assert "Running level" in table
    assert 'name="choice"' in page


def test_a_sure_speed_stands_with_its_value(client, recording):
    keep(recording, result())
    assert "not sure" not in page_of(client, "piece", recording.piece.pk)
    page = page_of(client, "recording", recording.pk)
    assert "Motor speed" in page[page.index("<table") : page.index("</table>")]


def test_a_speed_that_was_not_found_says_why(client, recording):
    lost = NotMeasurable("the tones fit no speed of this drive", "1/s").as_json()
    keep(recording, result("not_found", motor_speed=lost, scale_speed=lost, orders=[], track=[]))
    page = page_of(client, "sound", recording.pk)
    assert "was not found" in page
    assert "The tones fit no speed of this drive." in page


def test_choices_are_the_scale_speeds_of_each_motor_speed():
    # pi × 16 mm × 87 × 3.6 / 5: worked by hand, 3.1486 km/h for a motor turn a second
    status = sound_status.status_of(result("ambiguous"))
    assert [c.scale_km_h for c in status.choices] == pytest.approx([157.43, 314.86], rel=1e-3)


def test_without_wheel_and_scale_speeds_are_told_but_not_offered(client, recording):
    keep(recording, result("ambiguous", drive={"armature_poles": 3}))
    page = page_of(client, "recording", recording.pk)
    assert "motor 100.0 turns a second" in page
    assert 'name="choice"' not in page


def test_a_given_speed_is_kept_and_can_be_forgotten(client, recording):
    keep(recording, result("ambiguous"))
    address = reverse("give_speed", args=[recording.pk])
    client.post(address, {"choice": "157.43"})
    recording.refresh_from_db()
    assert recording.setup["scale_speed_km_h"] == pytest.approx(157.43)
    assert recording.status == Recording.Status.WAITING
    client.post(address, {"forget": "1"})
    recording.refresh_from_db()
    assert "scale_speed_km_h" not in recording.setup


@pytest.mark.parametrize(
    ("form", "words"),
    [
        ({}, "Choose one"),
        ({"known_km_h": "fast"}, "not a number"),
        ({"known_km_h": "9000"}, "1 to"),
    ],
    ids=["nothing", "no number", "impossible"],
)
def test_a_speed_that_cannot_be_is_refused_in_a_sentence(client, recording, form, words):
    answer = client.post(reverse("give_speed", args=[recording.pk]), form)
    assert answer.status_code == 400
    assert words in answer.content.decode()


def test_without_a_drive_the_page_says_what_each_sound_could_be(client, recording):
    families = [{"kind": "rate", "frequency_hz": 2.7, "could_be": ["once per turn at 42 km/h"]}]
    keep(recording, result("not_found", orders=[], drive=None, families=families))
    page = page_of(client, "sound", recording.pk)
    assert "Once per turn at 42 km/h" in page
    assert "Enter the drive" in page


def drive_form(piece, **fields: str) -> dict:
    piece.refresh_from_db()
    return {"version": str(piece.version)} | fields


def test_the_next_piece_of_the_edition_has_the_drive(client, piece):
    edition = services.add_edition(maker="Invented Works", name="Tank engine")
    services.change_piece(piece=piece, edition=edition, drive={"armature_poles": 5})
    sister = services.add_piece(name="Sister", edition=edition)
    form = drive_form(piece, armature_poles="3", stages="10/50", wheel_diameter_mm="16,1")
    assert client.post(reverse("drive", args=[piece.pk]), form).status_code == 302
    for one in (piece, sister):
        one.refresh_from_db()
        one.edition.refresh_from_db()
        assert one.known_drive == {
            "armature_poles": 3,
            "stages": [{"driver_teeth": 10, "driven_teeth": 50}],
            "wheel_diameter_mm": 16.1,
        }


def test_a_ratio_alone_is_enough_and_outlives_the_pieces_form(client, piece):
    client.post(reverse("drive", args=[piece.pk]), drive_form(piece, ratio="18,5"))
    form = drive_form(piece, name=piece.name, kind="steam", state="arrived")
    client.post(reverse("piece_edit", args=[piece.pk]), form)
    piece.refresh_from_db()
    assert piece.drive == {"ratio": 18.5}


@pytest.mark.parametrize(
    ("fields", "words"),
    [
        ({"stages": "10/50", "ratio": "7"}, "contradicts"),
        ({"stages": "0/50"}, "no gear stage"),
        ({"wheel_diameter_mm": "0"}, "greater than or equal"),
    ],
    ids=["ratio against teeth", "no teeth", "wheel of nothing"],
)
def test_a_drive_that_cannot_be_is_shown_again_with_the_sentence(client, piece, fields, words):
    answer = client.post(reverse("drive", args=[piece.pk]), drive_form(piece, **fields))
    assert answer.status_code == 400
    assert words in answer.content.decode()
    piece.refresh_from_db()
    assert piece.drive == {}


def test_after_a_change_of_the_drive_measuring_again_is_offered(client, recording):
    recording.piece.refresh_from_db()
    keep(recording, result())
    assert not sound_drive.outdated(Recording.objects.get())
    form = drive_form(recording.piece, armature_poles="5")
    address = f"{reverse('drive', args=[recording.piece.pk])}?recording={recording.pk}"
    answer = client.post(address, form)
    assert answer.url == reverse("recording", args=[recording.pk])
    assert "The drive has changed" in client.get(answer.url).content.decode()


def test_tone_lines_lie_where_a_log_axis_puts_them():
    # 50 to 5000 Hz: 500 Hz is half way up by logarithm
    line = ToneLine("x", [(0.0, 500.0), (10.0, 500.0)])
    svg = ET.fromstring(spectrogram_sheet("/p", 10.0, (50.0, 5000.0), [line], [], "t"))
    space = "{http://www.w3.org/2000/svg}"
    image = svg.find(f"{space}image").attrib
    top, height = float(image["y"]), float(image["height"])
    drawn = svg.find(f"{space}polyline").attrib["points"].split()
    assert [float(p.split(",")[1]) for p in drawn[:2]] == pytest.approx([top + height / 2] * 2)


def test_a_swinging_tone_is_drawn_at_its_mean():
    swing = [(i / 50, 500 * (1 + 0.1 * math.sin(i))) for i in range(2000)]
    svg = ET.fromstring(
        spectrogram_sheet("/p", 40.0, (50.0, 5000.0), [ToneLine("x", swing)], [], "t")
    )
    drawn = svg.find("{http://www.w3.org/2000/svg}polyline").attrib["points"].split()
    heights = [float(p.split(",")[1]) for p in drawn]
    # 10 % up and down would be 13 units high on this axis
    assert np.ptp(heights) < 3
    assert np.mean(heights) == pytest.approx(24 + 298 / 2, abs=1)


def test_drawings_escape_what_people_wrote():
    bad = '<b onload="x">&'
    run = RunSpan(0, 1, bad, bad)
    ET.fromstring(spectrogram_sheet(bad, 2.0, (50, 8000), [ToneLine(bad, [(0, 99)])], [run], bad))
    ET.fromstring(turn_rose([1.0, 1.1], [Bump(10, bad)], bad))


def test_the_rose_is_a_circle_for_an_even_turn_and_leans_to_the_loud_side():
    def radii(envelope):
        svg = ET.fromstring(turn_rose(envelope, [], "t"))
        text = svg.find("{http://www.w3.org/2000/svg}polygon").attrib["points"]
        pairs = [tuple(map(float, p.split(","))) for p in text.split()]
        return [math.hypot(x - 160, y - 160) for x, y in pairs]

    assert np.ptp(radii([1.0] * 24)) < 0.2
    loud = radii([1.3 if i == 6 else 0.987 for i in range(24)])
    assert int(np.argmax(loud)) == 6
    assert turn_rose([], [], "t") == ""


def test_unheard_tones_are_listed_but_not_drawn():
    found = result()
    tones = sound_tones.tones_of(found)
    assert [t.number for t in tones] == [1, 2, 0]
    lines = sound_tones.lines_of(found, tones)
    assert [line.fixed for line in lines] == [False, False, True]
    assert lines[0].points[0] == pytest.approx((0.5, 300.0))
