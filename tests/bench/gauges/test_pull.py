"""Pull by weights, spring and letter scale."""

import pytest

from outshop.bench.gauges import pull
from outshop.errors import InputError
from outshop.estimate import Estimate, NotMeasurable


def test_the_three_ways_agree_on_one_engine():
    weights = pull.from_weights([75, 75, 75], step_g=5)
    spring = pull.from_spring([0.7355, 0.7355, 0.7355])  # 75 g x 9.80665 m/s2
    letter = pull.from_letter_scale(500, [425, 425, 425])
    assert spring.value == pytest.approx(75, rel=1e-3)
    assert letter.value == pytest.approx(75)
    for one in (weights, spring, letter):
        assert one.low < 75 < one.high
        assert one.unit == "g"


def test_a_quarter_of_the_driven_weight_is_usual_for_bare_metal():
    """Club reports: about 0.25 of the weight on the drivers."""
    found = pull.judge(Estimate.plus_minus(75, 3, "g"), driven_mass_g=300, tyres=False)
    assert found.adhesion.value == pytest.approx(25)
    assert "usual" in found.sentences[0]
    weak = pull.judge(Estimate.plus_minus(30, 3, "g"), driven_mass_g=300, tyres=False)
    assert "little" in weak.sentences[0]
    strong = pull.judge(Estimate.plus_minus(150, 3, "g"), driven_mass_g=300, tyres=False)
    assert "check" in strong.sentences[0]


def test_stalling_and_slipping_are_put_into_words():
    stalls = pull.judge(Estimate.plus_minus(40, 3, "g"), limit="stalls")
    assert "stalls" in stalls.sentences[0]
    assert isinstance(stalls.adhesion, NotMeasurable)
    slips = pull.judge(
        Estimate.plus_minus(75, 3, "g"),
        limit="slips",
        slip_current=Estimate.plus_minus(0.5, 0.01, "A"),
        stall_current=Estimate.plus_minus(1.0, 0.02, "A"),
    )
    assert "50 %" in slips.sentences[0]


@pytest.mark.parametrize(
    "call",
    [
        lambda: pull.from_weights([-5], step_g=5),
        lambda: pull.from_weights([75], step_g=0),
        lambda: pull.from_weights([], step_g=5),
        lambda: pull.from_letter_scale(100, [120]),
        lambda: pull.judge(Estimate.plus_minus(75, 3, "g"), mass_g=200, driven_mass_g=300),
        lambda: pull.judge(Estimate.plus_minus(900, 3, "g"), mass_g=300),
        lambda: pull.judge(Estimate.plus_minus(75, 3, "g"), mass_g=0),
    ],
)
def test_readings_that_cannot_be_are_refused(call):
    with pytest.raises(InputError):
        call()
