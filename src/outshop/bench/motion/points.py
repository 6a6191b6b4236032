"""The model's way from its own points, without any background.

Corner points in places that change are followed from frame to frame (pyramidal Lucas-Kanade;
Bouguet 2001). Points of one rigid thing keep their distances, so each is the thing's way plus
an offset of its own; the points that agree on one way are gathered, farthest travelled first.
A post, a hand, a patterned wall or a model that hides the same place most of the time do not
matter to that.
"""

from collections.abc import Iterable
from dataclasses import dataclass, replace
from typing import Any

import cv2
import numpy as np
from numpy.typing import NDArray

from outshop.bench.motion.slant import Slant
from outshop.bench.motion.still import Grey, Still
from outshop.media.video import Frame

Floats = NDArray[np.float64]
Tracks = NDArray[np.float32]
_MOST = 220  # points alive at a time
_APART = 7  # pixels between two points
_RENEW = 4  # frames between looks for new points
_UNLIKE = 25.0  # mean difference of the patch, in grey levels, beyond which a point is lost
_FEWEST_FRAMES = 6
_LEAST_TRAVEL = 3.0  # pixels
_MOST_TRACKS = 500
_MOST_FRAMES = 1600  # looked at; of longer or faster clips every second, third ... frame
_SEEDS = 14
_ROUNDS = 25
_FEWEST = 5  # points of one thing
# pixels by which a point may leave the common way, and the share of its way by which
# perspective lets front and rear differ
_LOOSE_PX, _LOOSE_SHARE = 1.5, 0.015
# relative changes of scale over the picture that are tried, coarse and fine; how much more the
# points must agree before a slant is believed, and how many at least
_SLANTS, _FINER, _BETTER = (-0.36, -0.24, -0.12, 0.12, 0.24, 0.36), (-0.06, -0.03, 0.03, 0.06), 1.2
_FEWEST_SLANTED = 8
_FLOW: Any = {
    "winSize": (15, 15),
    "maxLevel": 3,
    "criteria": (cv2.TERM_CRITERIA_EPS | cv2.TERM_CRITERIA_COUNT, 12, 0.03),
}


@dataclass(frozen=True, slots=True)
class Going:
    """One thing that goes.

    Parameters
    ----------
    t_s : ndarray [shape=(n,)]
        Times at which it was followed.
    x : ndarray [shape=(n,)]
        Its way in working pixels; its points lie at ``x`` plus their offsets.
    reach : tuple of float
        Least and greatest offset of its points, in working pixels.
    rows : tuple of float
        Uppermost and lowest row of its points, in working pixels.
    points : float
        Usual number of its points in a frame.
    slope : float
        Rows by which it sinks for each pixel of way; ``rows`` hold at ``x`` = 0.
    slant : Slant
        What makes the picture straight; all places above are in the straight picture.
    """

    t_s: Floats
    x: Floats
    reach: tuple[float, float]
    rows: tuple[float, float]
    points: float
    slope: float = 0.0
    slant: Slant = Slant()  # noqa: RUF009 - frozen

    @property
    def travel(self) -> float:
        """How far it got, in working pixels."""
        return float(np.ptp(self.x))


@dataclass(slots=True)
class _Track:
    first: int
    x: list[float]
    y: list[float]


def find_going(
    walk: Iterable[Frame], still: Still, frames: int = 0, slant: Slant | None = None
) -> list[Going]:
    """Find what goes along, the farthest and richest in points first.

    Parameters
    ----------
    walk : iterable of Frame
        Steady frames.
    still : Still
        The background, right or wrong: it only tells where to look for points.
    frames : int
        How many the walk has; of very many only every second, third ... is looked at.
    slant : Slant, optional
        How the camera looks along the track, where that is known.

    Returns
    -------
    list of Going
        Things that go their own way; empty when nothing is found.
    """
    every = 1 + frames // _MOST_FRAMES
    times, tracks = _tracks((f for i, f in enumerate(walk) if i % every == 0), still)
    usable = [k for k in tracks if len(k.x) >= _FEWEST_FRAMES and np.ptp(k.x) >= _LEAST_TRAVEL]
    usable.sort(key=lambda k: -float(np.ptp(k.x)) * len(k.x) ** 0.5)
    usable = usable[:_MOST_TRACKS]
    if len(usable) < _FEWEST:
        return []
    x, y = (np.full((len(usable), len(times)), np.nan, np.float32) for _ in range(2))
    for row, track in enumerate(usable):
        span = slice(track.first, track.first + len(track.x))
        x[row, span], y[row, span] = track.x, track.y
    slant = slant or _best_slant(x, y, still.background.shape)
    x, y = _straight(slant, x, y)
    t = np.array(times)
    found: list[Going] = []
    free = np.ones(len(x), bool)
    for _ in range(4):
        best = _best_group(x, free)
        if best is None:
            break
        members, way = best
        free &= ~members
        # what agrees with the way as far as it is seen is no thing of its own
        free &= ~_agreeing(x, way, loose=6.0)
        found.append(replace(_going(t, way, x[members], y[members]), slant=slant))
    return found


