"""Mass by NEM 302 and RP-20.1, proportions by plain division."""

import pytest

from outshop.bench.gauges.proportions import check_mass, check_proportions
from outshop.errors import InputError
from outshop.railway.scales import scale


def test_mass_is_judged_by_each_rule_on_its_own():
    """NEM 302: 245 mm in H0 wants 98 g; RP-20.1 for 245 mm wants 165 g."""
    verdicts = {m.rule.rule: m.verdict for m in check_mass(100, 245, "H0")}
    assert verdicts == {"NEM302": "meets it", "RP-20.1": "lighter than recommended"}
    assert check_mass(80, 245, "H0")[0].verdict == "too light"
    heavy = {m.rule.rule: m.verdict for m in check_mass(200, 245, "H0")}
    assert heavy["RP-20.1"] == "heavier than recommended"


def test_a_coach_of_26_4_m_at_264_mm_is_a_deliberate_1_100():
    sizes = {"length": (264.0, 26_400.0), "height": (46.6, 4_050.0)}
    length, height = check_proportions(sizes, scale("H0"))
    assert length.effective_ratio.value == pytest.approx(100)
    assert length.error_percent.value == pytest.approx(-13, abs=0.01)
    assert length.meaning == "deliberate compromise"
    assert "1:100" in length.why
    assert height.meaning == "to scale"


def test_1_93_5_is_told_from_1_100():
    (length,) = check_proportions({"length": (26_400 / 93.5, 26_400.0)}, scale("H0"))
    assert "1:93.5" in length.why


@pytest.mark.parametrize(
    ("name", "share", "meaning"),
    [
        ("height", 1.0, "to scale"),
        ("height", 1.1, "off scale"),
        ("length", 0.95, "off scale"),
        ("wheel_diameter", 0.95, "deliberate compromise"),
        ("wheel_diameter", 1.1, "off scale"),
    ],
)
def test_meanings(name, share, meaning):
    (found,) = check_proportions({name: (4_000 / 87 * share, 4_000.0)}, scale("H0"))
    assert found.meaning == meaning


def test_error_bars_follow_the_caliper():
    (found,) = check_proportions({"height": (46.0, 4_002.0)}, scale("H0"), error_mm=0.1)
    assert found.error_mm.low == pytest.approx(-0.1)
    assert found.error_percent.high == pytest.approx(100 * 0.1 / 46, rel=1e-6)


@pytest.mark.parametrize("pair", [(0, 100), (100, 0), (-1, 100), (float("nan"), 1)])
def test_lengths_that_cannot_be_are_refused(pair):
    with pytest.raises(InputError):
        check_proportions({"length": pair}, scale("H0"))
