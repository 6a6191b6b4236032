"""The motor's speed over a whole recording: every run tracked, weighed and put together."""

from dataclasses import dataclass

import numpy as np

from outshop.bench.sound.drive import Drive
from outshop.bench.sound.hum import Tone, find_hum, without_tones
from outshop.bench.sound.result import AMBIGUOUS, CONFIDENT, NOT_FOUND
from outshop.bench.sound.speed import (
    HOP_S,
    NEAR_SPAN,
    Candidate,
    Sight,
    speed_range,
    track,
    track_near,
    track_swinging,
)
from outshop.bench.sound.status import ranked, restlessness, verdict
from outshop.bench.sound.stretch import Stretch
from outshop.bench.sound.weighting import FloatArray
from outshop.estimate import Estimate, NotMeasurable, Reading

UNIT = "1/s"
SAME = 0.02  # two readings closer than this are one; the 2 % asked for
# interval half width as a share: 95 % point of errors over simulations (docs/methods/sound.md)
ERROR_SHARE, ERROR_PER_SWING, ERROR_PER_DRIFT = 0.0015, 0.05, 0.06
# a speed that changes faster than 1 % in a hop is followed less closely; ours, from simulations
ERROR_PER_HASTE, EASY = 0.5, 0.01
MOST_ALTERNATIVES = 4
NO_SECOND_LOOK = 0.97  # so likely that looking again would only cost time; ours
SWING_LOOKS, WIDE = 2, 0.2  # readings near which a swing is looked for, and how far apart; ours
HOPELESS = 0.02  # speech, music and hum stay below; ours, from the study of other sounds
UNEASY = 0.02  # swing within half a second that a path may have followed badly; ours
SECOND_LOOKS, APART = 3, 0.06  # readings looked at again, and how far apart; ours
WORTH_A_LOOK = 0.002  # of the best reading's chance; less never caught up on simulations
LEAST_SHARE = 0.5  # a status must hold for half of the running time; ours


@dataclass(frozen=True)
class Heard:
    """The motor in one run.

    Parameters
    ----------
    stretch : Stretch
        The samples.
    hum : tuple of Tone
        Hum that was taken off.
    status : str
        ``confident``, ``ambiguous`` or ``not_found``.
    chance : float
        Chance that the reading is right.
    best : Candidate or None
        The most likely reading.
    alternatives : tuple of float
        Other speeds that fit, 1/s.
    """

    stretch: Stretch
    hum: tuple[Tone, ...]
    status: str
    chance: float
    best: Candidate | None
    alternatives: tuple[float, ...] = ()

    @property
    def mean_speed(self) -> float:
        """Mean motor speed over the steady time, 1/s."""
        return float(self.best.speed.mean()) if self.best else 0.0

    @property
    def steady_s(self) -> tuple[float, float]:
        """Begin and end of the steady part in the recording, in seconds."""
        if self.best is None:
            return self.stretch.run.start_s, self.stretch.run.end_s
        times = self.times
        return float(times[0]), float(times[-1] + HOP_S)

    @property
    def times(self) -> FloatArray:
        """Moment in the recording of each frame of the steady speed, in seconds."""
        if self.best is None:
            return np.zeros(0)
        return self.stretch.times(HOP_S, self.best.steady.stop)[self.best.steady]


@dataclass(frozen=True)
class Motor:
    """The motor over all runs."""

    speed: Reading
    status: str
    alternatives: tuple[float, ...] = ()
    heard: tuple[Heard, ...] = ()
    warnings: tuple[str, ...] = ()

    @property
    def main(self) -> Heard | None:
        """The run that tells most: the longest of the likely ones."""
        found = [h for h in self.heard if h.best and self.status != NOT_FOUND]
        return max(found, key=lambda h: (h.chance > 0.5, h.stretch.samples.size), default=None)


def hear(stretch: Stretch, drive: Drive, scale_speed_km_h: float | None = None) -> Heard:
    """Track one run and weigh the readings."""
    hum = find_hum(stretch.samples, stretch.rate)
    samples = without_tones(stretch.samples, stretch.rate, hum)
    sight = Sight(samples, stretch.rate, drive, speed_range(drive, scale_speed_km_h))
    restless = restlessness(samples, stretch.rate)
    first = track(sight)
    readings = ranked(first, restless)
    if readings[0][0] < NO_SECOND_LOOK:
        readings = _second_look(sight, first[0], readings, restless)
    result = verdict(readings)
    if result != CONFIDENT or _quick_change(readings[0][1].speed) > UNEASY:
        readings = ranked((*_swinging(sight, readings), *(c for _, c in readings)), restless)
        result = verdict(readings)
    if result == NOT_FOUND:
        return Heard(stretch, hum, NOT_FOUND, readings[0][0] if readings else 0.0, None)
    chance, best = readings[0]
    own = float(best.speed.mean())
    others = [float(c.speed.mean()) for p, c in readings[1:] if p > chance / 20]
    others = [o for o in others if abs(o / own - 1) > SAME][:MOST_ALTERNATIVES]
    return Heard(stretch, hum, result, chance, best, tuple(others))


