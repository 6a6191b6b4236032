"""A current log as arrays, and the coarse bins in which its phases are sought."""

from dataclasses import dataclass
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from outshop.bench.electrics.clock import tidy_times
from outshop.bench.electrics.table import read_table
from outshop.errors import InputError, TableError

Array = NDArray[np.float64]
BIN_S = 0.02  # one period of 50 Hz: hum and most commutation ripple average out
GAP_FACTOR = 5  # a step of time this many times the usual one is a gap
FEWEST_ROWS = 5  # our own floor: fewer readings show no phase
ENOUGH_ROWS = 1 << 20  # to see whether a log alternates
ALTERNATIONS_PER_S = 20.0  # sign changes; nobody turns a controller that often


@dataclass(frozen=True, slots=True)
class CurrentLog:
    """Current over time.

    Parameters
    ----------
    time_s : array, shape (n,)
        Strictly increasing, from 0, s.
    current_a : array, shape (n,)
        Signed if the logger shows the sign, A.
    voltage_v : array, shape (n,), or None
        V.
    warnings : tuple of str
        What was odd about the file.

    Raises
    ------
    InputError
        Lengths differ, too few rows, or time does not increase.
    """

    time_s: Array
    current_a: NDArray[np.floating]
    voltage_v: NDArray[np.floating] | None = None
    warnings: tuple[str, ...] = ()

    def __post_init__(self) -> None:
        """Check once, at the door."""
        if self.time_s.size < FEWEST_ROWS:
            message = f"a current log needs {FEWEST_ROWS} readings or more; got {self.time_s.size}"
            raise InputError(message)
        if self.time_s.size != self.current_a.size:
            message = f"{self.time_s.size} times but {self.current_a.size} currents"
            raise InputError(message)
        if not np.all(np.diff(self.time_s) > 0):
            message = "the times of a log must increase"
            raise InputError(message)

    @property
    def step_s(self) -> float:
        """Usual time between two readings, s."""
        return float(np.median(np.diff(self.time_s[:1_000_001])))


@dataclass(frozen=True, slots=True)
class Bins:
    """The log averaged over bins of about ``BIN_S``.

    Parameters
    ----------
    start_s, end_s : array, shape (m,)
        s.
    signed_a : array, shape (m,)
        Mean current, A.
    level_a : array, shape (m,)
        Size of the mean current, or the rms value of an alternating one, A.
    voltage_v : array, shape (m,), or None
        Size of the mean voltage (rms when alternating), V.
    gap_before : array of bool, shape (m,)
        Readings are missing just before the bin.
    first, last : array of int, shape (m,)
        Rows of the log, last excluded.
    """

    start_s: Array
    end_s: Array
    signed_a: Array
    level_a: Array
    voltage_v: Array | None
    gap_before: NDArray[np.bool_]
    first: NDArray[np.intp]
    last: NDArray[np.intp]

    @property
    def step_s(self) -> float:
        """Usual length of a bin, s."""
        return float(np.median(self.end_s - self.start_s))


def read_log(path: Path) -> CurrentLog:
    """Read a logger's CSV: time and current, perhaps voltage.

    Raises
    ------
    TableError
        See :func:`outshop.bench.electrics.table.read_table`.
    """
    table = read_table(path, ("time", "current"), ("voltage",))
    time = table.columns["time"]
    if time.size < FEWEST_ROWS:
        message = f"a current log needs {FEWEST_ROWS} readings or more; got {time.size}"
        raise TableError(message)
    time, order, warnings = tidy_times(time.astype(np.float64, copy=False))
    current, voltage = table.columns["current"], table.columns.get("voltage")
    if order is not None:
        current = current[order]
        voltage = None if voltage is None else voltage[order]
    return CurrentLog(time, current, voltage, (*table.warnings, *warnings))


def alternates(log: CurrentLog) -> bool:
    """Tell whether the current changes sign too often for a hand on the knob, and smoothly.

    Noise about zero changes sign too, but neighbouring readings of it do not hang together.
    """
    current = log.current_a[:ENOUGH_ROWS].astype(np.float64)
    large = current[np.abs(current) > 0.2 * float(np.max(np.abs(current)))]
    if large.size < FEWEST_ROWS:
        return False
    changes = int(np.count_nonzero(np.diff(np.sign(large))))
    related = float(large[:-1] @ large[1:]) > 0.3 * float(large @ large)
    return related and changes > ALTERNATIONS_PER_S * max(large.size * log.step_s, 0.1)


def into_bins(log: CurrentLog, *, alternating: bool = False) -> Bins:
    """Average the log over bins of ``BIN_S``, or take each reading where they are farther apart."""
    step, n = log.step_s, log.time_s.size
    size = max(1, round(BIN_S / step))
    first = np.arange(0, n, size)
    last = np.append(first[1:], n)
    counts = last - first
    signed = np.add.reduceat(log.current_a, first, dtype=np.float64) / counts
    gaps = np.flatnonzero(np.diff(log.time_s) > GAP_FACTOR * step) + 1
    gap_before = np.zeros(first.size, dtype=bool)
    gap_before[np.minimum(np.searchsorted(first, gaps), first.size - 1)] = True
    if alternating:
        level = signed = np.sqrt(
            np.add.reduceat(np.square(log.current_a, dtype=np.float64), first) / counts
        )
    else:
        level = np.abs(signed)
    voltage = None
    if log.voltage_v is not None:
        squares = np.add.reduceat(np.square(log.voltage_v, dtype=np.float64), first) / counts
        means = np.abs(np.add.reduceat(log.voltage_v, first, dtype=np.float64) / counts)
        voltage = np.sqrt(squares) if alternating else means
    return Bins(
        log.time_s[first],
        log.time_s[last - 1] + step,
        signed,
        level,
        voltage,
        gap_before,
        first,
        last,
    )
