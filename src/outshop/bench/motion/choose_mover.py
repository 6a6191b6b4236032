"""Which of the patches that move is the model."""

from outshop.bench.motion.movers import Box, Mover
from outshop.errors import MediaError

_LEAST_TRAVEL = 0.02  # of the picture's width
_RIVAL_TRAVEL, _RIVAL_AREA = 0.35, 0.3
_TOGETHER = 0.3  # difference of ways up to which two patches are parts of one thing


def choose_mover(
    movers: list[Mover], width: int, name: str, pick: tuple[float, float] | None
) -> Mover:
    """Pick the one that travels along.

    Parameters
    ----------
    movers : list of Mover
        Patches linked from frame to frame.
    width : int
        Of the working picture.
    name : str
        The clip's.
    pick : tuple of float, optional
        A point of the right one, in working pixels.

    Raises
    ------
    MediaError
        None travels along, or two go their own ways and none was picked.
    """
    rated = [(m, float(m.travel()[0]), m.area()) for m in movers]
    rated = [r for r in rated if r[1] > _LEAST_TRAVEL * width and _goes_along(r[0])]
    if pick is not None:
        rated = [r for r in rated if any(_holds(s.box, pick) for s in r[0].sights)]
    if not rated:
        raise MediaError(
            f"nothing moves along in {name}: the model must pass through the picture, seen from "
            "the side"
            if pick is None
            else f"nothing that moves was found there in {name}"
        )
    rated.sort(key=lambda r: -r[1] * r[2] ** 0.5)
    best = rated[0]
    for other in rated[1:]:
        rival = other[1] > _RIVAL_TRAVEL * best[1] and other[2] > _RIVAL_AREA * best[2]
        if rival and pick is None and _apart(best[0], other[0]):
            raise MediaError(
                f"two things move in {name}, or one that hides the same part of a patterned wall "
                "most of the time: let the model run alone and right through the picture, or say "
                "which one it is"
            )
    return best[0]


def _goes_along(mover: Mover) -> bool:
    travel = mover.travel()
    return bool(travel[0] > 1.5 * travel[1])


def _apart(one: Mover, other: Mover) -> bool:
    """Both are there at the same time and do not go together, as parts of one thing do."""
    theirs = {s.t_s: s.box for s in other.sights}
    both = [(s.box, theirs[s.t_s]) for s in one.sights if s.t_s in theirs]
    if len(both) < 5:
        return False
    mine, yours = (b[-1].middle - b[0].middle for b in zip(*both, strict=True))
    return bool(abs(mine - yours) > _TOGETHER * max(abs(mine), abs(yours)))


def _holds(box: Box, point: tuple[float, float]) -> bool:
    return box.left <= point[0] <= box.right and box.top <= point[1] <= box.bottom