def _best_slant(x: Tracks, y: Tracks, shape: tuple[int, ...]) -> Slant:
    """Find the slant that lets the points keep their distances best."""
    free = np.ones(len(x), bool)
    best = _best_group(x, free)
    if best is None:
        return Slant()
    height, width = shape[:2]
    members = np.flatnonzero(best[0])
    if len(members) < _FEWEST_SLANTED:
        return Slant()
    lives = np.isfinite(x[members]).sum(axis=1)
    seed = int(members[int(np.argmax(lives))])

    def agreement(change: float) -> float:
        slanted = Slant(change / 2 / width, width / 2, height / 2)
        moved, _ = _straight(slanted, x, y)
        found = _gathered(moved, free, seed)
        return 0.0 if found is None else float(np.isfinite(moved[found[0]]).sum())

    plain = agreement(0.0)
    score, change = max((agreement(c), c) for c in _SLANTS)
    if score < _BETTER * plain:
        return Slant()
    score, change = max([(score, change), *((agreement(change + c), change + c) for c in _FINER)])
    return Slant(change / 2 / width, width / 2, height / 2)


def _straight(slant: Slant, x: Tracks, y: Tracks) -> tuple[Tracks, Tracks]:
    if slant.q == 0:
        return x, y
    sx, sy = slant.straighten(x.astype(np.float64), y.astype(np.float64))
    return sx.astype(np.float32), sy.astype(np.float32)


def _going(t: Floats, way: Floats, x: Tracks, y: Tracks) -> Going:
    known = np.isfinite(way)
    offsets = np.nanmedian(x[:, known] - way[known], axis=1)
    slope = _slope(way[known], y[:, known])
    rows = np.nanmedian(y[:, known] - slope * way[known], axis=1)
    low, high = np.percentile(offsets, [2, 98])
    top, bottom = np.percentile(rows, [2, 98])
    count = float(np.median(np.isfinite(x[:, known]).sum(axis=0)))
    return Going(
        t[known], way[known], (float(low), float(high)), (float(top), float(bottom)), count, slope,
    )  # fmt: skip


def _slope(way: Floats, y: Tracks) -> float:
    """Give the rows sunk for each pixel of way, common to all points (each has its own row)."""
    seen = np.isfinite(y)
    count = np.maximum(seen.sum(axis=1, keepdims=True), 1)
    across, down = np.where(seen, way, 0.0), np.where(seen, y, 0.0)
    across = np.where(seen, across - across.sum(axis=1, keepdims=True) / count, 0.0)
    down = np.where(seen, down - down.sum(axis=1, keepdims=True) / count, 0.0)
    power = float((across**2).sum())
    return float((across * down).sum()) / power if power > 0 else 0.0


def _tracks(walk: Iterable[Frame], still: Still) -> tuple[list[float], list[_Track]]:
    """Follow points through the frames."""
    ground = still.background
    limit = max(10.0, 6 * still.noise)
    live: list[_Track] = []
    done: list[_Track] = []
    times: list[float] = []
    before = ground
    marks: list[Grey] = []
    for frame in walk:
        now = frame.image.copy()
        number = len(times)
        if live:
            live = _moved_on(live, done, before, now)
        if number % _RENEW == 0:
            live = _renewed(live, number, now, [ground, *marks[-2:]], limit)
            marks = [*marks[-1:], now]
        before = now
        times.append(frame.t_s)
    return times, done + live


def _moved_on(live: list[_Track], done: list[_Track], before: Grey, now: Grey) -> list[_Track]:
    was = np.array([(k.x[-1], k.y[-1]) for k in live], np.float32)[:, None]
    guess = was + np.array([_step(k) for k in live], np.float32)[:, None]
    at, good, unlike = cv2.calcOpticalFlowPyrLK(
        before, now, was, guess, flags=cv2.OPTFLOW_USE_INITIAL_FLOW, **_FLOW
    )
    h, w = now.shape
    xy = at[:, 0]
    keep = (good.ravel() == 1) & (unlike.ravel() < _UNLIKE)
    keep &= (xy[:, 0] > 1) & (xy[:, 0] < w - 2) & (xy[:, 1] > 1) & (xy[:, 1] < h - 2)
    still_live = []
    for track, (x, y), kept in zip(live, xy, keep, strict=True):
        if kept:
            track.x.append(float(x))
            track.y.append(float(y))
            still_live.append(track)
        else:
            done.append(track)
    return still_live


def _step(track: _Track) -> tuple[float, float]:
    if len(track.x) < 3:
        return 0.0, 0.0
    return track.x[-1] - track.x[-2], track.y[-1] - track.y[-2]


