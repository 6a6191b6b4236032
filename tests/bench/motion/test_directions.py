"""Forward against reverse, by arithmetic and in a rendered clip."""

import numpy as np
import pytest

from outshop.bench.motion.directions import (
    Pass,
    between_clips,
    forward_reverse_from_json,
    within_clip,
)
from outshop.bench.motion.measure import Setup, measure_clip
from outshop.bench.motion.ruler import Ruler
from outshop.estimate import Estimate, NotMeasurable

from .film import Scene, render

RULER = Ruler(1.5, 300, 0.0, 0.02, 0.0, (200, 400), "length")
L, R = "left_to_right", "right_to_left"


def once(direction, value, error=0.001, seconds=2.0):
    plain = Estimate.plus_minus(value, error, "m/s")
    full = Estimate.plus_minus(value, error + 0.04 * value, "m/s")
    return Pass(direction, seconds, plain, full, np.linspace(100, 500, 20))


def test_the_rulers_error_cancels_within_a_clip():
    found = within_clip([once(L, 0.21), once(R, 0.2)], RULER, None)
    assert found.difference.value == pytest.approx(100 * 0.01 / 0.205)
    # both errors of 0.001 in a ratio near 1: 100 * sqrt(2) * 0.001 / 0.205 percent
    assert found.difference.half_width == pytest.approx(0.69, abs=0.01)
    assert found.verdict == "first_faster"
    assert [s.direction for s in found.sides] == [L, R]
    assert found.sides[0].speed.half_width > 0.04 * 0.21


def test_a_scale_that_may_change_along_the_picture_does_not_cancel():
    ruler = Ruler(1.5, 300, 0.0, 0.02, 1e-4, (200, 400), "length")
    far = once(R, 0.2)
    far = Pass(R, 2.0, far.plain, far.full, np.linspace(400, 800, 20))
    plain = within_clip([once(L, 0.21), far], RULER, None).difference
    wide = within_clip([once(L, 0.21), far], ruler, None).difference
    # 300 pixels apart at 1e-4 a pixel: 3 % standard error
    assert wide.half_width == pytest.approx(np.hypot(plain.half_width, 1.96 * 3), rel=0.01)
    assert within_clip([once(L, 0.21), far], ruler, None).verdict == "no_provable_difference"


def test_runs_that_differ_widen_the_interval_and_other_settings_are_left_out():
    runs = [once(L, v) for v in (0.20, 0.21, 0.205)] + [once(R, v) for v in (0.199, 0.207, 0.202)]
    found = within_clip([*runs, once(L, 0.05)], RULER, "right")
    assert found.sides[0].speed.value == pytest.approx(0.205)
    assert found.verdict == "no_provable_difference"
    assert [s.role for s in found.sides] == ["forward", "reverse"]
    assert not found.difference.warnings


def test_one_way_only_is_said():
    found = within_clip([once(L, 0.2)], RULER, "left")
    assert found.verdict == "not_measurable"
    assert "both directions" in found.difference.reason
    assert found.sides[0].role == "reverse"
    assert forward_reverse_from_json(found.as_json()) == found


def test_two_clips_are_independent_and_one_without_a_speed_is_said():
    one, other = Estimate.plus_minus(0.2, 0.004, "m/s"), Estimate.plus_minus(0.22, 0.004, "m/s")
    found = between_clips((L, one), (R, other), "right")
    assert found.verdict == "second_faster"
    assert found.difference.low < -100 * 0.02 / 0.21 < found.difference.high
    nothing = between_clips((L, one), (R, NotMeasurable("it stood", "m/s")))
    assert nothing.verdict == "not_measurable"
    assert nothing.difference.reason == "it stood"


def test_coverage_of_the_difference_when_nothing_differs():
    """95 % of the intervals hold 0 over 400 draws; binomial bounds at 1 in 1000."""
    rng = np.random.default_rng(3)
    holds = 0
    for _ in range(400):
        a, b = 0.2 + rng.normal(0, 0.001, 2)
        d = within_clip(
            [once(L, a, 1.96 * 0.001), once(R, b, 1.96 * 0.001)], RULER, None
        ).difference
        holds += d.low <= 0 <= d.high
    assert 366 <= holds <= 393


@pytest.mark.parametrize(
    ("back", "verdict"), [(150.0, "no_provable_difference"), (130.0, "first_faster")]
)
def test_a_reversal_in_a_clip(tmp_path, back, verdict):
    scene = Scene(seed=3, width=640, height=360, field_mm=420.0, rate=24.0)
    render(tmp_path / "c.mp4", scene,
           lambda t: -150 + 150 * t if t < 1.5 else 75 - back * (t - 1.5), 3.0)  # fmt: skip
    found = measure_clip(tmp_path / "c.mp4", Setup(length_mm=120, front="right")).forward_reverse
    truth = 100 * (150 - back) / ((150 + back) / 2)
    assert found.difference.low <= truth <= found.difference.high
    assert found.difference.half_width < 3
    assert found.verdict == verdict
    assert [s.role for s in found.sides] == ["forward", "reverse"]


@pytest.mark.parametrize("wall", ["plain", "spots"])
def test_a_model_that_never_gets_two_lengths_away_and_comes_back(tmp_path, wall):
    """The middle of its way is hidden in most frames; a plain wall has nothing to follow."""
    scene = Scene(seed=10, width=512, height=288, field_mm=420.0, rate=20.0, wall=wall, noise=3)

    def place(t):
        way = [min(max(0.0, t - start), 1.4) for start in (0.5, 2.4)]
        return -95 + 140 * way[0] - 130 * way[1]

    render(tmp_path / "c.mp4", scene, place, 4.3)
    found = measure_clip(tmp_path / "c.mp4", Setup(length_mm=120)).forward_reverse
    assert found.difference.low <= 100 * 10 / 135 <= found.difference.high
    assert found.verdict == "first_faster"
