"""Closed jobs move the weights as a Dirichlet prior says, and can be taken back."""

import json

import numpy as np
import pytest

from outshop.diagnosis.case import Case
from outshop.diagnosis.diagnosis import diagnose
from outshop.diagnosis.learning import TRUST, Experience
from outshop.diagnosis.load import shipped_knowledge
from outshop.diagnosis.priors import weights
from outshop.errors import ArchiveError, InputError

KNOWLEDGE = shipped_knowledge()
PEST = [c.id for c in KNOWLEDGE.causes].index("zinc_pest_castings")


def shop(*causes):
    seen = Experience()
    for number, cause in enumerate(causes):
        seen = seen.learnt(f"job {number}", cause, KNOWLEDGE)
    return seen


def test_weights_follow_the_dirichlet_posterior_mean():
    seen = shop(*["zinc_pest_castings"] * 5, "rods_bind").weights(KNOWLEDGE)
    expected = (TRUST * weights(KNOWLEDGE)[PEST] + 5) / (TRUST + 6)
    assert seen[PEST] == pytest.approx(expected)
    assert seen.sum() == pytest.approx(1)


def test_many_jobs_come_to_the_shop_s_own_shares():
    seen = shop(*["zinc_pest_castings", "rods_bind"] * 3000).weights(KNOWLEDGE)
    assert seen[PEST] == pytest.approx(0.5, abs=0.01)


def test_what_was_learnt_reaches_the_ranking_and_can_be_taken_back():
    seen = shop(*["zinc_pest_castings"] * 8)
    case = Case(yes=("stiff_by_hand",))
    before = dict(diagnose(case).groups)["zinc_pest"]
    after = dict(diagnose(case, base=seen.weights(KNOWLEDGE)).groups)["zinc_pest"]
    assert after > 2 * before
    for number in range(8):
        seen = seen.forgotten(f"job {number}")
    np.testing.assert_allclose(seen.weights(KNOWLEDGE), weights(KNOWLEDGE))


def test_a_job_counts_once_even_when_its_cause_is_corrected():
    seen = Experience().learnt("a", "rods_bind", KNOWLEDGE).learnt("a", "gear_worn", KNOWLEDGE)
    assert dict(seen.counts()) == {"gear_worn": 1}


def test_export_names_no_job_and_comes_back():
    seen = shop("rods_bind", "rods_bind", "gear_worn")
    text = seen.exported()
    assert "job" not in text
    other = Experience().imported("friend", text)
    assert other.counts() == seen.counts()
    assert not other.forgotten("friend").counts()
    assert other.imported("friend", text).counts() == seen.counts()


def test_counts_of_unknown_causes_are_left_out():
    text = json.dumps({"format": "outshop-cause-counts-1", "counts": {"from_a_newer_list": 4}})
    learnt = Experience().imported("friend", text).weights(KNOWLEDGE)
    np.testing.assert_allclose(learnt, weights(KNOWLEDGE))


@pytest.mark.parametrize(
    "text",
    ["{", "[]", "{}", '{"format": "outshop-cause-counts-1"}',
     '{"format": "outshop-cause-counts-1", "counts": {"gear_worn": -1}}',
     '{"format": "outshop-cause-counts-1", "counts": {"gear_worn": true}}'],
)  # fmt: skip
def test_a_file_that_holds_no_counts_is_refused(text):
    with pytest.raises(ArchiveError, match="friend"):
        Experience().imported("friend", text)


def test_an_unknown_cause_cannot_be_learnt():
    with pytest.raises(InputError, match="nearest: rods_bind"):
        Experience().learnt("a", "rod_bind", KNOWLEDGE)
