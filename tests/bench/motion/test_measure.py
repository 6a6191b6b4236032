"""Rendered clips of known speed are measured; what cannot be measured is refused in a sentence.

The renderer (film.py) is a pinhole camera with exposure, noise and compression of its own.
"""

from fractions import Fraction

import av
import numpy as np
import pytest

from outshop.bench.motion.measure import Setup, measure_clip, setup_from_table
from outshop.bench.motion.result import MotionBench
from outshop.bench.motion.ruler import Marks
from outshop.errors import InputError, MediaError
from outshop.estimate import Estimate

from .film import Camera, Scene, render

WHEEL_MM = 16.1
SMALL = {"width": 640, "height": 360, "field_mm": 420.0}


def shot(folder, scene, place, seconds, **setup):
    path = folder / "clip.mp4"
    render(path, scene, place, seconds)
    setup.setdefault("length_mm", scene.length_mm)
    return measure_clip(path, Setup(**setup))


def holds(estimate, truth, off):
    """The interval covers the truth and the value is within ``off`` of it."""
    assert isinstance(estimate, Estimate)
    assert estimate.value == pytest.approx(truth, rel=off)
    assert estimate.low <= truth <= estimate.high


@pytest.mark.parametrize(
    "change",
    [{}, {"shake_px": 1.5, "shake_turn": 0.1}, {"light": 0.35, "noise": 4.0},
     {"noise": 8.0}, {"post": True}, {"shadow": 0.3}, {"rolling": 0.7, "exposure": 0.6},
     {"jitter": 0.6}, {"roll": 3.0}],
    ids=["clean", "shaky", "dim", "noisy", "hidden", "shadow", "rolling", "uneven", "tilted"],
)  # fmt: skip
def test_the_speed_of_a_passing_model_by_its_own_length(tmp_path, change):
    scene = Scene(seed=4, **(SMALL | change))
    found = shot(tmp_path, scene, lambda t: -250 + 220 * t, 2.3, scale=87)
    holds(found.speed, 0.22, 0.02 if not change else 0.03)
    holds(found.scale_speed, 0.22 * 87 * 3.6, 0.03)
    assert found.direction == "left_to_right"
    assert found.start_s is None
    assert found.stop_s is None


@pytest.mark.parametrize("yaw", [0.0, 10.0])
def test_the_speed_by_two_marks_is_within_one_percent(tmp_path, yaw):
    scene = Scene(seed=2, yaw=yaw, **SMALL)
    a, b = Camera(scene).pixel(-100, 0), Camera(scene).pixel(100, 0)
    found = shot(tmp_path, scene, lambda t: 240 - 200 * t, 2.4, length_mm=None,
                 marks=Marks(*a, *b, 200.0))  # fmt: skip
    holds(found.speed, 0.2, 0.01)
    assert found.direction == "right_to_left"


def test_dark_paint_over_a_plain_wall_is_no_shadow(tmp_path):
    """At a slant a plain wall made darker looks much like the model: its ends were lost so."""
    scene = Scene(seed=5, width=640, height=360, field_mm=640.0, wall="plain", length_mm=105.0,
                  yaw=11.0, crf=26, noise=1.5)  # fmt: skip
    found = shot(tmp_path, scene, lambda t: 220 * (t - 1.1), 2.2)
    holds(found.speed, 0.22, 0.02)


def test_start_stop_acceleration_and_coasting(tmp_path):
    """Uniform acceleration: v = a t, way = v^2 / (2 a) (any textbook of mechanics)."""
    speed, gain, loss, start, steady = 200.0, 400.0, 300.0, 1.0, 1.0

    def place(t):
        t = max(0.0, t - start)
        up, down = speed / gain, speed / loss
        first, middle = min(t, up), min(max(t - up, 0), steady)
        last = min(max(t - up - steady, 0), down)
        return -200 + gain * first**2 / 2 + speed * middle + speed * last - loss * last**2 / 2

    found = shot(tmp_path, Scene(seed=1, width=640, height=360), place, 4.2, moment_s=0.7)
    holds(found.speed, 0.2, 0.02)
    assert found.start_s == pytest.approx(start, abs=0.04)
    assert found.stop_s == pytest.approx(start + 0.5 + steady + speed / loss, abs=0.08)
    assert found.start_delay.value == pytest.approx(0.3, abs=0.05)
    assert found.acceleration.value == pytest.approx(0.4, rel=0.05)
    holds(found.coasting, speed**2 / 2 / loss, 0.2)


