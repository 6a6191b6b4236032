"""Thumps, squeal and crackle: planted ones are found, absent ones are not."""

import numpy as np
import pytest
from recording_simulator import coloured
from scipy.signal import butter, sosfilt

from outshop.bench.sound.bandwise import common_modulation
from outshop.bench.sound.noise import crackle, squeal
from outshop.bench.sound.spectrum import LogAxis, whitened
from outshop.bench.sound.turn import (
    STEPS,
    WheelTurns,
    find_thumps,
    line_strength,
    loudness_modulation,
    speed_swing,
    turn_envelope,
    wheel_turns,
)
from outshop.bench.sound.warp import EvenTurning
from outshop.estimate import Estimate, NotMeasurable

RATE = 22_050


def turning(rng, shape, wheel_rate=3.0, seconds=12.0):
    n = int(seconds * RATE)
    angle = (np.arange(n) / RATE * wheel_rate) % 1
    sound = (shape(angle) * coloured(rng, n, 0.3)).astype("f4")
    even = EvenTurning(sound, RATE, 60.0, np.arange(n) / RATE)
    return wheel_turns(even, wheel_rate)


def test_a_thump_is_found_where_it_was_put(rng):
    turns = turning(rng, lambda a: 1 + 2.0 * (np.abs(a - 0.25) < 0.03))
    thumps = find_thumps(turns)
    assert [t.angle_deg for t in thumps] == [pytest.approx(90, abs=15)]
    envelope = np.array(turn_envelope(turns))
    assert envelope.argmax() == pytest.approx(0.25 * STEPS, abs=1)
    assert envelope.mean() == pytest.approx(1)


def test_an_even_wheel_has_no_thump(rng):
    found = [find_thumps(turning(rng, np.ones_like)) for _ in range(10)]
    assert sum(map(len, found)) <= 1


@pytest.mark.parametrize("depth", [0.05, 0.2, 0.5])
def test_modulation_depth_is_recovered_with_its_interval(rng, depth):
    turns = turning(rng, lambda a: 1 + depth * np.cos(2 * np.pi * a))
    found = loudness_modulation(turns, 0.0).depth
    assert isinstance(found, Estimate)
    assert found.low <= 100 * depth <= found.high
    assert found.half_width < 8


def test_without_modulation_the_interval_reaches_down_to_nothing(rng):
    found = loudness_modulation(turning(rng, np.ones_like), 0.0).depth
    assert found.low == 0


def test_room_noise_is_taken_off_the_modulation(rng):
    turns = turning(rng, lambda a: 1 + 0.4 * np.cos(2 * np.pi * a))
    loud = WheelTurns(turns.power + turns.power.mean())
    found = loudness_modulation(loud, float(turns.power.mean()))
    assert found.depth.value == pytest.approx(40, abs=5)


def crossing(rng, depth, seconds=10.0, wheel_rate=3.0):
    """Noise whose bands each change in their own way once a turn, and all by ``depth``."""
    n = int(seconds * RATE)
    angle = 2 * np.pi * np.arange(n) / RATE * wheel_rate
    sound = np.zeros(n)
    for low in (250, 500, 1000, 1500, 2000, 3000, 4000, 6000):
        sos = butter(4, (low, 1.3 * low), "band", fs=RATE, output="sos")
        own = 1 + rng.uniform(0, 0.3) * np.cos(angle + rng.uniform(0, 6.28))
        sound += own * sosfilt(sos, rng.standard_normal(n)) * (8 if low == 1000 else 1)
    sound = (sound * (1 + depth * np.cos(angle))).astype("f4")
    return EvenTurning(sound, RATE, 60.0, np.arange(n) / RATE), wheel_rate


@pytest.mark.parametrize("depth", [0.0, 0.2, 0.45])
def test_what_all_bands_share_is_told_from_what_each_has_of_its_own(depth):
    held = 0
    for seed in range(6):
        even, wheel_rate = crossing(np.random.default_rng(seed), depth)
        found = common_modulation(even, wheel_rate, None, RATE)
        held += found.low <= 100 * depth <= found.high
        assert found.value == pytest.approx(100 * depth, abs=17)
    assert held == 6


