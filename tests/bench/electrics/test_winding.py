"""Armatures checked by an independent sparse nodal solver and by closed forms.

Closed forms: healthy delta of three 2r/3 each, one open coil 2r, r, r, one shorted coil
0, r/2, r/2; healthy star 2r each, one shorted coil r, r, 2r; five-pole ring 0.8 r between
neighbours and 1.2 r two apart (circuit arithmetic).
"""

import json

import numpy as np
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st
from scipy.sparse import csr_matrix
from scipy.sparse.linalg import spsolve

from outshop.bench.electrics import winding
from outshop.bench.electrics.armature import (
    ring_readings,
    solve_ring,
    solve_star,
    star_readings,
)
from outshop.errors import InputError
from outshop.estimate import Estimate, NotMeasurable


def nodal(edges, nodes, a, b):
    """Resistance between two nodes by Kirchhoff's laws; opens left out, shorts 1e-9 ohm."""
    rows, cols, data = [], [], []
    for i, j, ohm in edges:
        if np.isinf(ohm):
            continue
        g = 1 / max(ohm, 1e-9)
        rows += [i, j, i, j]
        cols += [i, j, j, i]
        data += [g, g, -g, -g]
    keep = [n for n in range(nodes) if n != b]
    matrix = csr_matrix((data, (rows, cols)), shape=(nodes, nodes))[keep][:, keep].tocsc()
    inflow = np.zeros(nodes)
    inflow[a] = 1
    # a hair of leakage keeps an isolated node solvable
    leak = csr_matrix(np.diag(np.full(len(keep), 1e-13))).tocsc()
    return spsolve(matrix + leak, inflow[keep])[keep.index(a)]


def delta_by_nodes(coils):
    n = len(coils)
    edges = [(k, (k + 1) % n, r) for k, r in enumerate(coils)]
    return np.array([nodal(edges, n, k, (k + 1) % n) for k in range(n)])


def star_by_nodes(coils):
    n = len(coils)
    edges = [(k, n, r) for k, r in enumerate(coils)]
    return np.array([nodal(edges, n + 1, k, (k + 1) % n) for k in range(n)])


@pytest.mark.parametrize(
    ("coils", "readings"),
    [
        ([6, 6, 6], [4, 4, 4]),
        ([np.inf, 6, 6], [12, 6, 6]),
        ([0, 6, 6], [0, 3, 3]),
        ([5, 5, 5, 5, 5], [4, 4, 4, 4, 4]),
    ],
)
def test_closed_forms_of_delta(coils, readings):
    assert ring_readings(coils) == pytest.approx(readings)
    assert delta_by_nodes(coils) == pytest.approx(readings, abs=1e-5)


@pytest.mark.parametrize(
    ("coils", "readings"), [([4, 4, 4], [8, 8, 8]), ([0, 4, 4], [4, 8, 4]), ([4, 0, 4], [4, 4, 8])]
)
def test_closed_forms_of_star(coils, readings):
    assert star_readings(coils) == pytest.approx(readings)
    assert star_by_nodes(coils) == pytest.approx(readings, abs=1e-5)


coil_lists = st.lists(st.floats(0.3, 60), min_size=3, max_size=13)


@given(coil_lists)
def test_ring_solved_backwards_gives_the_coils_put_in(coils):
    assert solve_ring(delta_by_nodes(coils)) == pytest.approx(coils, rel=1e-4)


@given(coil_lists)
def test_star_solved_backwards_gives_the_coils_put_in(coils):
    assume(len(coils) % 2 == 1)
    assert solve_star(star_by_nodes(coils)) == pytest.approx(coils, rel=1e-6)


@pytest.mark.parametrize("n", [3, 5, 7, 13])
@pytest.mark.parametrize("fault", ["open", "shorted"])
@pytest.mark.parametrize("connection", ["delta", "star"])
def test_every_single_bad_coil_is_named(n, fault, connection):
    solver = delta_by_nodes if connection == "delta" else star_by_nodes
    rng = np.random.default_rng(n)
    for bad in range(n):
        coils = 8 * (1 + 0.01 * rng.standard_normal(n))
        coils[bad] = np.inf if fault == "open" else 0.0
        readings = solver(coils)
        readings[readings > 1e6] = np.inf
        readings = np.round(readings, 2)
        bench = winding.measure(readings, connection=connection, step=0.01)
        assert (bench.verdict, bench.suspect) == (fault, (bad + 1,)), readings


@pytest.mark.parametrize("n", [3, 5, 7])
def test_a_coil_short_of_turns_is_named(n):
    for bad in range(n):
        coils = np.full(n, 8.0)
        coils[bad] = 6.8  # 15 % of its turns bridged
        bench = winding.measure(np.round(delta_by_nodes(coils), 3), step=0.001)
        assert (bench.verdict, bench.suspect) == ("uneven", (bad + 1,))
        assert bench.spread_percent == pytest.approx(100 * 1.2 / coils.mean(), abs=0.5)


def test_a_sound_armature_is_even_and_its_coils_are_right():
    bench = winding.measure([4.0, 4.02, 3.98], step=0.01)
    assert (bench.verdict, bench.suspect) == ("even", ())
    assert all(c.low < 6 < c.high for c in bench.coils)


def test_leads_are_taken_off():
    with_leads = winding.measure([4.3, 4.3, 4.3], lead=0.3, step=0.1)
    without = winding.measure([4.0, 4.0, 4.0], step=0.1)
    assert with_leads.coils == without.coils


