"""Exact inference against enumeration, closed forms, a textbook and pyAgrum."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from outshop.diagnosis.case import Case, read_measured
from outshop.diagnosis.evidence import gather
from outshop.diagnosis.inference import infer
from outshop.diagnosis.load import shipped_knowledge
from outshop.diagnosis.reasons import weigh

from .agrum import marginals


def posterior(prior, findings, factors=None, groups=None):
    """Call infer for one variant with the reference's notation of findings."""
    n = len(prior)
    return infer(
        np.array([prior]),
        np.array([factors if factors is not None else np.ones(n)]),
        np.array([f[0] for f in findings]),
        np.array([f[1] for f in findings]).T.reshape(n, len(findings)),
        np.array([[(f[2], f[3]) for f in findings]]).reshape(1, len(findings), 2),
        np.arange(n) if groups is None else np.array(groups),
    )


def random_network(rng, causes, findings):
    prior = rng.uniform(0.005, 0.4, causes)
    listed = []
    for _ in range(findings):
        absent, there = rng.choice([(0.0, 1.0), (1.0, 0.0), tuple(rng.uniform(0.05, 1, 2))])
        listed.append((rng.uniform(1e-4, 0.1), rng.uniform(0, 0.95, causes), absent, there))
    return prior, listed, rng.uniform(0.2, 3, causes)


@pytest.mark.parametrize("seed", range(12))
def test_marginals_equal_enumeration(seed, enumerate_all):
    rng = np.random.default_rng(seed)
    prior, findings, factors = random_network(rng, 7, int(rng.integers(0, 6)))
    expected, total, _ = enumerate_all(prior, findings, factors)
    found = posterior(prior, findings, factors)
    np.testing.assert_allclose(found.cause[0], expected, rtol=1e-10)
    np.testing.assert_allclose(found.evidence[0], total, rtol=1e-10)


@pytest.mark.parametrize("seed", range(4))
def test_group_probability_is_that_of_some_member(seed, enumerate_all):
    rng = np.random.default_rng(100 + seed)
    prior, findings, factors = random_network(rng, 7, 4)
    groups = [0, 0, 1, 2, 2, 2, 3]
    _, total, joint = enumerate_all(prior, findings, factors)
    found = posterior(prior, findings, factors, groups)
    for g in range(4):
        members = [i for i, k in enumerate(groups) if k == g]
        some = sum(w for s, w in joint.items() if any(s[i] for i in members)) / total
        assert found.group[0, g] == pytest.approx(some, rel=1e-10)


@given(
    prior=st.floats(0.001, 0.5),
    leak=st.floats(0.0, 0.5),
    strength=st.floats(0.0, 1.0),
    other=st.floats(0.001, 0.5),
)
@settings(max_examples=60, deadline=None)
def test_two_causes_follow_the_closed_form(prior, leak, strength, other):
    """One finding, two causes: Bayes' rule written out by hand."""
    second = 0.3
    found = posterior([prior, other], [(leak, [strength, second], 0.0, 1.0)])
    a = prior * (1 - other) * (1 - (1 - leak) * (1 - strength))
    b = (1 - prior) * other * (1 - (1 - leak) * (1 - second))
    both = prior * other * (1 - (1 - leak) * (1 - strength) * (1 - second))
    assert found.cause[0, 0] == pytest.approx((a + both) / (a + b + both), rel=1e-9)


# Russell & Norvig, Artificial Intelligence: A Modern Approach, 3rd ed., figure 14.10: fever by
# noisy-OR of cold, flu and malaria with inhibitions 0.6, 0.2, 0.1 (values from memory).
FEVER = [
    ((0, 0, 1), 0.9),
    ((0, 1, 0), 0.8),
    ((0, 1, 1), 0.98),
    ((1, 0, 0), 0.4),
    ((1, 0, 1), 0.94),
    ((1, 1, 0), 0.88),
    ((1, 1, 1), 0.988),
]


@pytest.mark.parametrize(("present", "published"), FEVER)
def test_textbook_fever_table(present, published):
    """P(fever | who is there) comes back when the causes are fixed by their factors."""
    sure = [1.0 if on else 0.0 for on in present]
    free = [0.5, 0.5, 0.5]
    fixed = [1e9 if on else 1e-9 for on in sure]
    with_fever = posterior(free, [(0.0, [0.4, 0.8, 0.9], 0.0, 1.0)], fixed).evidence[0]
    without = posterior(free, [(0.0, [0.4, 0.8, 0.9], 1.0, 0.0)], fixed).evidence[0]
    assert with_fever / (with_fever + without) == pytest.approx(published, abs=1e-6)