def test_bands_in_the_room_and_few_turns_are_said(rng):
    even, wheel_rate = crossing(rng, 0.2)
    loud = even.samples * 0.9
    assert "as loud" in common_modulation(even, wheel_rate, loud * 3, RATE).reason
    assert "whole wheel turns" in common_modulation(even, 0.3, None, RATE).reason


def test_the_upper_end_holds_what_a_reverberant_room_flattens(rng):
    """Exponential decay of energy, 60 dB in 0.4 s, applied to the power itself."""
    wheel_rate, step_s, true = 5.0, 1 / (5.0 * 24), 0.4
    power = np.square(1 + true * np.cos(2 * np.pi * np.arange(80 * 24) / 24))
    decay = 10 ** (-6 * np.arange(120) * step_s / 0.4)
    heard = np.convolve(power, decay / decay.sum())[240 : 240 + 70 * 24].reshape(70, 24)
    heard = WheelTurns(heard * rng.normal(1, 0.05, heard.shape))
    unaware, aware = (loudness_modulation(heard, 0.0, r).depth for r in (0.0, wheel_rate))
    assert unaware.high < 100 * true <= aware.high
    assert aware.low == unaware.low


def test_few_turns_are_said(rng):
    few = loudness_modulation(turning(rng, np.ones_like, seconds=1.5), None).depth
    assert isinstance(few, NotMeasurable)
    assert "whole wheel turns" in few.reason


def test_a_swing_of_the_speed_is_measured_peak_to_peak():
    hop, ratio = 0.01, 20.0
    t = np.arange(0, 15, hop)
    speed = 60 * (1 + 0.06 * np.cos(2 * np.pi * 3.0 * t))
    found = speed_swing(speed, hop, ratio).depth
    assert found.value == pytest.approx(12, abs=0.7)


def test_a_line_once_per_turn_stands_out_and_one_beside_does_not(rng):
    step = np.arange(60 * STEPS) / STEPS
    noise = rng.standard_normal(step.size)
    assert line_strength(noise + np.cos(2 * np.pi * step)) > 12
    assert line_strength(noise + np.cos(2 * np.pi * 1.6 * step)) < 8


def test_crackle_is_counted(rng):
    n = 10 * RATE
    sound = 0.01 * coloured(rng, n, 0.5)
    places = np.sort(rng.choice(np.arange(RATE, n - RATE, 1500), 40, replace=False))
    for p in places:
        sound[p : p + 30] += 0.5 * rng.standard_normal(30)
    found = crackle(sound.astype("f4"), RATE)
    assert found.value == pytest.approx(4.0, abs=0.3)
    assert found.low <= 4.0 <= found.high


def test_smooth_noise_does_not_crackle(rng):
    assert crackle((0.01 * coloured(rng, 6 * RATE, 0.5)).astype("f4"), RATE).value == 0


@pytest.mark.parametrize(("loudness", "heard"), [(0.02, True), (0.0, False)])
def test_a_squeal_off_all_orders_is_found(rng, loudness, heard):
    t = np.arange(6 * RATE) / RATE
    speed = 60 + 5 * np.sin(2 * np.pi * 0.3 * t)
    mesh = 0.05 * np.sin(2 * np.pi * 40 * np.cumsum(speed) / RATE)
    tone = loudness * np.sin(2 * np.pi * 3300 * t)
    sound = (mesh + tone + 0.01 * coloured(rng, t.size, 0.5)).astype("f4")
    axis = LogAxis.up_to(9500, 1200)
    excess = whitened(sound, RATE, 0.06, 0.01, axis)
    path = np.interp(np.arange(len(excess)) * 0.01, t, speed)
    found = squeal(excess, axis, path, np.array([40.0, 80.0]), 0.01)
    assert (found.value > 0) == heard