def test_open_readings_name_the_broken_coil_or_joint():
    star = winding.measure([np.inf, np.inf, 8.0], connection="star")
    assert (star.verdict, star.suspect) == ("open", (2,))
    ring = winding.measure([np.inf, np.inf, 4.0, 4.0, 4.0])
    assert ring.suspect == (1, 2)
    assert any("segment 2" in w for w in ring.warnings)
    assert isinstance(ring.coils[0], NotMeasurable)


def test_three_segments_leave_the_other_meaning_open_and_it_is_said():
    """2r, r, r is an open coil in delta but a shorted one in star."""
    assert any("star" in w for w in winding.measure([8.0, 4.0, 4.0]).warnings)
    star = winding.measure([4.0, 4.0, 8.0], connection="star")
    assert (star.verdict, star.suspect) == ("shorted", (2,))
    assert any("ring" in w for w in star.warnings)


def test_an_even_star_is_judged_without_inventing_coils():
    """With four segments an alternating part of the coils does not show."""
    even = winding.measure([8.0, 8.0, 8.0, 8.0], connection="star")
    assert even.verdict == "even"
    assert all(isinstance(c, NotMeasurable) for c in even.coils)
    short = winding.measure([4.0, 8.0, 8.0, 8.0, 8.0, 4.0], connection="star")
    assert (short.verdict, short.suspect) == ("shorted", (1,))


def test_copper_is_brought_to_20_degrees():
    """IEC 60028 copper: 13.14 ohm at 100 C is 10.0 ohm at 20 C."""
    bench = winding.measure([13.14 * 2 / 3] * 3, temperature_c=100)
    assert bench.coils_at_20c[0].value == pytest.approx(10.0, abs=0.01)


@pytest.mark.parametrize(
    ("shaft", "words"),
    [([], "not measured"), ([np.inf], "good"), ([2e6, 5e4], "leaking"), ([3.0], "bad")],
)
def test_insulation_to_the_shaft(shaft, words):
    assert winding.measure([4.0, 4.0, 4.0], to_shaft=shaft).insulation == words


@pytest.mark.parametrize(
    ("readings", "settings", "says"),
    [
        ([-4.0, 4.0, 4.0], {}, "negative"),
        ([4.0, 4.0], {}, "3 to 13"),
        ([4.0] * 14, {}, "3 to 13"),
        ([16.0, 4.0, 4.0], {}, "reading 1"),
        ([np.inf, 4.0, 4.0], {}, "reading 1"),
        ([4.0, 4.0, 4.0], {"lead": 9.0}, "lead"),
        ([4.0, 4.0, 4.0], {"lead": -1.0}, "lead"),
        ([4.0, 4.0, 4.0], {"connection": "ring"}, "delta or star"),
        ([2.0, 2.0, 20.0], {"connection": "star"}, "all others"),
        ([4.0, 4.0, 4.0], {"temperature_c": 900.0}, "Celsius"),
    ],
)
def test_readings_that_cannot_be_are_refused_in_one_sentence(readings, settings, says):
    with pytest.raises(InputError, match=says):
        winding.measure(readings, **settings)


@pytest.mark.parametrize("text", ["x", "", "4V", "nan", "--", "4,2,1", "1e999"])
def test_typed_values_that_are_no_ohms_are_refused(text):
    with pytest.raises(InputError):
        winding.read_ohms([text])


def test_typed_values_may_have_commas_units_and_open_signs():
    values, step = winding.read_ohms(["4,2", "4.25", "OL"])
    assert values == [4.2, 4.25, np.inf]
    assert step == pytest.approx(0.01)
    assert winding.read_ohms(["4200m", "0.0042k"])[0] == pytest.approx([4.2, 4.2])
    with pytest.raises(InputError, match="mix"):
        winding.read_ohms(["4.2", "4.2 ohm"])


def test_intervals_hold_the_coils_about_as_often_as_they_say():
    """Meter: common gain of 1 % (95 %), last digit to each side."""
    rng = np.random.default_rng(3)
    hits = total = 0
    for _ in range(80):
        coils = 8 * (1 + 0.05 * rng.standard_normal(5))
        gain = 1 + 0.01 / 1.96 * rng.standard_normal()
        readings = ring_readings(coils) * gain + rng.uniform(-0.01, 0.01, 5)
        bench = winding.measure(readings, step=0.01)
        for found, truth in zip(bench.coils, coils, strict=True):
            hits += found.low <= truth <= found.high
            total += 1
    assert 0.90 <= hits / total <= 0.995


@given(st.lists(st.floats(0, 1e4) | st.just(np.inf), min_size=3, max_size=13), st.booleans())
def test_any_readings_give_json_or_a_clear_refusal(readings, star):
    try:
        bench = winding.measure(readings, connection="star" if star else "delta")
    except InputError:
        return
    json.dumps(bench.as_json(), allow_nan=False)
    assert len(bench.coils) == len(readings)
    assert all(isinstance(c, Estimate | NotMeasurable) for c in bench.coils)


@pytest.mark.parametrize(
    ("readings", "verdict"),
    [([4.2, 4.1, 4.25], "even"), ([4.0, 4.0, 4.6], "uneven"), ([4.0, 4.0, 4.1], "even")],
)
def test_readings_within_five_percent_are_even(readings, verdict):
    """Common practice: three healthy readings agree within about 5 %."""
    assert winding.measure(readings, step=0.01).verdict == verdict
