"""The model's ends are read where it is widest, be it at the very bottom, and not from its shadow.

The sheets are drawn here by hand: a narrow body over a wide low frame, with a shadow beneath.
"""

import numpy as np
import pytest

from outshop.bench.motion.placing import Sheet
from outshop.bench.motion.ruler import ends

BODY, FRAME, SHADOW = 80.0, 90.0, 35.0  # grey levels against the background


def drawn(frame_rows, shadow_rows):
    contrast = np.zeros((60, 200), np.float32)
    contrast[10 : 50 - frame_rows, 40:160] = BODY
    contrast[50 - frame_rows : 50, 30:170] = FRAME
    contrast[50 : 50 + shadow_rows, 18:170] = SHADOW
    cover = (contrast > 0).astype(np.float32)
    return Sheet(contrast, cover, contrast, np.ones_like(contrast), contrast > SHADOW)


@pytest.mark.parametrize("frame_rows", [4, 6, 12])
@pytest.mark.parametrize("shadow_rows", [0, 3])
def test_a_low_frame_is_the_models_end_and_its_shadow_is_not(frame_rows, shadow_rows):
    left, right, error, _ = ends(drawn(frame_rows, shadow_rows))
    assert [left, right] == pytest.approx([30, 170], abs=0.6)
    assert error < 1.5


def test_without_a_frame_the_body_tells_the_ends_over_a_wide_shadow():
    left, right, _, _ = ends(drawn(0, 4))
    assert [left, right] == pytest.approx([40, 160], abs=0.6)


def test_where_frame_and_shadow_look_alike_both_readings_are_within_the_interval():
    contrast = np.zeros((60, 200), np.float32)
    contrast[10:45, 40:160] = BODY
    contrast[45:50, 34:166] = 60.0
    cover = (contrast > 0).astype(np.float32)
    found = ends(Sheet(contrast, cover, contrast, np.ones_like(contrast), contrast == BODY))
    span, reach = found.right - found.left, 1.96 * found.error
    assert span - reach < 120 < 132 < span + reach
    assert found.unsure_px == pytest.approx(12, abs=1)
