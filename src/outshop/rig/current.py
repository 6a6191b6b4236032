"""The current log of a run, as a logging meter on the track leads would write it."""

import numpy as np
from numpy.typing import NDArray

from outshop.rig.programme import Run

_RESISTANCE_OHM = 14.0  # armature and leads (invented)
_SUPPLY_V = 12.0  # full setting (NEM 630 nominal voltage for small scales)
_FRICTION_A = 0.11  # at steady speed, healthy (invented)
_NOISE_A = 0.0015


def log_current(
    run: Run, rate_hz: float = 2000.0, seed: int = 0
) -> tuple[NDArray[np.float64], NDArray[np.float64], NDArray[np.float64]]:
    """Sample current and voltage.

    Parameters
    ----------
    run : Run
        What the locomotive did.
    rate_hz : float
        Readings a second; the commutator ripple is seen only below half of it.
    seed : int
        Of the meter's noise.

    Returns
    -------
    time_s, current_a, voltage_v : ndarray [shape=(n,)]
        The three columns; current and voltage are unsigned.
    """
    loco = run.locomotive
    at = np.arange(round(run.duration_s * rate_hz), dtype=np.float64) / rate_hz
    told = np.abs(np.interp(at, run.t_s, run.setting))
    pace = np.abs(np.interp(at, run.t_s, run.speed_m_s)) / loco.top_speed_m_s
    turns = np.interp(at, run.t_s, run.wheel_turns)
    volts = told * _SUPPLY_V
    # what the armature's own voltage leaves over; a standing motor draws volts / resistance
    lag = np.clip(told - loco.start_setting - pace * (1 - loco.start_setting), 0, None)
    current = np.where(told > 0, _FRICTION_A, 0.0) + lag * _SUPPLY_V / _RESISTANCE_OHM
    tight = np.exp(1.8 * (np.cos(2 * np.pi * turns) - 1))
    current *= 1 + 1.5 * loco.faults.binding_axle * tight
    bars = 2 * loco.poles if loco.poles % 2 else loco.poles
    ripple = np.sin(2 * np.pi * turns * loco.ratio * bars)
    current *= 1 + 0.12 * ripple * (pace > 0.02)
    noise = np.random.default_rng([seed, 3]).normal(0, _NOISE_A, len(at))
    return at, np.clip(current + noise, 0, None), volts


def as_csv(
    time_s: NDArray[np.float64], current_a: NDArray[np.float64], voltage_v: NDArray[np.float64]
) -> str:
    """Write the log as ``time_s,current_a,voltage_v`` lines."""
    lines = ["time_s,current_a,voltage_v"]
    rows = zip(time_s.tolist(), current_a.tolist(), voltage_v.tolist(), strict=True)
    lines += [f"{t:.4f},{i:.4f},{v:.3f}" for t, i, v in rows]
    return "\n".join(lines) + "\n"