def test_explaining_away():
    """Learning that one cause is there lowers the other: the noisy-OR's mark (Pearl 1988)."""
    finding = (0.01, [0.8, 0.8], 0.0, 1.0)
    alone = posterior([0.1, 0.1], [finding]).cause[0, 0]
    explained = posterior([0.1, 0.1], [finding], [1.0, 1e9]).cause[0, 0]
    assert explained < 0.5 * alone


def test_twelve_findings_do_not_lose_digits(enumerate_all):
    """The alternating sum over subsets cancels here; the forward-backward sum must not."""
    rng = np.random.default_rng(5)
    prior = rng.uniform(0.005, 0.02, 8)
    findings = [(1e-6, rng.uniform(0.0, 0.02, 8), 0.0, 1.0) for _ in range(12)]
    expected, total, _ = enumerate_all(prior, findings)
    found = posterior(prior, findings)
    assert total < 1e-20
    np.testing.assert_allclose(found.cause[0], expected, rtol=1e-9)


@pytest.mark.parametrize(
    "case",
    [
        Case(system="dc2", yes=("no_move", "arcing_sound_sparks"), no=("wheels_black",)),
        Case(system="ac3", decade=1950, yes=("once_per_rev", "click_thump", "stiff_by_hand")),
        Case(yes=("runs_slow", "free_by_hand"), no=("other_locos_ok",)),
    ],
    ids=["dead", "hitch", "healthy_signs"],
)
def test_full_network_agrees_with_pyagrum(case):
    knowledge = shipped_knowledge()
    found = weigh(knowledge, case, items=False)
    np.testing.assert_allclose(
        found.posterior.cause[0], marginals(knowledge, found.evidence), rtol=1e-7, atol=1e-12
    )


def test_measured_case_agrees_with_pyagrum():
    knowledge = shipped_knowledge()
    measured = read_measured({"light_current_a": [0.3, 0.5]}, knowledge)
    case = Case(system="dc2", yes=("runs_slow",), measured=measured)
    expected = marginals(knowledge, gather(knowledge, case))
    np.testing.assert_allclose(
        weigh(knowledge, case).posterior.cause[0], expected, rtol=1e-7, atol=1e-12
    )


def published(nodes, arcs, tables):
    """Build a small net for the second-opinion engine: nodes, arcs, P(true | parents)."""
    from .agrum import gum

    net = gum.BayesNet()
    for name in nodes:
        net.add(gum.LabelizedVariable(name, name, 2))
    for tail, head in arcs:
        net.addArc(tail, head)
    for name, rows in tables.items():
        for parents, p in rows:
            net.cpt(name)[parents] = [1 - p, p]
    return net


# Published nets with published answers (values from memory): burglary and earthquake in Russell
# and Norvig, section 14.4 (0.284); sprinkler and rain in K. Murphy's tutorial on Bayes nets
# (P(sprinkler | wet) = 0.4298, P(rain | wet) = 0.7079).
ALARM = (
    ["b", "e", "a", "j", "m"],
    [("b", "a"), ("e", "a"), ("a", "j"), ("a", "m")],
    {
        "b": [({}, 0.001)],
        "e": [({}, 0.002)],
        "a": [
            ({"b": 1, "e": 1}, 0.95),
            ({"b": 1, "e": 0}, 0.94),
            ({"b": 0, "e": 1}, 0.29),
            ({"b": 0, "e": 0}, 0.001),
        ],
        "j": [({"a": 1}, 0.90), ({"a": 0}, 0.05)],
        "m": [({"a": 1}, 0.70), ({"a": 0}, 0.01)],
    },
)
SPRINKLER = (
    ["c", "s", "r", "w"],
    [("c", "s"), ("c", "r"), ("s", "w"), ("r", "w")],
    {
        "c": [({}, 0.5)],
        "s": [({"c": 1}, 0.1), ({"c": 0}, 0.5)],
        "r": [({"c": 1}, 0.8), ({"c": 0}, 0.2)],
        "w": [
            ({"s": 1, "r": 1}, 0.99),
            ({"s": 1, "r": 0}, 0.9),
            ({"s": 0, "r": 1}, 0.9),
            ({"s": 0, "r": 0}, 0.0),
        ],
    },
)


@pytest.mark.parametrize(
    ("net", "evidence", "asked", "answer"),
    [
        (ALARM, {"j": 1, "m": 1}, "b", 0.284),
        (SPRINKLER, {"w": 1}, "s", 0.4298),
        (SPRINKLER, {"w": 1}, "r", 0.7079),
    ],
    ids=["burglary", "sprinkler", "rain"],
)
def test_the_second_opinion_gives_published_answers(net, evidence, asked, answer):
    from .agrum import gum

    inference = gum.LazyPropagation(published(*net))
    inference.setEvidence(evidence)
    inference.makeInference()
    assert inference.posterior(asked)[1] == pytest.approx(answer, abs=5e-4)
