"""Every kind of clip a phone makes gives the speed; a damaged one gives a sentence."""

import pytest

from outshop.bench.motion.measure import Setup, measure_clip
from outshop.errors import MediaError, MediaLimitError
from outshop.estimate import Estimate
from outshop.media.limits import Limits

from .film import Scene, render

TINY = {"width": 480, "height": 272, "field_mm": 360.0, "length_mm": 90.0, "shadow": 0.0}


@pytest.mark.parametrize(
    ("change", "seconds"),
    [
        ({"codec": "libx265"}, 1.2),
        ({"rate": 240.0, "exposure": 0.2}, 0.5),
        ({"width": 3840, "height": 2160, "rate": 24.0, "exposure": 0.0, "crf": 30}, 0.55),
        ({"interlaced": True, "rate": 25.0}, 1.2),
        ({"turn": 90}, 1.2),
        ({"turn": 180}, 1.2),
        ({"drop": 0.25, "jitter": 0.5}, 1.2),
    ],
    ids=["HEVC", "240 a second", "4K", "interlaced", "on its side", "upside down", "uneven"],
)
def test_the_speed_comes_out_of_every_kind_of_clip(tmp_path, change, seconds):
    scene = Scene(seed=11, **(TINY | change))
    path = tmp_path / "clip.mp4"
    render(path, scene, lambda t: 200 * (t - seconds / 2), seconds)
    found = measure_clip(path, Setup(length_mm=90))
    assert isinstance(found.speed, Estimate)
    assert found.speed.value == pytest.approx(0.2, rel=0.02)
    assert found.speed.low <= 0.2 <= found.speed.high
    assert found.direction == "left_to_right"


@pytest.fixture(name="clip", scope="module")
def _clip(tmp_path_factory):
    path = tmp_path_factory.mktemp("clip") / "clip.mp4"
    render(path, Scene(seed=12, **TINY), lambda t: 200 * (t - 0.6), 1.2)
    return path


def test_a_clip_cut_off_in_copying_is_refused_in_a_sentence(tmp_path, clip):
    short = tmp_path / "short.mp4"
    short.write_bytes(clip.read_bytes()[: clip.stat().st_size // 2])
    with pytest.raises(MediaError, match=r"short.mp4 has no index: .* copy it again"):
        measure_clip(short, Setup(length_mm=90))


def test_a_file_of_more_than_four_gigabytes_is_refused_unread(tmp_path):
    huge = tmp_path / "huge.mp4"
    with huge.open("wb") as file:
        file.truncate(4_100_000_000)  # a hole: takes no room
    with pytest.raises(MediaLimitError, match=r"has 4.1 GB.* cut it to the minutes that matter"):
        measure_clip(huge, Setup(length_mm=90))


def test_a_clip_above_the_limits_is_refused(clip):
    with pytest.raises(MediaLimitError, match="480 by 272"):
        measure_clip(clip, Setup(length_mm=90), Limits(pixels=1000))


def test_times_that_stand_still_are_no_clock(clip, monkeypatch):
    """A container cannot well be written with equal times; so the decoder's are replaced."""
    from outshop.bench.motion import footage
    from outshop.media.video import Frame

    whole = footage.Footage.frames
    monkeypatch.setattr(
        footage.Footage, "frames",
        lambda self: (Frame(0.1 * (n // 4), f.image) for n, f in enumerate(whole(self))),
    )  # fmt: skip
    with pytest.raises(MediaError, match="the same time again and again"):
        measure_clip(clip, Setup(length_mm=90))
