"""The trail of a model found by its points, when patches alone do not tell it surely."""

import numpy as np
from numpy.typing import NDArray

from outshop.bench.motion.footage import Footage
from outshop.bench.motion.points import Going, find_going
from outshop.bench.motion.slant import Slant
from outshop.bench.motion.still import Still
from outshop.bench.motion.uncovered import Uncovered, Uncovering, course_of
from outshop.bench.motion.walks import Walks
from outshop.errors import MediaError

Floats = NDArray[np.float64]
_LEAST_TRAVEL = 0.04  # of the picture's width
_RIVAL_TRAVEL, _RIVAL_POINTS, _FEWEST_POINTS = 0.35, 0.35, 6
_TOGETHER = 0.2  # difference of ways, as share of the longer, up to which two are one thing
_BOTH_FRAMES = 5
# frames that are asked whether a model reaches beyond its ends, pixels it should go between two,
# and how far beyond counts
_LOOKED_AT, _STEP_PX = 36, 4.0
_BEYOND_PX, _BEYOND_SHARE = 10.0, 0.08
_OWN_SHARE = 0.5  # of the frames: a rival lies beside the model in more, a part of it does not


def uncover(
    walks: Walks,
    still: Still,
    footage: Footage,
    pick: tuple[float, float] | None,
    slant: Slant | None = None,
) -> Uncovered | None:
    """Cut out the thing that goes farthest along, or the one at ``pick``; None if none is found.

    ``slant`` is how the camera looks along the track, where that is known already.

    Raises
    ------
    MediaError
        Two things go their own ways.
    """
    going = find_going(walks.frames(), still, len(walks.times_s), slant)
    main = choose_going(going, footage.head.width, footage.name, pick)
    if main is None:
        return None
    uncovering = Uncovering(main, still)
    if not uncovering.learn(walks.frames(), walks.times_s):
        return None
    return uncovering.cut(walks.frames())


def outgrown(
    walks: Walks, still: Still, t_s: Floats, ends: tuple[Floats, Floats], width: int
) -> bool:
    """Tell whether points that go with a model lie beyond the ends it was given.

    Then its greater part was taken for the wall, which it resembles.

    Parameters
    ----------
    walks, still : Walks, Still
        The clip and its background.
    t_s : ndarray [shape=(n,)]
        Times at which it was placed.
    ends : tuple of ndarray [shape=(n,)]
        Its left and right end at those, in working pixels.
    width : int
        Of the working picture.
    """
    left, right = ends
    inside = np.flatnonzero((left > 0) & (right < width))
    if len(inside) < _LOOKED_AT // 3 or not walks.quick:
        return False
    pace = float(np.median(np.abs(np.diff(left))))
    every = int(np.clip(_STEP_PX / max(pace, 0.1), 1, 8))
    few = inside[::every]
    start = max(0, (len(few) - _LOOKED_AT) // 2)
    wanted = set(t_s[few[start : start + _LOOKED_AT]].tolist())
    found = find_going((f for f in walks.frames() if f.t_s in wanted), still)
    length = float(np.median(right - left))
    slack = max(_BEYOND_PX, _BEYOND_SHARE * length)
    for going in found[:2]:
        at = [np.interp(going.t_s, t_s, side) for side in (left, right)]
        mine = float(np.ptp(at[0]))
        if going.points < _FEWEST_POINTS or abs(going.travel - mine) > _TOGETHER * mine:
            continue
        x = [
            going.slant.to_picture(going.x + off, np.zeros(len(going.x)))[0] for off in going.reach
        ]
        if np.median(at[0] - x[0]) > slack or np.median(x[1] - at[1]) > slack:
            return True
    return False


def choose_going(
    found: list[Going], width: int, name: str, pick: tuple[float, float] | None
) -> Going | None:
    """Choose the model among things that go; two that go their own ways are refused.

    Raises
    ------
    MediaError
        Two things go their own ways, and none was picked.
    """
    found = [g for g in found if g.travel > _LEAST_TRAVEL * width and goes_along(g)]
    if pick is not None:
        found = [g for g in found if _holds(g, pick)]
    if not found:
        return None
    found.sort(key=lambda g: -g.travel * (g.points * len(g.t_s)) ** 0.5)
    best = found[0]
    for other in found[1:]:
        rival = other.travel > _RIVAL_TRAVEL * best.travel
        rival &= other.points * len(other.t_s) > _RIVAL_POINTS * best.points * len(best.t_s)
        rival &= other.points >= _FEWEST_POINTS
        if rival and pick is None and _apart(best, other):
            raise MediaError(
                f"two things move in {name}: let the model run alone, or say which one it is"
            )
    return best


def goes_along(going: Going) -> bool:
    """Tell whether it goes across the picture rather than up or down."""
    return abs(going.slope) < 0.6


def _holds(going: Going, point: tuple[float, float]) -> bool:
    x, y = going.slant.straighten(np.array([point[0]]), np.array([point[1]]))
    point = float(x[0]), float(y[0])
    left, right = going.x + going.reach[0], going.x + going.reach[1]
    down = going.slope * going.x
    inside = (left - 10 <= point[0]) & (point[0] <= right + 10)
    inside &= (going.rows[0] + down - 20 <= point[1]) & (point[1] <= going.rows[1] + down + 20)
    return bool(inside.any())


def _apart(one: Going, other: Going) -> bool:
    """Both are there at the same time, beside each other, and do not go together."""
    course = course_of(one)
    both = [(course.at(t), x) for t, x in zip(other.t_s, other.x, strict=True)]
    ways = np.array([(a, b) for a, b in both if a is not None])
    if len(ways) < _BOTH_FRAMES:
        return False
    middle = ways[:, 1] + sum(other.reach) / 2
    within = (middle > ways[:, 0] + one.reach[0]) & (middle < ways[:, 0] + one.reach[1])
    if within.mean() > _OWN_SHARE:
        return False  # points that slide along the model's own outline
    mine, yours = (ways - ways[0]).T
    longer = max(float(np.ptp(mine)), float(np.ptp(yours)))
    return bool(np.abs(mine - yours).max() > _TOGETHER * longer)