def _renewed(
    live: list[_Track], number: int, now: Grey, others: list[Grey], limit: float
) -> list[_Track]:
    """Take new points where the picture differs from the background or from just before."""
    if len(live) > 0.8 * _MOST:  # points that never went anywhere make room
        idle = [k for k in live if len(k.x) > 3 * _RENEW and np.ptp(k.x) < 1.0]
        gone = set(map(id, idle))
        live = [k for k in live if id(k) not in gone]
    room = _MOST - len(live)
    if room < 10:
        return live
    apart = cv2.absdiff(now, others[0])
    for other in others[1:]:
        apart = cv2.max(apart, cv2.absdiff(now, other))
    mask = (apart > limit).astype(np.uint8)
    mask = cv2.morphologyEx(mask, cv2.MORPH_OPEN, np.ones((2, 2), np.uint8))
    mask = cv2.dilate(mask, np.ones((3, 3), np.uint8))
    for track in live:
        cv2.circle(mask, (round(track.x[-1]), round(track.y[-1])), _APART, 0, -1)
    if not mask.any():
        return live
    corners = cv2.goodFeaturesToTrack(now, room, 0.02, _APART, mask=mask)
    if corners is not None:
        live = live + [_Track(number, [float(x)], [float(y)]) for x, y in corners[:, 0]]
    return live


def _best_group(x: Tracks, free: NDArray[np.bool_]) -> tuple[NDArray[np.bool_], Floats] | None:
    """Gather from several seeds; give the members and way of the best."""
    best, best_score = None, 0.0
    rows = np.flatnonzero(free)
    tried = np.zeros(len(x), bool)
    for _ in range(_SEEDS):
        seeds = rows[~tried[rows]]
        if not len(seeds):
            break
        found = _gathered(x, free, int(seeds[0]))
        tried[seeds[0]] = True
        if found is None:
            continue
        members, way = found
        tried |= members
        score = float(np.nanmax(way) - np.nanmin(way)) * float(np.isfinite(x[members]).sum()) ** 0.5
        if score > best_score:
            best, best_score = found, score
    return best


def _gathered(
    x: Tracks, free: NDArray[np.bool_], seed: int
) -> tuple[NDArray[np.bool_], Floats] | None:
    """Take all points that go with the seed, the way growing with them."""
    members = np.zeros(len(x), bool)
    members[seed] = True
    way = x[seed].astype(np.float64)
    for _ in range(_ROUNDS):
        agree = _agreeing(x, way) & free
        agree[seed] = True
        if (agree == members).all():
            break
        members = agree
        way = _common_way(x[members], int(np.flatnonzero(np.isfinite(x[seed]))[0]))
    if members.sum() < _FEWEST:
        return None
    return members, way


def _agreeing(x: Tracks, way: Floats, loose: float = 1.0) -> NDArray[np.bool_]:
    """Tell which points go the way wherever both are known, and go at all there."""
    known = np.isfinite(way)
    off = x[:, known] - way[known]
    seen = np.isfinite(off)
    enough = seen.sum(axis=1) >= _FEWEST_FRAMES
    agree = np.zeros(len(x), bool)
    rows = np.flatnonzero(enough)
    off, seen = off[rows], seen[rows]
    there = np.where(seen, way[known], np.nan)
    travel = np.nanmax(there, axis=1) - np.nanmin(there, axis=1)
    middle = np.nanmedian(off, axis=1)
    wild = np.nanpercentile(np.abs(off - middle[:, None]), 90, axis=1)
    fits = wild < loose * (_LOOSE_PX + _LOOSE_SHARE * travel)
    # most of its life must lie on the way, or it only crosses it
    share = seen.sum(axis=1) / np.maximum(np.isfinite(x[rows]).sum(axis=1), 1)
    agree[rows] = fits & (travel > 2 * _LEAST_TRAVEL) & (share > 0.3)
    return agree


def _common_way(x: Tracks, start: int) -> Floats:
    """Give the way that the points share, as far as they hand it on without a gap."""
    steps = np.diff(x.astype(np.float64), axis=1)
    handed: NDArray[np.bool_] = np.asarray(np.isfinite(steps).any(axis=0))
    first, last = start, start
    while last < len(handed) and handed[last]:
        last += 1
    while first > 0 and handed[first - 1]:
        first -= 1
    part = x[:, first : last + 1].astype(np.float64)
    way = np.concatenate([[0.0], np.cumsum(np.nanmedian(steps[:, first:last], axis=0))])
    part = part[np.isfinite(part).any(axis=1)]
    for _ in range(3):
        offsets = np.nanmedian(part - way, axis=1)
        way = np.nanmedian(part - offsets[:, None], axis=0)
    whole = np.full(x.shape[1], np.nan)
    whole[first : last + 1] = way
    return whole
