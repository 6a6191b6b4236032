"""A clip's page: the ruler and moments chosen, bad input told at once, two directions compared."""

import json

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.urls import reverse

from outshop.pages import motion_setup
from outshop.records.models import MediaFile, Recording

EST = {"confidence": 0.95, "method": "", "warnings": []}


def estimate(value, half, unit):
    return EST | {"value": value, "low": value - half, "high": value + half, "unit": unit}


def result(speed=0.2, direction="left_to_right", **more):
    none = {"value": None, "reason": "not looked for", "unit": "mm"}
    return {
        "speed": estimate(speed, 0.002, "m/s"),
        "coasting_mm": none,
        "direction": direction,
        "track": [{"t_s": 0.0, "x_mm": 0.0, "v_m_s": 0.2, "x_px": 10.0, "y_px": 20.0}],
        "start_s": 1.2,
        "stop_s": None,
        "steady": [],
        "ruler": {"source": "length", "ends_px": [10, 20, 110, 20], "markers_px": []},
        "picture": {"width": 640, "height": 360},
        "duration_s": 4.0,
        "warnings": [],
        "start_moments": [
            {"kind": "click", "t_s": estimate(0.8, 0.06, "s"), "delay": estimate(0.4, 0.1, "s")}
        ],
        "forward_reverse": {"sides": [], "difference": none, "verdict": "not_measurable"},
    } | more


def kept(piece, name="a", **fields):
    """A measured clip; the file itself is never played here."""
    media = MediaFile.objects.create(
        sha256=name * 64, size=1, kind="video", media_type="video/mp4", original_name=f"{name}.mp4"
    )
    return Recording.objects.create(
        piece=piece, media=media, programme="motion", role="other", status="done", **fields
    )


@pytest.fixture(name="clip")
def _clip(piece):
    return kept(piece, setup={"length_mm": 120}, result=result())


def send(client, clip, **form):
    return client.post(reverse("motion_correct", args=[clip.pk]), form)


@pytest.mark.parametrize(
    ("before", "form", "after"),
    [
        ({"length_mm": 120}, {"what": "strip", "control_mm": "99,5"},
         {"length_mm": 120, "strip": True, "control_mm": 99.5}),
        ({"strip": True, "camera_mm": 400}, {"what": "length", "length_mm": "118"},
         {"length_mm": 118}),
        ({"strip": True},
         {"what": "marks", "x1": "1", "y1": "2", "x2": "90", "y2": "2", "mm": "50"},
         {"marks": [1, 2, 90, 2, 50]}),
        ({"length_mm": 9}, {"what": "object", "pick_x": "5", "pick_y": "6"},
         {"length_mm": 9, "pick": [5, 6]}),
        ({"length_mm": 9, "pick": [5, 6]}, {"what": "any object"}, {"length_mm": 9}),
        ({"length_mm": 9}, {"what": "moment", "moment_s": "1,25", "live": "1"},
         {"length_mm": 9, "moment_s": 1.25, "moment_error_s": 0.1}),
        ({"length_mm": 9, "moment_s": 3}, {"what": "moment", "moment_s": ""}, {"length_mm": 9}),
        ({"length_mm": 9}, {"what": "lamp"}, {"length_mm": 9, "lamp": "find"}),
        ({"length_mm": 9}, {"what": "lamp", "lamp_x": "5", "lamp_y": "200", "width": "640",
                            "height": "360"}, {"length_mm": 9, "lamp": [0, 184, 32, 32]}),
        ({"length_mm": 9, "lamp": "find"}, {"what": "no lamp"}, {"length_mm": 9}),
        ({"length_mm": 9}, {"what": "front", "front": "right"}, {"length_mm": 9, "front": "right"}),
    ],
    ids=["strip", "length", "marks", "object", "any object", "moment", "no moment", "any lamp",
         "lamp", "no lamp", "front"],
)  # fmt: skip
def test_each_form_changes_what_it_says_and_nothing_else(before, form, after):
    assert motion_setup.changed(before, form) == after


