"""Ways that leap are refused, and ends are not read where the sheet does not hold them."""

import numpy as np
import pytest

from outshop.bench.motion.placing import Sheet
from outshop.bench.motion.ruler import ends
from outshop.bench.motion.trust import check_leaps, runs_over
from outshop.errors import MediaError


def _sheet(left: int, right: int, faint_to_rim: bool = False) -> Sheet:
    """A block of contrast 80; ``faint_to_rim`` covers all of its rows, with contrast 10 outside."""
    contrast, cover = np.zeros((60, 200), np.float32), np.zeros((60, 200), np.float32)
    if faint_to_rim:
        contrast[10:50], cover[10:50] = 10, 1
    contrast[10:50, left:right], cover[10:50, left:right] = 80, 1
    return Sheet(120 * cover, cover, contrast, np.ones_like(cover), cover > 0.5)


def test_a_run_with_a_dead_stop_and_a_gap_is_believed():
    t = np.delete(np.arange(60) / 30, slice(20, 26))
    check_leaps(t, 300 * np.minimum(t, 1.2), "clip")


def test_a_way_between_two_things_in_turn_is_refused():
    t = np.arange(60) / 30
    x = 300 * t + np.where((np.arange(60) > 30) & (np.arange(60) % 5 == 0), 80.0, 0.0)
    with pytest.raises(MediaError, match="lost and found again"):
        check_leaps(t, x, "clip")


def test_a_few_wild_places_on_an_even_way_do_no_harm():
    t = np.arange(140) / 30
    x = 300 * t
    x[[60, 61, 63, 90]] += [40.0, -25.0, 30.0, 20.0]  # eight places leap, 5.7 %
    check_leaps(t, x, "clip")


def test_a_model_that_goes_on_beyond_the_sheet_is_told():
    assert runs_over(_sheet(40, 200))
    assert runs_over(_sheet(0, 160))


@pytest.mark.parametrize("faint", [False, True])
def test_faint_light_up_to_the_rim_is_no_part_of_the_model(faint):
    assert not runs_over(_sheet(40, 160, faint))


def test_ends_are_found_where_the_cover_wrongly_runs_on():
    left, right, _, _ = ends(_sheet(40, 160, faint_to_rim=True))
    assert (left, right) == pytest.approx((40, 160), abs=0.6)
