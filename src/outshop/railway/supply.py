"""Supply voltages and what a meter shows of them: NEM 630 (1982) and NEM 640 (1988)."""

import math
from dataclasses import dataclass
from enum import StrEnum

from outshop.errors import InputError
from outshop.railway.tables import rows

FULL_WAVE_MEAN = 0.90  # mean over rms, NEM 630 table 2; 2 sqrt(2) / pi = 0.9003
HALF_WAVE_MEAN = 0.64  # mean over rms, NEM 630 table 2; 2 / pi = 0.6366
NEM640_RMS_V = 16.0  # NEM 640 (1988)
NEM640_PULSE_V = 24.0  # reversing pulse, NEM 640 (1988)
NEM640_PULSE_S = (0.1, 3.0)  # its shortest and longest time, NEM 640 (1988)
NEM640_MOST_HZ = 60.0  # NEM 640 (1988)


class Supply(StrEnum):
    """What feeds the track."""

    DC = "dc"
    FULL_WAVE = "full-wave"
    HALF_WAVE = "half-wave"
    AC = "ac"
    PWM = "pwm"


@dataclass(frozen=True, slots=True)
class Nominal:
    """Nominal voltage at the track: ``kind`` is ``arithmetic mean`` or ``rms``."""

    voltage_v: float
    kind: str
    source: str


def nominal_voltage(system: str, gauge_mm: float) -> Nominal:
    """Give the nominal voltage of a system (``dc`` or ``ac``) on a gauge (mm).

    Raises
    ------
    InputError
        No row for it.
    """
    for row in rows("nominal_voltages"):
        low, below = float(row["gauge_from_mm"]), float(row["gauge_below_mm"])
        if row["system"] == system and low <= gauge_mm < below:
            source = f"{row['source']} ({row['edition']})"
            return Nominal(float(row["voltage_v"]), row["kind"], source)
    message = f"no nominal voltage is published for {system!r} on {gauge_mm:g} mm: use dc or ac"
    raise InputError(message)


def mean_over_rms(supply: Supply, duty: float | None = None) -> float:
    """Give the factor from an rms reading to the arithmetic mean that drives a DC motor.

    Parameters
    ----------
    supply : Supply
        Kind of supply; for AC the mean is zero, and rms is what counts: factor 1.
    duty : float, optional
        On-time over period of a pulse-width supply, above 0 and up to 1; an ideal on-off
        wave has mean = duty x peak and rms = sqrt(duty) x peak.

    Raises
    ------
    InputError
        A pulse-width supply without a usable duty.
    """
    if supply is Supply.PWM:
        if duty is None or not 0 < duty <= 1:
            message = f"a pulse-width supply needs its duty between 0 and 1; got {duty}"
            raise InputError(message)
        return math.sqrt(duty)
    return {Supply.FULL_WAVE: FULL_WAVE_MEAN, Supply.HALF_WAVE: HALF_WAVE_MEAN}.get(supply, 1.0)
