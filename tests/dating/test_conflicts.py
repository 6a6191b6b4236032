"""Smallest contradictory sets and smallest sets to set aside, against brute force."""

import itertools

import numpy as np

from outshop.dating.conflicts import find_conflicts


def brute_force(within):
    """Try every subset, smallest first."""
    n = within.shape[0]

    def agree(members):
        return within[list(members)].all(axis=0).any() if members else True

    if agree(range(n)):
        return [], []
    clashes = next(
        found
        for size in range(1, n + 1)
        if (found := [s for s in itertools.combinations(range(n), size) if not agree(s)])
    )
    aside = next(
        found
        for size in range(1, n + 1)
        if (
            found := [
                s
                for s in itertools.combinations(range(n), size)
                if agree([i for i in range(n) if i not in s])
            ]
        )
    )
    return clashes, aside


def random_case(rng):
    """Intervals mostly, with holes now and then, so that larger clashes occur as well."""
    n, years = rng.integers(1, 13), 14
    within = np.zeros((n, years), dtype=bool)
    for row in within:
        first, last = np.sort(rng.integers(0, years, 2))
        row[first : last + 1] = True
        if rng.random() < 0.5:
            row |= rng.random(years) < 0.4
    return within


def test_500_random_cases_equal_brute_force(rng):
    sizes = set()
    for _ in range(500):
        within = random_case(rng)
        found = find_conflicts(within)
        clashes, aside = brute_force(within)
        assert list(found.clashes) == clashes
        assert list(found.set_aside) == aside
        assert found.consistent == (not clashes)
        sizes |= {len(s) for s in clashes}
    assert {2, 3} <= sizes, "the cases should hold clashes of several sizes"


def test_minimal_sets_to_set_aside_equal_brute_force(rng):
    for _ in range(60):
        within = random_case(rng)[:8]
        n = within.shape[0]

        def agrees_without(aside, within=within, n=n):
            rest = [i for i in range(n) if i not in aside]
            return not rest or within[rest].all(axis=0).any()

        subsets = [set(s) for size in range(n + 1) for s in itertools.combinations(range(n), size)]
        working = [s for s in subsets if agrees_without(s)]
        minimal = {tuple(sorted(s)) for s in working if not any(t < s for t in working)}
        found = find_conflicts(within)
        assert set(found.minimal_set_aside) == (set() if found.consistent else minimal)


def test_two_hundred_evidences_give_every_clashing_pair(rng):
    first = rng.integers(0, 150, 200)
    last = np.minimum(first + rng.integers(5, 60, 200), 200)
    years = np.arange(201)
    within = (first[:, None] <= years) & (years <= last[:, None])
    found = find_conflicts(within, most=50_000)
    pairs = {
        (i, j)
        for i, j in itertools.combinations(range(200), 2)
        if last[i] < first[j] or last[j] < first[i]
    }
    assert set(found.clashes) == pairs
    most_agreeing = within.sum(axis=0).max()
    assert {len(s) for s in found.set_aside} == {200 - most_agreeing}


def test_thousands_of_clashing_evidences_are_cut_and_said_so(rng):
    first = rng.integers(0, 150, 10_000)
    years = np.arange(201)
    within = (first[:, None] <= years) & (years <= first[:, None] + 20)
    found = find_conflicts(within)
    assert len(found.clashes) == 10_000
    assert not found.complete


def test_two_hundred_windows_with_holes_give_every_clashing_three(rng):
    """No two clash here; the brute force tries every three of the two hundred."""
    within = np.ones((200, 24), dtype=bool)
    for row in within:
        row[rng.choice(24, 9, replace=False)] = False
    out = np.array([int("".join("01"[int(not y)] for y in row), 2) for row in within])
    pairs = {(i, j): out[i] | out[j] for i, j in itertools.combinations(range(200), 2)}
    everything = 2**24 - 1
    assert everything not in pairs.values(), "the case should hold no clashing pair"
    threes = {
        (i, j, int(k))
        for (i, j), both in pairs.items()
        for k in np.flatnonzero((out | both) == everything)
        if k > j
    }
    assert threes
    found = find_conflicts(within)
    assert set(found.clashes) == threes
    assert found.complete


def test_a_search_too_long_gives_one_clash_without_a_spare_member_and_says_so(rng):
    within = np.ones((200, 100), dtype=bool)
    for row in within:
        row[rng.choice(100, 8, replace=False)] = False
    found = find_conflicts(within)
    assert not found.proven
    assert not found.complete
    (clash,) = found.clashes
    assert not within[list(clash)].all(axis=0).any()
    for spared in clash:
        assert within[[i for i in clash if i != spared]].all(axis=0).any()
