"""What happens when: starts, steady running, coasting, stops."""

from collections.abc import Mapping
from itertools import pairwise
from typing import Any

from outshop.bench.sound.motor import Heard
from outshop.bench.sound.runs import Run
from outshop.estimate import Estimate, NotMeasurable, Reading

LEAST_PHASE_S = 0.15  # shorter phases cannot be told from the smoothing; the 0.15 s asked for
TIME_ERROR_S = 0.15  # of a start by sound at 15 dB signal to noise; measured on simulations
SHORT_STOP_S = 4.0  # a stop for turning back is short; ours


def list_events(
    runs: tuple[Run, ...], heard: tuple[Heard, ...], duration_s: float
) -> tuple[Mapping[str, Any], ...]:
    """List the phases of a recording in order.

    Parameters
    ----------
    runs : tuple of Run
        Still and running stretches.
    heard : tuple of Heard
        What the motor did in them.
    duration_s : float
        Length of the recording.

    Returns
    -------
    tuple of mapping
        ``start_s``, ``end_s``, ``state``: still, starting, steady, coasting, or turning back (a
        short stop between two runs, which may be a change of direction).
    """
    by_start = {h.stretch.run.start_s: h for h in heard if h.best is not None}
    out: list[Mapping[str, Any]] = []
    for i, run in enumerate(runs):
        if run.state == "still":
            between = 0 < i < len(runs) - 1 and run.duration_s < SHORT_STOP_S
            out.append(_phase(run.start_s, run.end_s, "turning back" if between else "still"))
            continue
        begin, end = run.start_s, run.end_s
        found = by_start.get(run.start_s)
        if found is not None:
            begin, end = found.steady_s
        if begin - run.start_s > LEAST_PHASE_S and run.start_s > 0:
            out.append(_phase(run.start_s, begin, "starting"))
        else:
            begin = run.start_s
        coasts = run.end_s - end > LEAST_PHASE_S and run.end_s < duration_s
        out.append(_phase(begin, end if coasts else run.end_s, "steady"))
        if coasts:
            out.append(_phase(end, run.end_s, "coasting"))
    return tuple(out)


def start_time(events: tuple[Mapping[str, Any], ...]) -> Reading:
    """Give the time from the first sound to steady speed of the first start."""
    for event, following in pairwise(events):
        if event["state"] == "starting" and following["state"] == "steady":
            value = event["end_s"] - event["start_s"]
            half = min(2 * TIME_ERROR_S, value)
            return Estimate.plus_minus(value, half, "s", method="first sound to steady speed")
    return NotMeasurable("no start with a rise of the speed was heard", "s")


def _phase(start_s: float, end_s: float, state: str) -> Mapping[str, Any]:
    return {"start_s": round(start_s, 3), "end_s": round(end_s, 3), "state": state}
