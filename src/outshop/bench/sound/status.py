"""How sure a reading of the motor's speed is: a chance fitted on simulated recordings."""

import math

from outshop.bench.sound.result import AMBIGUOUS, CONFIDENT, NOT_FOUND
from outshop.bench.sound.speed import Candidate

# logistic weights, fitted on simulated recordings with right and wrong drives, speech, music and
# hum: see the study in docs/methods/sound.md. Ours.
BIAS = -10.712
WEIGHTS = {
    "score": 0.315,
    "likelihood": -0.023,
    "lead": 0.147,
    "heard": 5.567,
    "explained": 3.807,
    "loudness_line": 0.125,
    "speed_line": 0.086,
    "hurry": 1.538,
    "families": -0.777,
    "family_share": 4.709,
    "waver": -16.682,
}
SURE, UNLIKELY = 0.92, 0.12  # chances that part the three statuses; ours, from the same study
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


def chance(candidate: Candidate) -> float:
    """Give the chance that the reading is right, 0 to 1."""
    total = BIAS + sum(WEIGHTS[name] * value for name, value in features(candidate).items())
    return 1 / (1 + math.exp(-total))


def ranked(candidates: tuple[Candidate, ...]) -> list[tuple[float, Candidate]]:
    """Sort readings by their chance, most likely first."""
    return sorted(((chance(c), c) for c in candidates), key=lambda pair: -pair[0])


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
