"""The exact walk of a train over a line.

Each body counts with the section under its middle, so the force needed is constant between
two heads at which some middle crosses a border. Positions are whole numbers (a millionth of a
millimetre, doubled for the middles), so that crossings that coincide are one crossing.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from outshop.formation.scene import CURVE_CONSTANT, Body, Locomotive, Section, Vehicle

UNITS = 1_000_000  # whole steps a millimetre; lengths finer than that are rounded

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]


@dataclass(frozen=True, slots=True)
class Profile:
    """A line made ready to be walked.

    Parameters
    ----------
    borders : array of int, shape (sections + 1,)
        Section ends in half units (2 x UNITS a mm).
    grade, curve : array of float, shape (sections + 2,)
        Per mille; the first and last entry (0) stand for what lies off the line. ``curve`` is
        1 / radius (1/mm), to be multiplied by the curve constant.
    """

    borders: Ints
    grade: Floats
    curve: Floats
    constant: float

    @property
    def effective(self) -> Floats:
        """Grade and curve of each section together, in per mille, shape (sections + 2,)."""
        return self.grade + self.constant * self.curve

    @property
    def length_mm(self) -> float:
        """Length of the line."""
        return float(self.borders[-1]) / (2 * UNITS)


@dataclass(frozen=True, slots=True)
class Places:
    """The force over every stretch of heads between crossings.

    Parameters
    ----------
    start, end : array of int, shape (n,)
        First and last head of each stretch, in half units.
    rolling_g : float
        Rolling resistance of the whole train, the same everywhere.
    grade_g, curve_g : array of float, shape (n,)
        Grade force (locomotive included), and curve force.
    """

    start: Ints
    end: Ints
    rolling_g: float
    grade_g: Floats
    curve_g: Floats

    @property
    def needed_g(self) -> Floats:
        """Force needed on each stretch, shape (n,)."""
        return self.rolling_g + self.grade_g + self.curve_g


def prepare(line: Sequence[Section], constant: float = CURVE_CONSTANT) -> Profile:
    """Make a line ready to be walked; ``constant`` is curve per mille x radius in mm."""
    lengths = [2 * round(s.length_mm * UNITS) for s in line]
    borders = np.concatenate([[0], np.cumsum(np.array(lengths, dtype=np.int64))])
    grade = np.array([0.0, *(s.grade_permille for s in line), 0.0])
    curve = np.array([0.0, *(1 / s.radius_mm if s.radius_mm else 0.0 for s in line), 0.0])
    return Profile(borders.astype(np.int64), grade, curve, constant)


def middles(locomotive: Locomotive, vehicles: Sequence[Vehicle]) -> Ints:
    """Distance from the head to each middle in half units, shape (1 + vehicles,)."""
    lengths = np.array(_lengths(locomotive, vehicles), dtype=np.int64)
    ends: Ints = 2 * np.cumsum(lengths)
    return ends - lengths


def train_length_mm(locomotive: Locomotive, vehicles: Sequence[Vehicle]) -> float:
    """Length over all, without gaps, locomotive included."""
    return sum(_lengths(locomotive, vehicles)) / UNITS


def _lengths(locomotive: Locomotive, vehicles: Sequence[Vehicle]) -> list[int]:
    bodies: list[Body] = [locomotive, *vehicles]
    return [round(body.length_mm * UNITS) for body in bodies]


def walk(profile: Profile, locomotive: Locomotive, vehicles: Sequence[Vehicle]) -> Places:
    """Walk the train over the whole line, exactly.

    Parameters
    ----------
    profile : Profile
        From :func:`prepare`.
    locomotive, vehicles : Locomotive, sequence of Vehicle
        The train from its head.

    Returns
    -------
    Places
        Every stretch of heads from 0 to line length + train length.
    """
    mass = np.array([v.mass_g for v in vehicles], dtype=float)
    rolling = float(sum(v.mass_g * v.rolling_permille for v in vehicles)) / 1000
    offsets = middles(locomotive, vehicles)
    events = profile.borders[None, :] + offsets[:, None]
    weight = np.concatenate([[locomotive.mass_g], mass]) / 1000
    curved = np.concatenate([[0.0], mass]) / 1000
    end = 2 * sum(_lengths(locomotive, vehicles))
    start = np.unique(np.concatenate([[0], events.ravel()])).astype(np.int64)
    # the section of each body on the stretch that begins at `start`: 0 before, n + 1 after
    section = np.searchsorted(profile.borders, start[:, None] - offsets[None, :], side="right")
    grade = (profile.grade[section] * weight).sum(axis=1)
    curve = (profile.curve[section] * curved).sum(axis=1) * profile.constant
    stop = np.append(start[1:], int(profile.borders[-1]) + end)
    return Places(start, stop, rolling, grade, curve)


def sections_under(
    profile: Profile, locomotive: Locomotive, vehicles: Sequence[Vehicle], head: int
) -> Ints:
    """Section under each body's middle, from 1; 0 before the line, n + 1 after it."""
    offsets = middles(locomotive, vehicles)
    found = np.searchsorted(profile.borders, head - offsets, side="right")
    return np.asarray(found, dtype=np.int64)
