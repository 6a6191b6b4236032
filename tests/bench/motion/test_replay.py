"""What the bench keeps of a clip is what was there; its short cuts give what the long way gives."""

import numpy as np
import pytest
from scipy.special import stdtrit

from outshop.bench.motion.replay import Replay
from outshop.bench.motion.still import Look, in_order
from outshop.bench.motion.student import student


def world(rng, shape=(100, 170)):
    coarse = rng.uniform(60, 200, (shape[0] // 10, shape[1] // 10))
    return np.kron(coarse, np.ones((10, 10))).astype(np.uint8)


def test_a_moving_thing_is_kept_to_the_pixel_and_the_rest_at_its_first_look():
    rng = np.random.default_rng(1)
    wall, replay, frames = world(rng), Replay(), []
    for n in range(30):
        frame = wall.copy()
        frame[40:60, 3 * n : 3 * n + 30] = 20
        frames.append(frame)
        replay.add(n / 30, frame)
    assert replay.whole
    for n, kept in enumerate(replay.frames()):
        assert kept.t_s == n / 30
        assert np.array_equal(kept.image, frames[n])


def test_noise_is_not_kept_but_a_slow_change_is_within_few_levels():
    rng = np.random.default_rng(2)
    wall, replay, last = world(rng), Replay(), None
    for n in range(60):
        last = np.clip(wall + 0.5 * n + rng.normal(0, 2, wall.shape), 0, 255).astype(np.uint8)
        replay.add(n / 30, last)
    kept = [f.image.astype(float).mean() for f in replay.frames()][-1]
    assert kept == pytest.approx(last.mean(), abs=6)


@pytest.mark.parametrize("count", [1, 2, 7, 16, 31, 33])
def test_pictures_in_order_are_each_pixels_values_sorted(count):
    stack = np.random.default_rng(count).integers(0, 256, (count, 9, 13)).astype(np.uint8)
    assert np.array_equal(np.stack(in_order(list(stack))), np.sort(stack, axis=0))


def test_the_quick_look_tells_a_standing_camera_from_a_shifted_one():
    rng = np.random.default_rng(3)
    fine = rng.uniform(40, 220, (30, 50))
    big = np.kron(fine, np.ones((12, 12)))
    take = lambda x: np.clip(  # noqa: E731
        big[20:290, 20 + x : 500 + x] * 0.5 + big[20:290, 21 + x : 501 + x] * 0.5
        + rng.normal(0, 2, (270, 480)), 0, 255).astype(np.uint8)  # fmt: skip
    look = Look(take(0))
    assert look.stands(take(0))
    assert not look.stands(take(1))
    assert not look.stands(take(40))


def test_students_t_agrees_with_scipy():
    """Reference: scipy.special.stdtrit."""
    for freedom in (1, 3, 4.5, 10, 300):
        assert student(freedom) == pytest.approx(stdtrit(freedom, 0.975), rel=0.0013)
