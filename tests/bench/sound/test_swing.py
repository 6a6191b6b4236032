"""A wheel that binds: the motor's speed swings within every wheel turn, faster than a path steps.

The sound is made here by integrating the wheel's angle with scipy; nothing of it is shared with
the bench.
"""

import numpy as np
import pytest
from scipy.integrate import solve_ivp

from outshop.bench.sound import measure_samples, read_drive
from outshop.bench.sound.spectrum import LogAxis
from outshop.bench.sound.swing import swinging_path
from outshop.estimate import Estimate

RATE = 22_050


def swinging(mean: float, ratio: float, depth: float, seconds: float, phase: float = 1.0):
    """Give times and motor turns where dθ/dt = Ω(1 + a cos θ) for the wheel's angle θ."""
    omega = 2 * np.pi * mean / ratio / np.sqrt(1 - depth**2)  # so that ``mean`` is over time
    times = np.arange(round(seconds * RATE)) / RATE
    solved = solve_ivp(
        lambda _t, angle: omega * (1 + depth * np.cos(angle + phase)),
        (0, seconds), [0.0], t_eval=times, rtol=1e-8, atol=1e-8,
    )  # fmt: skip
    return times, solved.y[0] / (2 * np.pi) * ratio


@pytest.mark.parametrize(
    ("mean", "ratio", "depth"), [(60.0, 9.0, 0.12), (90.0, 14.0, 0.15), (45.0, 9.0, 0.0)]
)
def test_the_path_follows_a_swing_laid_into_harmonic_sums(mean, ratio, depth):
    hop = 0.005
    speeds = LogAxis.up_to(2 * mean, mean / 2)
    times, turns = swinging(mean, ratio, depth, 4.0)
    truth = np.interp(np.arange(0, 3.99, hop), times, np.gradient(turns, times))
    states = np.log2(truth / speeds.lowest_hz) * speeds.steps_per_octave
    rng = np.random.default_rng(3)
    sums = rng.normal(0, 0.5, (truth.size, speeds.size))
    sums += 3 * np.exp(-0.5 * ((np.arange(speeds.size) - states[:, None]) / 4) ** 2)
    found, deep = swinging_path(
        sums.astype(np.float32), speeds, hop, ratio, (0.8 * mean, 1.2 * mean)
    )
    assert deep == pytest.approx(depth, abs=0.02)
    assert np.abs(found / truth - 1).max() < 0.03
    assert found.mean() == pytest.approx(truth.mean(), rel=0.004)


@pytest.mark.parametrize(("mean", "depth"), [(62.0, 0.12), (75.0, 0.15), (55.0, 0.1)])
def test_the_mean_motor_speed_is_right_though_a_quick_wheel_binds(mean, depth):
    gears = ((11, 30), (12, 40))
    ratio = 30 / 11 * 40 / 12
    times, turns = swinging(mean, ratio, depth, 8.0)
    rng = np.random.default_rng(round(mean))
    angle = 2 * np.pi * turns
    # five poles: ten commutations a turn; the meshes; the motor's own turn
    orders = {10: 1.0, 20: 0.5, 11: 0.8, 22: 0.4, 12 * 11 / 30: 0.7, 24 * 11 / 30: 0.3, 1: 0.3}
    tones = sum(a * np.cos(o * angle + rng.uniform(0, 6)) for o, a in orders.items())
    run = tones + rng.normal(0, 0.3, times.size)
    still = np.zeros(2 * RATE)
    sound = np.concatenate([still, run, still]) + rng.normal(0, 0.08, run.size + 4 * RATE)
    stages = [f"[[stages]]\ndriver_teeth = {a}\ndriven_teeth = {b}\n" for a, b in gears]
    drive = read_drive("armature_poles = 5\n" + "".join(stages))
    bench = measure_samples((0.1 * sound).astype(np.float32), RATE, drive)
    assert isinstance(bench.motor_speed, Estimate)
    assert bench.motor_speed.value == pytest.approx(turns[-1] / times[-1], rel=0.02)
    assert bench.motor_speed.low <= turns[-1] / times[-1] <= bench.motor_speed.high
