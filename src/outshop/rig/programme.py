"""What the simulated locomotive is told to do, and what it then does."""

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from outshop.errors import InputError
from outshop.rig.locomotive import Locomotive

STEP_S = 0.002  # simulation step: over 50 steps in a wheel turn at top speed
_TIGHT_WIDTH = 0.12  # share of a wheel turn that a tight place spans (our choice)


@dataclass(frozen=True, slots=True)
class Phase:
    """Some seconds at one setting, -1 (full reverse) to 1 (full forward); 0 is still."""

    seconds: float
    setting: float


@dataclass(frozen=True, slots=True)
class Run:
    """What the locomotive did.

    Parameters
    ----------
    locomotive : Locomotive
        Who ran.
    t_s : ndarray [shape=(n,)]
        Time, in seconds, in steps of ``STEP_S``.
    setting : ndarray [shape=(n,)]
        What it was told.
    speed_m_s : ndarray [shape=(n,)]
        Track speed, forward positive.
    wheel_turns : ndarray [shape=(n,)]
        Turns of the driving wheels since the start, signed.
    """

    locomotive: Locomotive
    t_s: NDArray[np.float64]
    setting: NDArray[np.float64]
    speed_m_s: NDArray[np.float64]
    wheel_turns: NDArray[np.float64]

    @property
    def duration_s(self) -> float:
        """Length, in seconds."""
        return len(self.t_s) * STEP_S


def bench_programme(setting: float = 0.7) -> tuple[Phase, ...]:
    """Give a minute of bench: quiet, forward, halt, reverse, halt."""
    return (
        Phase(6, 0),
        Phase(22, setting),
        Phase(4, 0),
        Phase(22, -setting),
        Phase(5, 0),
    )


def drive(
    locomotive: Locomotive, programme: Sequence[Phase], seed: int = 0, wander: float = 0.004
) -> Run:
    """Run the programme.

    Parameters
    ----------
    locomotive : Locomotive
        Who runs.
    programme : sequence of Phase
        What it is told, in order.
    seed : int
        Of the slow wander of the speed.
    wander : float
        Relative standard deviation of that wander.

    Returns
    -------
    Run
        Speed and wheel angle over time.

    Raises
    ------
    InputError
        The programme is empty or a setting lies outside -1 to 1.
    """
    if not programme or any(p.seconds <= 0 or not -1 <= p.setting <= 1 for p in programme):
        raise InputError("a programme needs phases of more than 0 s with settings from -1 to 1")
    counts = [max(1, round(phase.seconds / STEP_S)) for phase in programme]
    setting = np.repeat([phase.setting for phase in programme], counts)
    asked = _asked_speed(locomotive, setting, counts)
    speed, turns = _integrate(locomotive, asked * _wander(len(asked), wander, seed))
    return Run(
        locomotive, np.arange(len(setting), dtype=np.float64) * STEP_S, setting, speed, turns
    )


def _asked_speed(
    locomotive: Locomotive, setting: NDArray[np.float64], counts: Sequence[int]
) -> NDArray[np.float64]:
    """Speed that the setting asks for, after the rest before each start."""
    loco = locomotive
    over = np.clip((np.abs(setting) - loco.start_setting) / (1 - loco.start_setting), 0, 1)
    asked = np.sign(setting) * over * loco.top_speed_m_s
    rest = round((loco.start_delay_s + loco.faults.sticky_start) / STEP_S)
    start = 0
    for count in counts:
        if start == 0 or setting[start] * setting[start - 1] <= 0:
            asked[start : start + min(rest, count)] = 0
        start += count
    return asked


def _wander(count: int, size: float, seed: int) -> NDArray[np.float64]:
    """Slow relative change of speed: band-limited noise around 1."""
    rng = np.random.default_rng([seed, 1])
    knots = rng.normal(0, size, round(count * STEP_S) + 4)  # one a second
    at = np.linspace(0, len(knots) - 1, count)
    return 1 + np.interp(at, np.arange(len(knots)), knots)


def _integrate(
    locomotive: Locomotive, asked: NDArray[np.float64]
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Follow the asked speed with a lag; the tight place brakes once per wheel turn."""
    share = STEP_S / locomotive.time_constant_s
    per_step = STEP_S / locomotive.wheel_circumference_m
    depth = locomotive.faults.binding_axle
    speed, turns = np.empty_like(asked), np.empty_like(asked)
    smooth, turn = 0.0, 0.0
    sharp = 1 / (2 * math.pi * _TIGHT_WIDTH) ** 2
    crawl = 0.02 * locomotive.top_speed_m_s  # friction stops it below (our choice)
    for i, wanted in enumerate(asked.tolist()):
        smooth += share * (wanted - smooth)
        if wanted == 0 and abs(smooth) < crawl:
            smooth = 0.0
        now = smooth
        if depth:
            now *= 1 - depth * math.exp(sharp * (math.cos(2 * math.pi * turn) - 1))
        turn += now * per_step
        speed[i], turns[i] = now, turn
    return speed, turns
