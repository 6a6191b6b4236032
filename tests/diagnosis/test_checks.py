"""The next check: information against brute force, costs, safety."""

from itertools import product
from math import log2

import numpy as np
import pytest

from outshop.diagnosis.case import Case
from outshop.diagnosis.checks import cost_of, information, next_checks, outcome_table, single_cause
from outshop.diagnosis.diagnosis import diagnose
from outshop.diagnosis.evidence import gather
from outshop.diagnosis.load import shipped_knowledge
from outshop.diagnosis.reasons import weigh


def brute_information(belief, rows):
    """Sum p log p over every cause and every answer of binary signs, in plain Python."""
    before = -sum(b * log2(b) for b in belief if b > 0)
    after = 0.0
    for answers in product((True, False), repeat=len(rows)):
        joint = []
        for c, b in enumerate(belief):
            p = b
            for row, yes in zip(rows, answers, strict=True):
                p *= row[c] if yes else 1 - row[c]
            joint.append(p)
        total = sum(joint)
        after += -sum(p * log2(p / total) for p in joint if p > 0)
    return before - after


@pytest.mark.parametrize("seed", range(6))
def test_information_equals_brute_force(seed):
    rng = np.random.default_rng(seed)
    belief = rng.dirichlet(np.ones(9))
    rows = rng.uniform(0, 1, (int(rng.integers(1, 4)), 9))
    table = np.stack(
        [
            np.prod([r if yes else 1 - r for r, yes in zip(rows, answers, strict=True)], axis=0)
            for answers in product((True, False), repeat=len(rows))
        ]
    )
    assert information(belief, table) == pytest.approx(brute_information(belief, rows), abs=1e-12)


def test_reported_bits_equal_brute_force_on_the_shipped_knowledge():
    """One whole case: belief and outcomes rebuilt from the strengths by hand."""
    knowledge = shipped_knowledge()
    case = Case(system="dc2", yes=("jerky", "click_thump"))
    evidence = gather(knowledge, case)
    prior = evidence.prior
    belief = []
    for c in range(len(knowledge.causes)):
        p = prior[c] / (1 - prior[c])
        for name in case.yes:
            sign = knowledge.sign_by_id[name]
            strength = knowledge.strengths[c, knowledge.sign_column[name]]
            p *= 1 - (1 - sign.leak) * (1 - strength)
        belief.append(p)
    belief = [b / sum(belief) for b in belief]
    found = {n.check.id: n.bits for n in next_checks(knowledge, case, evidence, count=99)}
    for check in ("turn_by_hand", "twist_the_wheels", "look_at_rods"):
        rows = []
        for name in knowledge.check_by_id[check].tells:
            sign = knowledge.sign_by_id[name]
            column = knowledge.strengths[:, knowledge.sign_column[name]]
            leak = 0.0 if sign.healthy else sign.leak
            rows.append(1 - (1 - leak) * (1 - column))
        assert found[check] == pytest.approx(brute_information(belief, rows), rel=1e-9)


def test_looking_ahead_never_loses_information():
    knowledge = shipped_knowledge()
    case = Case(yes=("no_move",))
    for found in next_checks(knowledge, case, gather(knowledge, case), count=99):
        assert found.bits_two >= found.bits - 1e-12
        assert found.score >= found.bits / found.cost - 1e-12


def test_information_is_never_more_than_the_outcomes_can_carry():
    knowledge = shipped_knowledge()
    case = Case(yes=("runs_slow",))
    belief = single_cause(gather(knowledge, case))
    for check in knowledge.checks:
        table = outcome_table(knowledge, case, check)
        np.testing.assert_allclose(table.sum(axis=0), 1)
        assert 0 <= information(belief, table) <= np.log2(len(table)) + 1e-12


def test_first_look_needs_neither_power_nor_tools():
    first = diagnose(Case()).next_checks[0].check
    assert (first.opens, first.power, first.risk_model, first.risk_person) == (
        "nothing",
        False,
        0,
        0,
    )


@pytest.mark.parametrize("sign", ["smoke_smell", "short_trips", "wheels_locked"])
def test_no_check_under_power_before_a_stop_sign_is_cleared(sign):
    found = diagnose(Case(yes=(sign,)))
    assert found.stop
    assert found.next_checks
    assert not any(n.check.power for n in found.next_checks)


def test_opening_and_risk_cost_minutes():
    checks = shipped_knowledge().check_by_id
    plain = cost_of(checks["turn_by_hand"]) - checks["turn_by_hand"].minutes
    assert cost_of(checks["winding_ohms"]) - checks["winding_ohms"].minutes >= plain + 10
    assert cost_of(checks["press_brush"]) - checks["press_brush"].minutes > plain


def test_what_is_known_is_not_asked_again():
    case = Case(yes=("wheels_locked", "stiff_by_hand"), no=("free_by_hand", "tight_one_point"))
    assert "turn_by_hand" not in [n.check.id for n in diagnose(case).next_checks]


def test_what_follows_from_an_answer_is_not_asked_either():
    offered = [n.check.id for n in diagnose(Case(yes=("free_by_hand",))).next_checks]
    assert "turn_by_hand" not in offered


def test_checks_that_cannot_apply_are_not_offered():
    offered = [n.check.id for n in diagnose(Case(system="dc2", yes=("no_move",))).next_checks]
    assert "reverser_pull_in" not in offered
    assert "read_and_reset" not in offered


def test_belief_for_choosing_agrees_with_ranking_when_one_cause_stands_out():
    knowledge = shipped_knowledge()
    case = Case(system="dc2", yes=("half_axle_turns", "one_axle_not_driven"))
    weighed = weigh(knowledge, case)
    assert int(single_cause(weighed.evidence).argmax()) == int(weighed.posterior.cause[0].argmax())
