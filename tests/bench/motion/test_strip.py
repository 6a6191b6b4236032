"""The printed strip as a ruler, in rendered clips with perspective and known truth.

The strips are drawn with OpenCV's own markers at the distances the printed sheet states; the
camera is the tests' own pinhole (Hartley and Zisserman 2004, ch. 6).
"""

import pytest

from outshop.bench.motion.markers import find_strip
from outshop.bench.motion.measure import Setup, measure_clip, setup_from_table
from outshop.bench.motion.ruler import Marks, check_marks
from outshop.bench.motion.strip_ruler import Print
from outshop.errors import InputError, MediaError

from .film import Camera, Scene, render
from .paper import SHEET, strip_on_wall

SMALL = {"width": 512, "height": 288, "field_mm": 380.0, "rate": 20.0}
CHECKED = Print(control_mm=100, behind_mm=0)


def shot(folder, strip, known, seconds=1.6, **change):
    scene = Scene(**({"seed": 4} | SMALL | change), paint=strip_on_wall(**strip))
    render(folder / "c.mp4", scene, lambda t: -180 + 220 * t, seconds)
    return measure_clip(folder / "c.mp4", Setup(strip=known))


def holds(speed, off):
    assert speed.value == pytest.approx(0.22, rel=off)
    assert speed.low <= 0.22 <= speed.high


@pytest.mark.parametrize(
    ("name", "change"),
    [
        ("A", {"field_mm": 500.0}),
        ("B", {"yaw": -12.0, "roll": 3.0, "shake_px": 1.5}),
        ("A", {"noise": 8.0, "light": 0.5, "yaw": 8.0}),
    ],
    ids=["square", "slanted-shaky", "dim-noisy"],
)
def test_the_speed_by_the_strip_is_within_one_percent(tmp_path, name, change):
    found = shot(tmp_path, {"name": name}, CHECKED, **change)
    holds(found.speed, 0.01)
    assert found.ruler["source"] == "markers"
    assert found.speed.half_width < 0.02 * 0.22
    assert len(found.ruler["markers_px"]) % 8 == 0


def test_without_any_ruler_the_strip_is_found_and_what_is_unsure_is_said(tmp_path):
    found = shot(tmp_path, {}, None)
    holds(found.speed, 0.01)
    said = " ".join(found.warnings)
    assert "control line was not measured" in said
    assert "each 10 mm behind it" in said
    assert "the interval allows for 4 mm" in said
    # 1 mm at the camera's 380 mm is 0.26 %; the lens is guessed to 25 %
    assert found.ruler["off_plane_percent_per_mm"] == pytest.approx(100 / 380, rel=0.25)


def test_a_print_at_97_percent_is_put_right_by_its_control_line(tmp_path):
    found = shot(tmp_path, {"printed": 0.97}, Print(control_mm=97.0, behind_mm=0))
    holds(found.speed, 0.01)
    blind = measure_clip(tmp_path / "c.mp4", Setup(strip=Print(behind_mm=0), length_mm=120))
    assert blind.speed.value == pytest.approx(0.22 / 0.97, rel=0.01)
    assert "control line was not measured" in blind.warnings[0]
    # the model's own length tells on the print
    assert any("120 mm was given" in w for w in blind.warnings)
    assert blind.model_length.value == pytest.approx(120 / 0.97, rel=0.015)


def test_a_strip_off_the_plane_is_put_right_by_how_far_it_stands_off(tmp_path):
    """Similar triangles: the camera of the renderer stands 380 mm from the track."""
    known = Print(control_mm=100, behind_mm=40, camera_mm=380)
    holds(shot(tmp_path, {"behind_mm": 40.0}, known).speed, 0.01)
    clip = tmp_path / "c.mp4"
    blind = measure_clip(clip, Setup(strip=CHECKED)).speed.value
    assert blind == pytest.approx(0.22 * (1 + 40 / 380), rel=0.01)
    # without the lens's distance it is guessed from the picture, and the interval is wider
    guessed = measure_clip(clip, Setup(strip=Print(control_mm=100, behind_mm=40))).speed
    holds(guessed, 0.05)
    assert guessed.half_width > 0.03 * 0.22
    with pytest.raises(InputError, match="the strip cannot stand 400 mm behind"):
        measure_clip(clip, Setup(strip=Print(behind_mm=400)))


