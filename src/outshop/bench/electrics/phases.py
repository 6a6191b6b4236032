"""Cut a current log into off, starting, running and stalled.

A stalled motor draws nearly what it draws at the instant of switching on, and draws it
steadily; a running one draws far less; a starting one comes down from the first to the second.
"""

from dataclasses import dataclass
from itertools import pairwise
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from outshop.bench.electrics.log import Bins

State = Literal["off", "starting", "running", "stalled"]
Array = NDArray[np.float64]

# our own settings, tried on simulated motors with stall currents of 2 to 10 times running
ENOUGH_FOR_NOISE = 20  # bins; in fewer the switch itself would count as noise
OFF_SHARE = 0.5  # of the low running level
DROPOUT_S = 0.12  # a shorter loss of current is dirt, not the switch
STALL_S = 0.4  # a high current that holds this long is no start
LONGEST_START_S = 10.0
STALL_RATIO = 1.7  # least stall over running level
STEADY = 0.25  # most relative change of a stalled plateau (copper warms and draws less)


@dataclass(frozen=True, slots=True)
class Phase:
    """A stretch of the log in one state, with its bins (``last`` excluded)."""

    start_s: float
    end_s: float
    state: State
    first: int
    last: int


def find_phases(bins: Bins) -> list[Phase]:
    """Cut the log into phases that cover it, gaps in the log excepted."""
    on = _on(bins)
    states = np.where(on, "running", "off").astype("<U8")
    stretches = _stretches(bins, on)
    usual = _running_level(bins, stretches)
    for first, last in stretches:
        states[first:last] = _states_of(bins, first, last, usual, _top(bins, stretches))
    return _join(bins, states)


def _on(bins: Bins) -> NDArray[np.bool_]:
    """Tell bins with current from those without, bridging dropouts."""
    level = bins.level_a
    high = float(np.quantile(level, 0.995))
    noise = 0.0
    if level.size >= ENOUGH_FOR_NOISE:
        # 0.954: the median size of the difference of two normal draws
        noise = float(np.median(np.abs(np.diff(level)))) / 0.954
    if high <= 0 or (float(np.median(level)) < 3 * noise and high < 6 * noise):
        return np.zeros(level.size, dtype=bool)
    clear = (
        level > 0.06 * high
    )  # below a sixteenth of the top nothing runs: stall is <= 10 x running
    low_running = float(np.quantile(level[clear], 0.2))
    threshold = max(OFF_SHARE * low_running, min(4 * noise, 0.7 * low_running))
    on: NDArray[np.bool_] = level > threshold
    on = _bridge(on, bins, value=False, shorter_than_s=DROPOUT_S)
    return _bridge(on, bins, value=True, shorter_than_s=3 * bins.step_s if bins.step_s < 0.1 else 0)


def _bridge(
    on: NDArray[np.bool_], bins: Bins, *, value: bool, shorter_than_s: float
) -> NDArray[np.bool_]:
    """Flip inner runs of ``value`` that are too short."""
    on = on.copy()
    for first, last in _runs(on == value):
        inner = first > 0 and last < on.size
        if inner and bins.end_s[last - 1] - bins.start_s[first] < shorter_than_s:
            on[first:last] = not value
    return on


def _runs(mask: NDArray[np.bool_]) -> list[tuple[int, int]]:
    edges = np.flatnonzero(np.diff(np.concatenate(([0], mask.astype(np.int8), [0]))))
    return [(int(a), int(b)) for a, b in zip(edges[::2], edges[1::2], strict=True)]


def _direction(bins: Bins) -> Array:
    """Give the sign of the current, held through dropouts, where noise has any sign."""
    clear = bins.level_a > 0.1 * float(bins.level_a.max(initial=0.0))
    last = np.maximum.accumulate(np.where(clear, np.arange(clear.size), -1))
    sign = np.sign(bins.signed_a)
    return np.asarray(np.where(last >= 0, sign[np.maximum(last, 0)], 0.0))


def _stretches(bins: Bins, on: NDArray[np.bool_]) -> list[tuple[int, int]]:
    """Give on-stretches, cut at gaps and where the current reverses."""
    sign = _direction(bins)
    found = []
    for first, last in _runs(on):
        turns = first + 1 + np.flatnonzero(sign[first + 1 : last] * sign[first : last - 1] < 0)
        gaps = first + np.flatnonzero(bins.gap_before[first:last])
        cuts = sorted({first, *map(int, turns), *(int(g) for g in gaps if g > first), last})
        found += list(pairwise(cuts))
    return found