def test_a_reversal_gives_two_steady_parts(tmp_path):
    place = lambda t: -150 + 150 * t if t < 1.5 else 75 - 150 * (t - 1.5)  # noqa: E731
    found = shot(tmp_path, Scene(seed=3, **SMALL), place, 3.0)
    assert [part.direction for part in found.steady] == ["left_to_right", "right_to_left"]
    assert all(part.speed.value == pytest.approx(0.15, rel=0.02) for part in found.steady)


@pytest.mark.parametrize("swing", [0.0, 0.1])
def test_the_swing_once_per_wheel_turn(tmp_path, swing):
    times = np.arange(0, 4, 1e-3)
    ways = np.empty_like(times)
    ways[0] = -200
    for i in range(1, len(times)):
        turn = 2 * np.pi * ways[i - 1] / (np.pi * WHEEL_MM)
        ways[i] = ways[i - 1] + 1e-3 * 130 * (1 + swing * np.sin(turn))
    found = shot(tmp_path, Scene(seed=3, **SMALL), lambda t: float(np.interp(t, times, ways)), 3.0,
                 wheel_mm=WHEEL_MM)  # fmt: skip
    assert found.speed_ripple.low <= 100 * swing <= found.speed_ripple.high
    assert found.speed_ripple.value == pytest.approx(100 * swing, abs=1.0)


def test_a_creeping_model_that_never_leaves_its_own_place(tmp_path):
    found = shot(tmp_path, Scene(seed=5, **SMALL), lambda t: -40 + 8 * t, 4.0)
    holds(found.speed, 0.008, 0.03)


def test_a_train_longer_than_the_picture_needs_marks_and_then_works(tmp_path):
    scene = Scene(seed=6, length_mm=600, cars=3, **SMALL)
    with pytest.raises(InputError, match=r"longer than the picture.*use two marks"):
        shot(tmp_path, scene, lambda t: -530 + 300 * t, 3.6)
    a, b = Camera(scene).pixel(-100, 0), Camera(scene).pixel(100, 0)
    holds(measure_clip(tmp_path / "clip.mp4", Setup(marks=Marks(*a, *b, 200.0))).speed, 0.3, 0.01)


def test_upright_and_hevc(tmp_path):
    scene = Scene(seed=7, width=360, height=640, field_mm=300, codec="libx265")
    holds(shot(tmp_path, scene, lambda t: -180 + 150 * t, 2.4).speed, 0.15, 0.02)


def test_time_comes_from_the_container(tmp_path):
    """The same frames told to be twice as far apart give half the speed."""
    render(tmp_path / "a.mp4", Scene(seed=8, **SMALL), lambda t: -250 + 220 * t, 2.3)
    frames = decoded(tmp_path / "a.mp4")
    write(tmp_path / "b.mp4", frames, np.arange(len(frames)) / 15)
    fast, slow = (
        measure_clip(tmp_path / n, Setup(length_mm=120)).speed for n in ("a.mp4", "b.mp4")
    )
    assert slow.value == pytest.approx(fast.value / 2, rel=0.005)


def test_the_result_survives_json(tmp_path):
    found = shot(tmp_path, Scene(seed=4, **SMALL), lambda t: -250 + 220 * t, 2.3)
    shape = found.as_json()
    assert {"speed", "scale_speed", "direction", "track", "start_s", "stop_s", "speed_ripple",
            "coasting_mm", "warnings"} <= set(shape)  # fmt: skip
    assert MotionBench.from_json(shape).as_json() == shape


def decoded(path):
    with av.open(str(path)) as clip:
        return [f.to_ndarray(format="gray") for f in clip.decode(video=0)]


