"""How sure a reading of the motor's speed is: a chance fitted on simulated recordings."""

import math

import numpy as np

from outshop.bench.sound.digest import Float32Array
from outshop.bench.sound.result import AMBIGUOUS, CONFIDENT, NOT_FOUND
from outshop.bench.sound.speed import Candidate

# logistic weights, fitted on simulated recordings with right and wrong drives, speech, music and
# hum: see the study in docs/methods/sound.md. Ours.
BIAS = -12.027
WEIGHTS = {
    "score": 0.178,
    "likelihood": 0.062,
    "lead": 0.171,
    "heard": 5.963,
    "explained": 2.471,
    "loudness_line": 0.08,
    "speed_line": 0.019,
    "hurry": 2.001,
    "families": 0.07,
    "family_share": 4.249,
    "waver": -18.621,
}
# chances that part the three statuses; ours: speech, music and hum reach 0.12 at most (35 drawn)
SURE, UNLIKELY = 0.92, 0.14
LEVEL_S = 0.05  # shorter than a syllable; ours
CALM_DB = 14.0  # laps and a lame wheel together change the level by 12 dB at most; ours
RIVAL_SHARE = 0.5  # a rival with half the best's odds makes it ambiguous; ours


def features(candidate: Candidate) -> dict[str, float]:
    """Give the numbers that the chance is made of."""
    quality = candidate.fit
    return {
        "score": candidate.score,
        "likelihood": quality.likelihood,
        "lead": max(-15.0, min(candidate.lead, 15.0)),
        "heard": quality.heard_share,
        "explained": quality.explained_share,
        "loudness_line": max(0.0, min(candidate.loudness_line_db, 25.0)),
        "speed_line": max(0.0, min(candidate.speed_line_db, 25.0)),
        "hurry": -(candidate.hurry**2),
        "families": min(quality.families, 3),
        "family_share": quality.families / max(quality.families_known, 1),
        "waver": min(candidate.waver, 0.3),
    }


def chance(candidate: Candidate, restless_db: float = 0.0) -> float:
    """Give the chance that the reading is right, 0 to 1.

    Parameters
    ----------
    candidate : Candidate
        The reading.
    restless_db : float
        Range of the level within the run, from :func:`restlessness`.
    """
    total = BIAS + sum(WEIGHTS[name] * value for name, value in features(candidate).items())
    total -= max(0.0, restless_db - CALM_DB)
    return 1 / (1 + math.exp(-total))


def restlessness(samples: Float32Array, rate: float) -> float:
    """Give the range of the level in dB: a run is steady, speech has syllables and pauses."""
    size = max(1, int(LEVEL_S * rate))
    count = samples.size // size
    power = np.square(samples[: count * size].reshape(count, size)).mean(1)
    low, high = np.quantile(power, (0.1, 0.9))
    return float(10 * np.log10((high + 1e-14) / (low + 1e-14)))


def ranked(
    candidates: tuple[Candidate, ...], restless_db: float = 0.0
) -> list[tuple[float, Candidate]]:
    """Sort readings by their chance, most likely first."""
    pairs = ((chance(c, restless_db), c) for c in candidates)
    return sorted(pairs, key=lambda pair: -pair[0])


def verdict(readings: list[tuple[float, Candidate]]) -> str:
    """Say whether the best of ranked readings is confident, ambiguous or not found."""
    if not readings or readings[0][0] < UNLIKELY:
        return NOT_FOUND
    best = _odds(readings[0][0])
    rival = _odds(readings[1][0]) if len(readings) > 1 else 0.0
    if readings[0][0] >= SURE and rival < RIVAL_SHARE * best:
        return CONFIDENT
    return AMBIGUOUS


def _odds(share: float) -> float:
    return share / max(1 - share, 1e-9)