@pytest.mark.parametrize(
    ("form", "says"),
    [
        ({"what": "strip", "control_mm": "0"}, "A control line of 0 mm cannot be"),
        ({"what": "strip", "control_mm": "nan"}, "is not a number"),
        ({"what": "strip", "strip_behind_mm": "9999"}, "cannot be put right"),
        ({"what": "marks", "x1": "1"}, "Something is missing"),
        ({"what": "length", "length_mm": "-5"}, "A model of -5 mm cannot be"),
        ({"what": "moment", "moment_s": "soon"}, "“soon” is not a number"),
        ({"what": "front", "front": "up"}, None),
        ({"what": "tea"}, "This form is not known"),
    ],
)
def test_what_cannot_be_is_told_at_once_and_nothing_is_measured_again(client, clip, form, says):
    answer = send(client, clip, **form)
    clip.refresh_from_db()
    if says is None:
        assert answer.status_code == 302
        assert "front" not in clip.setup
        return
    assert answer.status_code == 400
    assert says in answer.content.decode().replace("&#x27;", "'")
    assert clip.status == "done"
    assert clip.setup == {"length_mm": 120}


def test_a_correction_is_kept_and_the_clip_waits_to_be_measured(client, clip):
    assert send(client, clip, what="strip", strip_behind_mm="-12").status_code == 302
    clip.refresh_from_db()
    assert clip.setup == {"length_mm": 120, "strip": True, "strip_behind_mm": -12}
    assert clip.status == "waiting"


def test_the_page_tells_moments_and_the_drawing_gets_all_it_draws(client, clip):
    page = client.get(reverse("motion", args=[clip.pk])).content.decode()
    assert "A click" in page
    assert 'data-take="0.800"' in page
    assert "Start delay" in page
    drawn = json.loads(client.get(reverse("motion_track", args=[clip.pk])).content)
    assert drawn["start_moments"][0]["kind"] == "click"
    assert drawn["ruler"]["markers_px"] == []


def test_a_result_of_an_earlier_version_is_shown_all_the_same(client, piece):
    old = result()
    for key in ("start_moments", "forward_reverse"):
        old.pop(key)
    old["ruler"].pop("markers_px")
    clip = kept(piece, setup={}, result=old)
    assert client.get(reverse("motion", args=[clip.pk])).status_code == 200


def test_two_clips_of_a_piece_are_compared(client, clip, piece):
    back = kept(piece, "b", setup={}, result=result(0.18, "right_to_left"))
    page = client.get(reverse("motion", args=[clip.pk]), {"against": back.pk}).content.decode()
    assert "Faster: this clip, left to right." in page
    same = kept(piece, "c", setup={}, result=result(0.2005, "right_to_left"))
    page = client.get(reverse("motion", args=[clip.pk]), {"against": same.pk}).content.decode()
    assert "No provable difference" in page
    assert client.get(reverse("motion", args=[clip.pk]), {"against": "x"}).status_code == 200


def test_the_strip_is_offered_and_printed(client, piece):
    page = client.get(reverse("film", args=[piece.pk])).content.decode()
    assert reverse("ruler_pdf") in page
    answer = client.get(reverse("ruler_pdf"))
    assert answer["Content-Type"] == "application/pdf"
    assert answer.content.startswith(b"%PDF")


def test_a_form_with_a_wrong_strip_is_shown_again_with_what_was_typed(client, piece):
    form = {"ruler": "strip", "control_mm": "12", "file": SimpleUploadedFile("a.mp4", b"x")}
    answer = client.post(reverse("film", args=[piece.pk]), form)
    page = answer.content.decode()
    assert answer.status_code == 400
    assert "control line of 12 mm cannot be" in page
    assert 'value="strip" checked' in page
    assert 'value="12"' in page
    assert Recording.objects.count() == 0
