"""Whether model, box, tray and papers belong together.

Two kinds of history are weighed by enumeration over years. *Together*: all parts share one year.
*Part apart*: one part has a year of its own, the rest share one. The weight of a history is the
sum over years of its evidence under a flat prior, times the chance that such a history happens.
"""

import tomllib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cache
from importlib.resources import files

import numpy as np
from numpy.typing import NDArray

from outshop.dating.evidence import Evidence
from outshop.dating.posterior import inside, posterior, smallest_years

SWAPPED = 0.1  # chance that a given part was exchanged in fifty years; judgement, no source


@dataclass(frozen=True, slots=True)
class Reading:
    """What an odd part may mean, and what would settle it."""

    name: str
    says: str
    settles: str
    source: str


@dataclass(frozen=True, slots=True)
class PartYears:
    """Years of one part taken alone."""

    part: str
    spans: list[list[int]]
    indices: tuple[int, ...]


@dataclass(frozen=True, slots=True)
class History:
    """One way in which the parts may have come together.

    Parameters
    ----------
    odd_part : str
        The part with a year of its own; empty when all belong together.
    probability : float
        Among the histories considered.
    reading : Reading or None
        What an odd part of this kind may mean.
    """

    odd_part: str
    probability: float
    reading: Reading | None = None


@dataclass(frozen=True, slots=True)
class Belonging:
    """Parts, their years, and the histories that would explain them, likeliest first."""

    parts: tuple[PartYears, ...]
    histories: tuple[History, ...]


def belongs_together(
    evidence: Sequence[Evidence], years: range, swapped: float = SWAPPED
) -> Belonging:
    """Weigh whether the parts share one year.

    Parameters
    ----------
    evidence : sequence of Evidence
        Those without a part count as ``model``.
    years : range
        Years considered.
    swapped : float
        Chance that any one part was exchanged.
    """
    by_part: dict[str, list[int]] = {}
    for index, item in enumerate(evidence):
        by_part.setdefault(item.part.strip() or "model", []).append(index)
    log_weight = {
        p: _log_weight([evidence[i] for i in members], years) for p, members in by_part.items()
    }
    names = list(by_part)
    log_odds = {"": _log_mean(sum(log_weight.values(), np.zeros(len(years))))}
    if len(names) > 1:
        for name in names:
            rest = sum((log_weight[n] for n in names if n != name), np.zeros(len(years)))
            apart = _log_mean(rest) + _log_mean(log_weight[name])
            log_odds[name] = apart + np.log(swapped / (1 - swapped))
    top = max(log_odds.values())
    weights = {name: float(np.exp(value - top)) for name, value in log_odds.items()}
    total = sum(weights.values())
    histories = [
        History(name, weight / total, reading_of(name) if name else None)
        for name, weight in weights.items()
    ]
    parts = tuple(
        PartYears(
            name,
            smallest_years(posterior([evidence[i] for i in members], years), years),
            tuple(members),
        )
        for name, members in by_part.items()
    )
    return Belonging(parts, tuple(sorted(histories, key=lambda h: -h.probability)))


def reading_of(part: str) -> Reading | None:
    """Give what an odd part of this kind may mean, or None when nothing is known."""
    return _readings().get(part.strip().lower())


def readings_of(
    evidence: Sequence[Evidence], set_aside: Sequence[int]
) -> list[tuple[Reading, list[int]]]:
    """Read evidence that does not fit: what it may mean, and which entries speak for that.

    Parameters
    ----------
    evidence : sequence of Evidence
        All of the case.
    set_aside : sequence of int
        What was set aside so that the rest agrees.

    Returns
    -------
    list of (Reading, indices)
        Readings with the most entries first; parts of which nothing is known have none.
    """
    found: dict[str, tuple[Reading, list[int]]] = {}
    for index in set_aside:
        reading = reading_of(evidence[index].part)
        if reading:
            found.setdefault(reading.name, (reading, []))[1].append(index)
    return sorted(found.values(), key=lambda pair: (-len(pair[1]), pair[0].name))


@cache
def _readings() -> Mapping[str, Reading]:
    text = (files("outshop.dating") / "tables" / "readings.toml").read_text(encoding="utf-8")
    return {
        part: Reading(row["name"], row["says"], row["settles"], row["source"])
        for row in tomllib.loads(text)["reading"]
        for part in row["parts"]
    }


def _log_weight(evidence: Sequence[Evidence], years: range) -> NDArray[np.float64]:
    trust = np.array([item.trust for item in evidence])[:, None]
    weight = np.log(np.where(inside(evidence, years), trust, 1 - trust)).sum(axis=0)
    return np.asarray(weight, dtype=np.float64)


def _log_mean(log_values: NDArray[np.float64]) -> float:
    top = float(log_values.max())
    return top + float(np.log(np.exp(log_values - top).mean()))