def _second_look(
    sight: Sight,
    tracked: Candidate,
    readings: list[tuple[float, Candidate]],
    restless_db: float,
) -> list[tuple[float, Candidate]]:
    """Track anew near the best readings; a first reading stays only if none was near it.

    Looking again near the speed that was tracked would find the same path, if it stayed near.
    """
    fresh: list[Candidate] = []
    looks = 0
    for share, candidate in readings:
        known = any(abs(candidate.mean / f.mean - 1) <= APART for f in fresh)
        if known or looks == SECOND_LOOKS or share < WORTH_A_LOOK * readings[0][0]:
            continue
        looks += 1
        same = candidate is tracked and stays_near(candidate)
        fresh += (candidate,) if same else track_near(sight, candidate.mean)
    kept = [c for _, c in readings if all(abs(c.mean / f.mean - 1) > APART for f in fresh)]
    return ranked((*fresh, *kept), restless_db)


def _swinging(sight: Sight, readings: list[tuple[float, Candidate]]) -> list[Candidate]:
    """Look for a swing within each wheel turn near the best readings."""
    looked: list[float] = []
    found: list[Candidate] = []
    if readings[0][0] < HOPELESS:
        return found
    for share, candidate in readings:
        if share < WORTH_A_LOOK * readings[0][0] or len(looked) == SWING_LOOKS:
            break
        if all(abs(candidate.mean / m - 1) > WIDE for m in looked):
            looked.append(candidate.mean)
            found += track_swinging(sight, candidate.mean)
    return found


def stays_near(candidate: Candidate) -> bool:
    """Whether the path lies within the span that a second look would hold it to."""
    mean, speed = candidate.mean, candidate.speed
    return bool(speed.min() > mean / NEAR_SPAN and speed.max() < mean * NEAR_SPAN)


def find_motor(
    stretches: list[Stretch], drive: Drive | None, scale_speed_km_h: float | None = None
) -> Motor:
    """Put the runs together.

    A status must hold for half of the running time; runs of that status count, each with its
    steady time, and the others are left out and named in a warning.

    Parameters
    ----------
    stretches : list of Stretch
        Running stretches.
    drive : Drive or None
        What is known of the drive.
    scale_speed_km_h : float, optional
        Scale speed known otherwise.
    """
    if drive is None or not drive.knows_motor:
        reason = "neither armature poles nor gear teeth are known: no tone can be tied to the motor"
        return Motor(NotMeasurable(reason, UNIT), NOT_FOUND)
    if not stretches:
        return Motor(NotMeasurable("nothing runs for a second or more", UNIT), NOT_FOUND)
    heard = tuple(hear(s, drive, scale_speed_km_h) for s in stretches)
    best = next((v for v in (CONFIDENT, AMBIGUOUS) if _share(heard, v) >= LEAST_SHARE), NOT_FOUND)
    if best == NOT_FOUND:
        reason = "no motor speed explains the tones of this recording with this drive"
        return Motor(NotMeasurable(reason, UNIT), NOT_FOUND, heard=heard)
    used = [h for h in heard if h.status == best] or [h for h in heard if h.best]
    notes: tuple[str, ...] = ()
    if len(used) < len(heard):
        notes = (f"the motor speed rests on {len(used)} of {len(heard)} runs",)
    others = tuple(dict.fromkeys(round(a, 3) for h in used for a in h.alternatives))
    return Motor(mean_speed(used), best, others if best == AMBIGUOUS else (), heard, notes)


def _share(heard: tuple[Heard, ...], least: str) -> float:
    """Share of the tracked time whose status is ``least`` or better."""
    good = (CONFIDENT,) if least == CONFIDENT else (CONFIDENT, AMBIGUOUS)
    total = sum(h.stretch.samples.size for h in heard)
    return sum(h.stretch.samples.size for h in heard if h.status in good) / total


def mean_speed(used: list[Heard]) -> Estimate:
    """Give the mean motor speed over runs (each with a best reading), with its interval."""
    steady = [h.best.speed for h in used if h.best is not None]
    lengths = np.array([s.size for s in steady], float)
    means = np.array([s.mean() for s in steady])
    value = float((lengths * means).sum() / lengths.sum())
    swing = float(np.mean([_quick_change(s) for s in steady]))
    drift = float(np.mean([_slow_change(s) for s in steady]))
    haste = float(np.mean([np.abs(np.diff(np.log(s))).mean() for s in steady]))
    share = ERROR_SHARE + ERROR_PER_SWING * swing + ERROR_PER_DRIFT * drift
    share += ERROR_PER_HASTE * max(0.0, haste - EASY)
    return Estimate.plus_minus(
        value,
        value * share,
        UNIT,
        method="harmonic sums over the drive's orders, path by dynamic programming",
    )


def _slow_change(speed: FloatArray) -> float:
    """Relative standard deviation of the mean over half a second: the ends then matter more."""
    size = round(0.5 / HOP_S)
    if speed.size < 2 * size:
        return 0.05
    slow = np.convolve(speed, np.ones(size) / size, "valid")
    return float(slow.std() / slow.mean())


def _quick_change(speed: FloatArray) -> float:
    """Relative standard deviation of the speed against its mean over half a second."""
    size = round(0.5 / HOP_S)
    if speed.size < 2 * size:
        return 0.0
    slow = np.convolve(speed, np.ones(size) / size, "valid")
    quick = speed[size // 2 : size // 2 + slow.size] / slow - 1
    return float(quick.std())
