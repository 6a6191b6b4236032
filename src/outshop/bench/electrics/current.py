"""From a current log to phases, currents, ripple and what they mean."""

from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np

from outshop.bench.electrics import levels
from outshop.bench.electrics.log import Bins, CurrentLog, alternates, into_bins, read_log
from outshop.bench.electrics.phases import Phase, find_phases
from outshop.bench.electrics.ripple import motor_speed, ripple_frequency
from outshop.errors import InputError
from outshop.estimate import Estimate, NotMeasurable, Reading
from outshop.railway.supply import Supply, mean_over_rms

POLES = range(2, 14)


@dataclass(frozen=True, slots=True)
class Run:
    """One stretch of steady running in one direction."""

    start_s: float
    end_s: float
    direction: str
    current: Reading


@dataclass(frozen=True, slots=True)
class CurrentBench:
    """What a current log tells.

    Parameters
    ----------
    phases : tuple of Phase
        In order; gaps in the log lie between them.
    running_current, starting_peak, stalled_current, slip_current : Reading
        A; running over both directions together, slipping and stalled left out.
    runs : tuple of Run
        Steady running, stretch by stretch; the direction is ``forward`` for positive current,
        ``backward`` for negative, else ``unsigned``.
    drift : Reading
        Change over the longest run, percent.
    ripple_frequency, motor_speed, dip_rate, dip_frequency : Reading
        1/s.
    voltage : Reading
        Mean at the motor while running, corrected for the kind of supply, V.
    supply : str
        What was assumed of the supply, and how the meter's voltage was corrected.
    sample_rate_hz : float
        Readings a second.
    rows : int
        Readings in the log.
    warnings : tuple of str
        What a careful reader should know.
    """

    phases: tuple[Phase, ...]
    running_current: Reading
    starting_peak: Reading
    stalled_current: Reading
    slip_current: Reading
    runs: tuple[Run, ...]
    drift: Reading
    ripple_frequency: Reading
    motor_speed: Reading
    dip_rate: Reading
    dip_frequency: Reading
    voltage: Reading
    supply: str
    sample_rate_hz: float
    rows: int
    warnings: tuple[str, ...]

    def as_json(self) -> dict[str, Any]:
        """Give the contract's JSON shape."""
        readings = {
            name: getattr(self, name).as_json()
            for name in (
                "running_current", "starting_peak", "stalled_current", "slip_current", "drift",
                "ripple_frequency", "motor_speed", "dip_rate", "dip_frequency", "voltage",
            )
        }  # fmt: skip
        return {
            "phases": [
                {"start_s": p.start_s, "end_s": p.end_s, "state": p.state} for p in self.phases
            ],
            **readings,
            "runs": [
                {
                    "start_s": r.start_s,
                    "end_s": r.end_s,
                    "direction": r.direction,
                    "current": r.current.as_json(),
                }
                for r in self.runs
            ],
            "supply": self.supply,
            "sample_rate_hz": self.sample_rate_hz,
            "rows": self.rows,
            "warnings": list(self.warnings),
        }


def measure_file(path: Path, **settings: Any) -> CurrentBench:
    """Read a log and measure it; settings as in :func:`measure`."""
    return measure(read_log(path), **settings)


def measure(
    log: CurrentLog,
    *,
    supply: Supply | str | None = None,
    duty: float | None = None,
    poles: int | None = None,
    true_rms: bool = False,
) -> CurrentBench:
    """Measure a current log.

    Parameters
    ----------
    log : CurrentLog
        See :func:`outshop.bench.electrics.log.read_log`.
    supply : Supply, optional
        Kind of supply; direct current is assumed, or alternating where the log shows it.
    duty : float, optional
        On-time over period of a pulse-width supply.
    poles : int, optional
        Poles of the armature, for the motor speed from the ripple.
    true_rms : bool
        The voltage column holds rms values, which NEM 630 turns into the mean.

    Raises
    ------
    InputError
        Unknown supply, or poles outside 2 to 13.
    """
    if poles is not None and poles not in POLES:
        message = f"an armature has {POLES.start} to {POLES.stop - 1} poles; got {poles}"
        raise InputError(message)
    alternating = alternates(log)
    kind = _supply(supply, alternating=alternating)
    bins = into_bins(log, alternating=alternating)
    phases = find_phases(bins)
    step = levels.resolution(log.current_a)
    running = levels.settled_bins(phases)
    level = levels.without_dips(bins.level_a[running])
    usual, slipping = levels.split_slip(level, bins.step_s)
    ripple: Reading = NotMeasurable("the waves of alternating current hide the ripple", "1/s")
    if not alternating:
        ripple = ripple_frequency(log, bins, phases)
    dip_rate, dip_frequency = levels.dips(bins, phases)
    voltage, said = _voltage(bins, running, kind, duty, true_rms=true_rms)
    return CurrentBench(
        tuple(phases),
        levels.mean_level(usual, step, "running"),
        levels.starting_peak(log, bins, phases),
        levels.mean_level(bins.level_a[levels.settled_bins(phases, "stalled")], step, "stalled"),
        levels.mean_level(slipping, step, "slipping (a sustained higher level)"),
        tuple(_runs(bins, phases, step)),
        levels.drift(bins, phases),
        ripple,
        _speed(ripple, poles),
        dip_rate,
        dip_frequency,
        voltage,
        said,
        1 / log.step_s,
        int(log.time_s.size),
        (*log.warnings, *_warnings(bins, phases, kind, alternating=alternating)),
    )


