"""``outshop ruler``, and the motion bench with the printed strip, from the command line.

The strip in the clip is made of OpenCV's own markers at the distances that the sheet states.
"""

import json
import subprocess
import sys
from fractions import Fraction

import av
import cv2
import numpy as np
import pytest
from typer.testing import CliRunner

from outshop.cli.main import build_app
from outshop.errors import InputError, StoreError

SCALE = 1.5  # pixels for one mm; a camera square to the track


def outshop(*words):
    return CliRunner().invoke(build_app(), [str(w) for w in words])


def picture_of(place_mm, wall):
    """Wall, strip A below, and a dark box 120 mm long; drawn four times as large and shrunk."""
    big = wall.copy()
    left = (200 + place_mm - 60) * SCALE * 4
    whole = round(left)
    big[4 * 110 : 4 * 160, max(0, whole) : max(0, whole + round(120 * SCALE * 4))] = 60
    return cv2.resize(big, (600, 338), interpolation=cv2.INTER_AREA)


@pytest.fixture(name="clip", scope="module")
def _clip(tmp_path_factory):
    """200 mm/s to the right; the strip lies in the same plane, 1.5 pixels for one mm."""
    path = tmp_path_factory.mktemp("strip") / "c.mp4"
    rng = np.random.default_rng(5)
    spots = rng.normal(150, 25, (30, 50)).astype(np.float32)
    wall = cv2.resize(spots, (2400, 1352), interpolation=cv2.INTER_CUBIC)
    wall[4 * 180 : 4 * 250, 4 * 90 : 4 * 510] = 235
    dictionary = cv2.aruco.getPredefinedDictionary(cv2.aruco.DICT_4X4_50)
    for k in range(7):
        side = round(25 * SCALE * 4)
        x = round((67.5 + 40 * k) * SCALE * 4)
        wall[4 * 195 : 4 * 195 + side, x : x + side] = 20 + 0.8 * cv2.aruco.generateImageMarker(
            dictionary, k, side
        )
    with av.open(str(path), "w") as container:
        stream = container.add_stream("libx264", rate=25)
        stream.width, stream.height, stream.pix_fmt = 600, 338, "yuv420p"
        stream.codec_context.time_base = Fraction(1, 25)
        for n in range(50):
            grey = picture_of(-200 + 200 * n / 25, wall) + rng.normal(0, 1.5, (338, 600))
            frame = av.VideoFrame.from_ndarray(
                np.clip(grey, 0, 255).astype(np.uint8), format="gray"
            )
            frame.pts = n
            container.mux(stream.encode(frame))
        container.mux(stream.encode(None))
    return path


def test_the_sheet_is_written_and_what_to_check_is_said(tmp_path):
    done = outshop("ruler", tmp_path / "strip.pdf")
    assert done.exit_code == 0
    assert (tmp_path / "strip.pdf").read_bytes().startswith(b"%PDF")
    assert "control line measures 100 mm" in done.output


def test_a_place_that_cannot_be_written_is_one_sentence(tmp_path):
    done = outshop("ruler", tmp_path / "no" / "strip.pdf")
    assert isinstance(done.exception, StoreError)
    assert "choose another place" in str(done.exception)


def test_without_a_ruler_the_strip_in_the_clip_is_found(clip):
    command = [sys.executable, "-m", "outshop", "bench", "motion", str(clip), "--json"]
    done = subprocess.run(command, capture_output=True, text=True, timeout=120)
    assert done.returncode == 0, done.stderr
    found = json.loads(done.stdout)
    assert found["ruler"]["source"] == "markers"
    assert found["ruler"]["px_per_mm"] == pytest.approx(SCALE, rel=0.01)
    assert found["speed"]["value"] == pytest.approx(0.2, rel=0.015)
    assert found["speed"]["low"] <= 0.2 <= found["speed"]["high"]
    assert found["model_length"]["low"] <= 120 <= found["model_length"]["high"]
    assert found["forward_reverse"]["verdict"] == "not_measurable"
    assert found["start_moments"] == []


def test_two_clips_are_compared_and_one_ruler_is_enough(clip):
    done = outshop("bench", "motion", clip, "--strip", "--control-mm", "100", "--against", clip)
    assert done.exit_code == 0
    assert "no provable difference" in done.output
    wrong = outshop("bench", "motion", clip, "--strip", "--marks", "1,2,300,2,50")
    assert wrong.exit_code == 2


@pytest.mark.parametrize(
    ("words", "says"),
    [
        (("--control-mm", "0"), "control line of 0 mm cannot be"),
        (("--strip-behind-mm", "nan"), "cannot be put right"),
        (("--strip", "--front", "up"), "left or right"),
        (("--strip", "--lamp", "1,2"), "--lamp needs x,y,WIDTH,HEIGHT"),
        (("--strip", "--moment-error-s", "9"), "cannot be: give 0 to 2"),
        (("--strip", "--against", "no such file.mp4"), "there is no file"),
    ],
)
def test_what_cannot_be_is_one_sentence(clip, words, says):
    done = outshop("bench", "motion", clip, *words)
    assert isinstance(done.exception, InputError)
    assert says in str(done.exception)