def test_two_markers_serve_and_one_alone_is_a_wide_ruler_or_refused(tmp_path):
    found = shot(tmp_path, {"only": (3, 4)}, CHECKED, yaw=10.0)
    holds(found.speed, 0.015)
    assert any("only 2 markers" in w for w in found.warnings)
    one = shot(tmp_path, {"only": (3,)}, CHECKED, width=640, height=360)
    holds(one.speed, 0.03)
    assert any("only one marker" in w for w in one.warnings)
    scene = Scene(seed=4, **(SMALL | {"field_mm": 700.0}), paint=strip_on_wall(only=(3,)))
    render(tmp_path / "far.mp4", scene, lambda _t: -500, 0.5)
    with pytest.raises(MediaError, match=r"only one marker .* too little for a ruler"):
        find_strip(tmp_path / "far.mp4")


def test_half_hidden_markers_are_left_out(tmp_path):
    def painted(wall, scene):
        strip_on_wall()(wall, scene)
        x, y = Camera(scene).pixel(46.0, -60 + 18)  # on the right half of marker 4
        wall[int(y) - 30 : int(y) + 30, int(x) - 6 : int(x) + 20] = 90

    scene = Scene(seed=4, **SMALL, paint=painted)
    render(tmp_path / "c.mp4", scene, lambda t: -240 + 220 * t, 1.0)
    seen = find_strip(tmp_path / "c.mp4")
    assert 4 not in seen.numbers
    assert {1, 2, 3} <= set(seen.numbers) <= {0, 1, 2, 3, 5, 6}
    truth = Camera(scene).pixel(-132.5 + 40, -60 + 18.5 + 12.5)  # marker 1, upper left
    assert seen.picture[4 * seen.numbers.index(1)] == pytest.approx(truth, abs=0.4)


def test_no_marker_at_all_is_one_sentence(tmp_path):
    render(tmp_path / "c.mp4", Scene(seed=4, **SMALL), lambda t: -240 + 220 * t, 1.0)
    assert find_strip(tmp_path / "c.mp4") is None
    with pytest.raises(InputError, match="no marker of the printed strip is found"):
        measure_clip(tmp_path / "c.mp4", Setup(strip=Print()))
    with pytest.raises(InputError, match=r"a ruler is needed.*or show the printed strip"):
        measure_clip(tmp_path / "c.mp4", Setup())


def test_markers_that_do_not_lie_as_on_the_sheet_are_refused(tmp_path):
    def painted(wall, scene):
        strip_on_wall(only=(1,))(wall, scene)
        strip_on_wall(only=(2,), low_mm=5.0)(wall, scene)  # 65 mm above its place

    render(tmp_path / "c.mp4", Scene(seed=4, **SMALL, paint=painted), lambda _t: -400, 1.0)
    with pytest.raises(MediaError, match="do not lie as on the printed strip"):
        find_strip(tmp_path / "c.mp4")


@pytest.mark.parametrize(
    ("table", "says"),
    [
        ({"control_mm": 0}, "control line of 0 mm cannot be"),
        ({"control_mm": float("nan")}, "control line of nan mm cannot be"),
        ({"control_mm": -100}, "control line of -100 mm"),
        ({"control_mm": 50}, "80 to 120 mm can be put right"),
        ({"strip_behind_mm": 1e6}, "cannot be put right"),
        ({"strip_behind_mm": float("inf")}, "cannot be put right"),
        ({"camera_mm": 0}, "lens 0 mm from the model"),
        ({"strip": True, "control_mm": "much"}, "setup cannot be used"),
    ],
)
def test_numbers_that_cannot_be_are_told_before_the_clip_is_read(tmp_path, table, says):
    with pytest.raises(InputError, match=says):
        measure_clip(tmp_path / "not even read.mp4", setup_from_table(table))


@pytest.mark.parametrize(
    ("marks", "says"),
    [
        ((float("nan"), 10, 500, 10, 100), "five plain numbers"),
        ((10, 10, 500, 10, float("inf")), "five plain numbers"),
        ((50, 50, 50, 50, 100), "too close together"),
        ((-1, 10, 500, 10, 100), "mark at -1,10 lies outside the picture of 512 by 288"),
        ((10, 10, 500, 10, -100), "distance of -100 mm between the marks"),
    ],
)
def test_two_marks_that_cannot_be_are_told(marks, says):
    with pytest.raises(InputError, match=says):
        check_marks(Marks(*marks), 512, 288)


def test_each_strip_is_as_long_as_the_paper_allows():
    """A4 across is 297 mm (ISO 216); printers leave up to 10 mm white at each side."""
    for _, count, side, pitch in SHEET.values():
        assert 250 < (count - 1) * pitch + side < 277
