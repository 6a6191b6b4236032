"""Lubrication points: oil or grease, how little, where none, and at which axle."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from functools import cache
from typing import Literal

from outshop.workshop._load import table

Kind = Literal["oil", "grease", "none"]


@dataclass(frozen=True, slots=True)
class Point:
    """One kind of point.

    Parameters
    ----------
    id, title : str
        Its key and name.
    kind : str
        ``oil``, ``grease``, or ``none`` where neither may come.
    amount, warning : str
        How little, and what it must not touch.
    part : str
        Part of the list; a model without it has no such point.
    place : str
        ``motor``, ``frame``, ``driven`` (driven axles) or ``every axle``.
    """

    id: str
    title: str
    kind: Kind
    amount: str
    warning: str
    part: str
    place: str


@dataclass(frozen=True, slots=True)
class PointAt:
    """A point at this model: the axles it concerns, empty for motor and frame."""

    point: Point
    axles: tuple[str, ...]


@cache
def all_points() -> tuple[Point, ...]:
    """Give every kind of point, those that take oil or grease first."""
    return tuple(Point(**row) for row in table("lubrication")["point"])


def points_at(
    axles: Sequence[tuple[str, bool]], *, without: Iterable[str] = ()
) -> tuple[PointAt, ...]:
    """Give the points of a model.

    Parameters
    ----------
    axles : sequence of (label, driven)
        Every axle of the diagram in order; empty when the arrangement is unknown.
    without : iterable of str
        Part ids that the model does not have.
    """
    absent = set(without)
    labels = {
        "every axle": tuple(label for label, _ in axles),
        "driven": tuple(label for label, driven in axles if driven),
    }
    return tuple(
        PointAt(point, labels.get(point.place, ()))
        for point in all_points()
        if point.part not in absent
    )
