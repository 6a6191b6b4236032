"""Time stamps of loggers: clock times and dates become seconds, coarse stamps are spread."""

import re
from datetime import datetime

import numpy as np
from numpy.typing import NDArray

from outshop.errors import TableError

Array = NDArray[np.float64]

_CLOCK = re.compile(r"(?:(\d+):)?(\d{1,2}):(\d{1,2}(?:[.,]\d+)?)")
MOST_BACKWARD_SHARE = 0.01  # more is another order of columns or several logs in one file


def is_clock(cell: str) -> bool:
    """Whether a cell holds a clock time or a date rather than a plain number."""
    return ":" in cell or bool(re.match(r"\d{4}-\d\d-\d\d", cell.strip()))


def clock_seconds(cell: str) -> float:
    """Turn ``12:34:56.7``, ``34:56.7`` or an ISO date and time into seconds.

    Raises
    ------
    TableError
        It is neither.
    """
    text = cell.strip().strip('"')
    if match := _CLOCK.fullmatch(text):
        hours, minutes, seconds = match[1] or "0", match[2], match[3].replace(",", ".")
        return 3600 * int(hours) + 60 * int(minutes) + float(seconds)
    try:
        moment = datetime.fromisoformat(text.replace(",", "."))
    except ValueError as problem:
        message = f"{cell!r} is no time: use seconds, 12:34:56.7 or 2024-05-01T12:34:56.7"
        raise TableError(message) from problem
    # difference to a fixed day keeps summer time out of it
    return (moment.replace(tzinfo=None) - datetime(2000, 1, 1)).total_seconds()  # noqa: DTZ001


def tidy_times(time: Array) -> tuple[Array, NDArray[np.intp] | None, list[str]]:
    """Make time stamps increase strictly.

    Repeated stamps (a clock that shows whole seconds) are spread evenly up to the next
    one; a few backward steps are sorted; midnight is bridged.

    Parameters
    ----------
    time : array, shape (n,)
        Stamps in s, n >= 2.

    Returns
    -------
    time : array, shape (n,)
        Increasing, from 0.
    order : array of int, shape (n,), or None
        How to sort the other columns, if sorting was needed.
    warnings : list of str
        What was done.

    Raises
    ------
    TableError
        Time runs backward too often, or never moves.
    """
    warnings: list[str] = []
    step = np.diff(time)
    midnight = np.flatnonzero(step < -80_000)  # a clock going from 23:59 to 0:00 drops 86 400 s
    if midnight.size and np.all(np.abs(time) <= 86_400):
        time = time.copy()
        for place in midnight:
            time[place + 1 :] += 86_400
        step = np.diff(time)
    order: NDArray[np.intp] | None = None
    backward = int(np.count_nonzero(step < 0))
    if backward > max(2, MOST_BACKWARD_SHARE * time.size):
        message = (
            f"time runs backward {backward} times: is the time column right, "
            "or are several logs in one file?"
        )
        raise TableError(message)
    if backward:
        order = np.argsort(time, kind="stable")
        time = time[order]
        step = np.diff(time)
        warnings.append(f"{backward} rows were out of order and have been sorted")
    if time[-1] <= time[0]:
        message = f"all {time.size} rows carry the same time {time[0]:g} s: the log needs time"
        raise TableError(message)
    if np.any(step <= 0):
        time, repeats = _spread(time)
        warnings.append(f"{repeats} rows repeat the time of the row before: spread evenly")
    return time - time[0], order, warnings


def _spread(time: Array) -> tuple[Array, int]:
    """Spread runs of equal stamps up to the next stamp."""
    starts = np.flatnonzero(np.diff(time, prepend=-np.inf) > 0)
    lengths = np.diff(starts, append=time.size)
    stamps = time[starts]
    steps = np.diff(stamps, append=np.nan)
    steps[-1] = np.median(steps[:-1]) if steps.size > 1 else 1.0
    within = np.arange(time.size) - np.repeat(starts, lengths)
    spread = np.repeat(stamps, lengths) + within * np.repeat(steps / lengths, lengths)
    return spread, int(time.size - starts.size)