def _running_level(bins: Bins, stretches: list[tuple[int, int]]) -> float:
    """Give the low settled level over all stretches, starts left out."""
    skip = max(1, round(0.2 / bins.step_s))
    parts = [bins.level_a[a + skip : b] for a, b in stretches if b - a > skip + 1]
    settled = np.concatenate(parts) if parts else np.empty(0)
    return float(np.quantile(settled, 0.15)) if settled.size else 0.0


def _top(bins: Bins, stretches: list[tuple[int, int]]) -> float:
    """Give the level of start and stall: median top of the stretches, or the overall top."""
    tops = [float(np.max(bins.level_a[a:b])) for a, b in stretches]
    return max(float(np.median(tops)), float(np.quantile(bins.level_a, 0.98))) if tops else 0.0


def _states_of(bins: Bins, first: int, last: int, usual: float, top: float) -> NDArray[np.str_]:
    level = bins.level_a[first:last]
    states = np.full(level.size, "running", dtype="<U8")
    if top >= STALL_RATIO * usual > 0:
        for a, b in _runs(level > usual + 0.5 * (top - usual)):
            if _is_plateau(bins, level, first, a, b):
                states[a:b] = "stalled"
    for a, b in _runs(states == "running"):
        after_stall = a > 0
        end = _start_ends(bins, level, first, a, b)
        if end > a and (after_stall or a == 0):
            states[a:end] = "starting"
    return states


def _is_plateau(bins: Bins, level: Array, offset: int, a: int, b: int) -> bool:
    """Whether a high run holds long enough and steadily enough to be a stall."""
    length = bins.end_s[offset + b - 1] - bins.start_s[offset + a]
    if length < STALL_S or b - a < 2:
        return False
    part = level[a:b]
    edge = max(1, part.size // 5)
    middle = part[edge:-edge] if part.size > 2 * edge else part
    third = max(1, middle.size // 3)
    early, late = float(np.median(middle[:third])), float(np.median(middle[-third:]))
    return bool(abs(early - late) <= STEADY * max(early, late))


def _start_ends(bins: Bins, level: Array, offset: int, a: int, b: int) -> int:
    """Give the bin at which a start has settled; ``a`` if there is no start to see."""
    since = bins.start_s[offset + a : offset + b] - bins.start_s[offset + a]
    window = (since >= min(0.3, float(since[-1]) / 2)) & (since <= LONGEST_START_S)
    part = level[a:b]
    late = part[window]
    settled = float(np.median(late[late.size // 3 :])) if late.size else float(part[-1])
    noise = float(np.median(np.abs(late - np.median(late)))) * 1.4826 if late.size > 4 else 0.0
    early = part[since <= LONGEST_START_S]
    peak_at = int(np.argmax(early[: max(1, early.size // 2 + 1)]))
    peak = float(early[peak_at])
    slack = max(3 * noise, 0.05 * (peak - settled), 0.02 * settled)
    if peak < settled + 2 * slack or peak < 1.15 * settled:
        return a
    for place in range(peak_at + 1, early.size):
        if early[place] <= settled + slack:
            return a + place
    return int(a + early.size)


def _join(bins: Bins, states: NDArray[np.str_]) -> list[Phase]:
    """Turn states of bins into phases; a new one also begins at a gap and at a reversal."""
    sign = np.where(states == "off", 0, _direction(bins))
    new = np.ones(states.size, dtype=bool)
    new[1:] = (states[1:] != states[:-1]) | bins.gap_before[1:] | (sign[1:] * sign[:-1] < 0)
    starts = np.flatnonzero(new)
    ends = np.append(starts[1:], states.size)
    phases = []
    for first, last in zip(starts, ends, strict=True):
        follows = last < states.size and not bins.gap_before[last]
        end = bins.start_s[last] if follows else bins.end_s[last - 1]
        state: State = str(states[first])  # type: ignore[assignment]
        phases.append(Phase(float(bins.start_s[first]), float(end), state, int(first), int(last)))
    return phases