def write(path, images, times):
    with av.open(str(path), "w") as container:
        stream = container.add_stream("libx264", rate=30)
        stream.height, stream.width = images[0].shape
        stream.pix_fmt, stream.codec_context.time_base = "yuv420p", Fraction(1, 90_000)
        for image, t in zip(images, times, strict=True):
            frame = av.VideoFrame.from_ndarray(np.ascontiguousarray(image), format="gray")
            frame.pts, frame.time_base = round(t * 90_000), Fraction(1, 90_000)
            container.mux(stream.encode(frame))
        container.mux(stream.encode(None))
    return path


@pytest.fixture(name="passing", scope="module")
def _passing(tmp_path_factory):
    path = tmp_path_factory.mktemp("passing") / "a.mp4"
    render(path, Scene(seed=4, **SMALL), lambda t: -250 + 220 * t, 2.3)
    return decoded(path)


def refused(path, images, says, times=None):
    write(path, images, np.arange(len(images)) / 30 if times is None else times)
    with pytest.raises(MediaError, match=says):
        measure_clip(path, Setup(length_mm=120))


def test_a_moving_camera_is_refused(tmp_path, passing):
    wide = np.tile(passing[0], (1, 2))
    refused(tmp_path / "c.mp4", [wide[:, 9 * i : 9 * i + 640] for i in range(50)], "camera moves")


def test_a_still_picture_is_refused(tmp_path, passing):
    refused(tmp_path / "c.mp4", [passing[30]] * 40, "nothing moves")


def test_a_black_clip_is_refused(tmp_path):
    refused(tmp_path / "c.mp4", [np.zeros((360, 640), np.uint8)] * 30, "is black")


def test_a_single_frame_is_refused(tmp_path, passing):
    refused(tmp_path / "c.mp4", passing[:1], "single frame")


def test_two_trains_are_refused_unless_one_is_picked(tmp_path, passing):
    render(tmp_path / "b.mp4", Scene(seed=9, **SMALL), lambda t: 250 - 240 * t, 2.3)
    both = [a.copy() for a in passing]
    for image, other in zip(both, decoded(tmp_path / "b.mp4"), strict=True):
        image[20:120] = other[150:250]
    refused(tmp_path / "c.mp4", both, "two things move")
    found = measure_clip(tmp_path / "c.mp4", Setup(length_mm=120, pick=(320, 205)))
    assert found.speed.value == pytest.approx(0.22, rel=0.03)


def test_a_hand_alone_is_no_train(tmp_path, passing):
    images = []
    for i in range(60):
        image = passing[0].copy()
        image[: int(170 * np.sin(np.pi * i / 60)), 200:330] = 180
        images.append(image)
    refused(tmp_path / "c.mp4", images, "nothing moves along")


@pytest.mark.parametrize("length", [0, -5, float("nan"), 1e9])
def test_a_length_that_is_none_is_refused(tmp_path, length):
    with pytest.raises(InputError, match="cannot serve as a ruler"):
        measure_clip(tmp_path / "not even read.mp4", Setup(length_mm=length))


@pytest.mark.parametrize(
    ("marks", "says"),
    [((10, 10, 2000, 10, 100), "outside the picture of 640 by 360"),
     ((10, 10, 500, 10, 0), "0 mm between the marks"), ((10, 10, 15, 10, 50), "too close")],
)  # fmt: skip
def test_marks_that_are_none_are_refused(tmp_path, passing, marks, says):
    path = write(tmp_path / "c.mp4", passing[:10], np.arange(10) / 30)
    with pytest.raises(InputError, match=says):
        measure_clip(path, Setup(marks=Marks(*map(float, marks))))


def test_a_setup_of_the_wrong_kind_is_a_sentence():
    with pytest.raises(InputError, match="setup cannot be used"):
        setup_from_table({"marks": [1, 2, 3]})
    assert setup_from_table({"length_mm": "118", "scale": "H0"}) == Setup(length_mm=118, scale=87)