def _supply(given: Supply | str | None, *, alternating: bool) -> Supply:
    if given is None:
        return Supply.AC if alternating else Supply.DC
    try:
        return Supply(given)
    except ValueError as problem:
        names = ", ".join(s.value for s in Supply)
        message = f"{given!r} is no kind of supply: use one of {names}"
        raise InputError(message) from problem


def _speed(ripple: Reading, poles: int | None) -> Reading:
    if poles is None:
        return NotMeasurable("the number of armature poles is not given", "1/s")
    return motor_speed(ripple, poles)


def _runs(bins: Bins, phases: list[Phase], step: float) -> list[Run]:
    signed = bool(np.any(bins.signed_a < -0.2 * np.max(np.abs(bins.signed_a))))
    runs = []
    for place, phase in enumerate(phases):
        if phase.state != "running":
            continue
        before = [p for p in phases[max(0, place - 1) : place] if p.state == "starting"]
        level = bins.level_a[levels.settled_bins([*before, phase])]
        usual, _ = levels.split_slip(levels.without_dips(level), bins.step_s)
        mean = float(np.mean(bins.signed_a[phase.first : phase.last]))
        direction = ("forward" if mean > 0 else "backward") if signed else "unsigned"
        runs.append(
            Run(phase.start_s, phase.end_s, direction, levels.mean_level(usual, step, "running"))
        )
    return runs


def _voltage(
    bins: Bins, running: np.ndarray, supply: Supply, duty: float | None, *, true_rms: bool
) -> tuple[Reading, str]:
    factor = mean_over_rms(supply, duty) if true_rms or supply is Supply.PWM else 1.0
    if supply is Supply.AC:
        said = "alternating current: values are rms, NEM 640"
    elif factor == 1.0:
        said = f"{supply.value}: the meter's mean is taken as it is"
    else:
        said = f"{supply.value}: rms voltage x {factor:.3g} gives the mean, NEM 630"
    if bins.voltage_v is None:
        return NotMeasurable("the log has no voltage column", "V"), said
    reading = levels.mean_level(bins.voltage_v[running], 0.0, "running", "V")
    return (reading * factor if isinstance(reading, Estimate) else reading), said


def _warnings(bins: Bins, phases: list[Phase], supply: Supply, *, alternating: bool) -> list[str]:
    found = []
    gaps = int(np.count_nonzero(bins.gap_before))
    if gaps:
        found.append(f"readings are missing at {gaps} places: phases end there")
    if supply is Supply.PWM:
        found.append("pulse-width supply: the pulses' shape may falsify the meter's current")
    if alternating and supply is not Supply.AC:
        found.append("the current alternates, though another supply is given")
    if all(p.state == "off" for p in phases):
        found.append("no current above the meter's noise: is the meter in the circuit?")
    seen = {p.state for p in phases}
    if bins.step_s < 0.1 and "running" in seen and not seen & {"starting", "stalled"}:
        found.append("no peak at the start: a held motor would look the same; was it turning?")
    stalled = sum(p.end_s - p.start_s for p in phases if p.state == "stalled")
    if stalled > 4:
        found.append(
            f"stalled for {stalled:.0f} s: hold a motor 1 to 2 s only, its winding heats fast"
        )
    return found
