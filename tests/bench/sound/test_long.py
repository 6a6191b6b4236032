"""A recording of any length is taken in block by block."""

import numpy as np
import pytest

from outshop.bench.sound.digest import Digester

RATE, HOUR_S = 2000, 3600


@pytest.fixture(scope="module")
def minute():
    return np.random.default_rng(5).standard_normal(60 * RATE).astype(np.float32)


@pytest.fixture(scope="module")
def hour(minute):
    digester = Digester(RATE)
    for start in range(0, HOUR_S * RATE, 777):
        place = start % minute.size
        block = np.concatenate([minute, minute])[place : place + 777]
        digester.feed(block[: HOUR_S * RATE - start])
    return digester.finish()


def test_of_an_hour_no_more_than_four_and_a_half_minutes_of_samples_are_kept(hour):
    assert hour.duration_s == HOUR_S
    kept = sum(e.duration_s(RATE) for e in hour.excerpts)
    assert 100 < kept <= 270


def test_what_is_kept_is_spread_over_the_hour_and_is_what_was_there(hour, minute):
    starts = [e.start_s for e in hour.excerpts]
    assert starts[0] < 60
    assert starts[-1] > HOUR_S - 200
    assert max(np.diff(starts)) < 200
    for excerpt in hour.excerpts:
        place = (round(excerpt.start_s * RATE) + np.arange(excerpt.samples.size)) % minute.size
        np.testing.assert_array_equal(excerpt.samples, minute[place])


def test_the_levels_of_an_hour_do_not_depend_on_how_it_is_cut(hour, minute):
    whole = Digester(RATE)
    for _ in range(HOUR_S // 60):
        whole.feed(minute)
    other = whole.finish()
    np.testing.assert_allclose(other.power_a, hour.power_a, rtol=1e-5)
    np.testing.assert_allclose(other.bands, hour.bands, rtol=1e-4, atol=1e-12)
