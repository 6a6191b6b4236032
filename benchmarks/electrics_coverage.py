"""How often the intervals of meter, winding, motor and rolling hold the truth.

Prints a markdown table; 95 % is promised. Run with ``nice``: it takes about two minutes.
"""

import math

import numpy as np

from outshop.bench.electrics import winding
from outshop.bench.electrics.current import measure as measure_current
from outshop.bench.electrics.log import CurrentLog
from outshop.bench.electrics.motor import measure as measure_motor
from outshop.bench.electrics.motor_points import points
from outshop.bench.gauges import rolling
from outshop.errors import InputError
from outshop.estimate import Estimate

RNG = np.random.default_rng(20261125)


def count(found, truths, tally):
    """Add hits and misses to the tally."""
    for key, truth in truths.items():
        reading = found[key]
        hits, total, none = tally.get(key, (0, 0, 0))
        if isinstance(reading, Estimate):
            tally[key] = (hits + (reading.low <= truth <= reading.high), total + 1, none)
        else:
            tally[key] = (hits, total, none + 1)


def rows(title, tally):
    """Print rows of one study."""
    for key, (hits, total, none) in tally.items():
        share = f"{100 * hits / total:.1f} %" if total else "-"
        print(f"| {title} | {key.replace('_', ' ')} | {share} | {total} | {none} |")


def current_log(rate, noise, ripple):
    """Build a log whose switch falls anywhere between two readings."""
    late = RNG.uniform(0, 1 / rate)
    t = np.arange(int(9 * rate)) / rate
    since = t - 1 - late
    on = since >= 0
    level = np.where(on, 0.35 + 0.85 * np.exp(-np.maximum(since, 0) / 0.08), 0.0)
    level += np.where(on, 0.35 * ripple * np.sin(2 * np.pi * 137.3 * since), 0)
    return CurrentLog(t, level + noise * RNG.standard_normal(t.size))


def currents():
    """Study running current, starting peak and ripple."""
    for rate, noise, ripple in (
        (10, 0.01, 0),
        (100, 0.01, 0),
        (1000, 0.01, 0.05),
        (1000, 0.05, 0.2),
    ):
        tally = {}
        for _ in range(400):
            bench = measure_current(current_log(rate, noise, ripple))
            truths = {"running_current": 0.35, "starting_peak": 1.2}
            if ripple:
                truths["ripple_frequency"] = 137.3
            count({k: getattr(bench, k) for k in truths}, truths, tally)
        rows(f"log, {rate} readings/s, noise {1000 * noise:.0f} mA", tally)


def windings():
    """Coils of delta and star, healthy and with one coil short of turns."""
    for connection, segments in (
        ("delta", 3),
        ("delta", 5),
        ("delta", 7),
        ("star", 3),
        ("star", 5),
    ):
        tally = {}
        for _ in range(1500):
            coils = 8 * (1 + 0.03 * RNG.standard_normal(segments))
            coils[RNG.integers(segments)] *= RNG.uniform(0.7, 1)
            clean = winding.expected_readings(coils, connection)
            gain = 1 + 0.01 / 1.96 * RNG.standard_normal()
            shown = clean * gain + RNG.uniform(-0.01, 0.01, segments)
            try:
                bench = winding.measure(shown, connection=connection, step=0.01)
            except InputError:
                continue
            k = int(RNG.integers(segments))
            count({"one coil": bench.coils[k]}, {"one coil": coils[k]}, tally)
        rows(f"winding, {connection}, {segments} segments", tally)


def motors():
    """Motor constants from few and many points."""
    resistance, constant, light = 10.0, 0.01, 0.12
    for running, held, loaded, noise, gain in (
        (1, 1, 0, 0.01, 0), (3, 2, 0, 0.01, 0), (4, 3, 0, 0.03, 0), (6, 4, 3, 0.005, 0.005),
    ):  # fmt: skip
        tally = {}
        for _ in range(1500):
            volts = np.concatenate((np.linspace(12, 6, running), np.full(loaded, 12.0)))
            amps = np.concatenate((np.full(running, light), light * (2 + np.arange(loaded))))
            speed = (volts - amps * resistance) / constant / (2 * math.pi)
            stall = np.linspace(6, 4, held)
            exact = (
                np.concatenate((volts, stall)),
                np.concatenate((amps, stall / resistance)),
                np.concatenate((speed, np.zeros(held))),
            )
            gains = 1 + gain / 1.96 * RNG.standard_normal(3)
            gains[2] = 1
            shown = [
                x * g * (1 + noise * RNG.standard_normal(x.size))
                for x, g in zip(exact, gains, strict=True)
            ]
            bench = measure_motor(points(*shown))
            at = bench.reference_v
            truths = {
                "resistance": resistance, "constant": constant,
                "friction_torque": 1e3 * constant * light,
                "no_load_speed": (at - light * resistance) / constant / (2 * math.pi),
                "stall_current": at / resistance,
            }  # fmt: skip
            count({k: getattr(bench, k) for k in truths}, truths, tally)
        rows(f"motor, {running}+{loaded}+{held} points, {100 * noise:g} % each", tally)


def series_motors():
    """Field-coil constants from four running and two held points."""
    tally = {}
    for _ in range(300):
        amps = np.array([0.3, 0.5, 0.8, 1.1, 0.75, 1.5])
        volts = np.array([12, 12, 12, 12, 6, 12.0])
        flux = 0.03 * amps / (1 + 0.8 * amps)
        speed = (volts - 8 * amps) / flux / (2 * math.pi)
        speed[4:] = 0
        shown = [x * (1 + 0.01 * RNG.standard_normal(x.size)) for x in (volts, amps, speed)]
        try:
            bench = measure_motor(points(*shown), kind="field-coil")
        except InputError:
            continue
        truths = {"resistance": 8.0}
        count({"resistance": bench.resistance}, truths, tally)
    rows("field-coil motor, 4+2 points, 1 % each", tally)


def rollings():
    """Tilting board."""
    for tries in (3, 5, 10):
        tally = {}
        for _ in range(3000):
            shown = np.round((1.2 + 0.15 * RNG.standard_normal(tries)) / 0.1) * 0.1
            found = rolling.from_tilt(np.maximum(shown, 0.05), resolution_deg=0.1)
            truth = 1000 * math.tan(math.radians(1.2))
            count({"rolling": found}, {"rolling": truth}, tally)
        rows(f"tilting board, {tries} tries", tally)


if __name__ == "__main__":
    print("| simulated | quantity | interval holds the truth | cases | not measurable |")
    print("|---|---|---|---|---|")
    currents()
    windings()
    motors()
    series_motors()
    rollings()
