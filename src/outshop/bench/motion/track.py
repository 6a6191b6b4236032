"""From footage to the model's path in pixels."""

from collections.abc import Callable
from dataclasses import dataclass, field, replace

import numpy as np
from numpy.typing import NDArray

from outshop.bench.motion.along import outgrown, uncover
from outshop.bench.motion.choose_mover import choose_mover
from outshop.bench.motion.creeping import Creep, find_creep
from outshop.bench.motion.footage import Footage, check_times
from outshop.bench.motion.layers import MARGIN, Places, Sheet, follow, learn_sheet, part_of
from outshop.bench.motion.movers import Sight, Watcher
from outshop.bench.motion.rough import is_whole, rough_places
from outshop.bench.motion.slant import Slant, reach_of, straighten_sight, straighten_still
from outshop.bench.motion.still import Still
from outshop.bench.motion.trust import check_leaps, leaps_often, runs_over
from outshop.bench.motion.uncovered import Uncovered
from outshop.bench.motion.walks import Walks
from outshop.errors import MediaError

Floats = NDArray[np.float64]
# of its length: ways between which a model hides part of its background most of the time
_NEAR_WAY, _FREE_WAY = 0.8, 2.2
_CREEP_WAY = 1.2  # of its length: farther than that a model does not creep
_MOST_FRAMES = 0.8  # share of the frames in which such a model must be followed
_SCRAP_SHARE = 0.35  # of the frames in which something moves: a model followed in fewer is a scrap
_THIN_SHARE = 0.5  # of the same: below it the reader is warned
_FEWEST_SIGHTS = 8
_COVERED = 0.5
_BEYOND_PX, _BEYOND_SHARE = 8.0, 0.08  # by which points may lie beyond it
_NEAR_PX = 2.0  # of where a place was expected
# pixels, and share of the way, between points followed and places of the sheet
_AGREE_PX, _AGREE_SHARE = 4.0, 0.015
_SQUARE = Slant()
_LEAST_SLANT = 0.015  # change of scale over the way below which nothing is straightened


@dataclass(frozen=True, slots=True)
class Trail:
    """The model's way through the picture.

    Parameters
    ----------
    t_s, x, y : ndarray [shape=(n,)]
        Time, and place of the sheet's corner in working pixels.
    sheet : Sheet
        The model as learnt.
    whole : bool
        The whole model is seen at once, so its length can be the ruler.
    zoom_per_px : float
        Relative growth of the picture's scale for one pixel to the right.
    zoom_error : float
        Standard error of that.
    teachers_x : ndarray [shape=(m,)]
        Where the sheet lay in the frames that it was learnt from.
    times_s : ndarray
        Times of all frames, with and without the model.
    picture : tuple of int
        Width and height of the working picture.
    """

    t_s: Floats
    x: Floats
    y: Floats
    sheet: Sheet
    whole: bool
    teachers_x: Floats
    zoom_per_px: float = 0.0
    zoom_error: float = 0.0
    slant: Slant = Slant()  # noqa: RUF009 - frozen
    shift: float = 0.0
    times_s: Floats = field(default_factory=lambda: np.zeros(0))
    picture: tuple[int, int] = (0, 0)
    warnings: tuple[str, ...] = ()

    def to_picture(self, x: Floats, y: Floats) -> tuple[Floats, Floats]:
        """Send places of the straightened picture to working pixels of the clip."""
        return self.slant.to_picture(x - self.shift, y)

    def straighten(self, x: Floats, y: Floats) -> tuple[Floats, Floats]:
        """Send working pixels of the clip to places of the straightened picture."""
        sx, sy = self.slant.straighten(x, y)
        return sx + self.shift, sy


def find_trail(
    footage: Footage,
    pick: tuple[float, float] | None = None,
    progress: Callable[[float], None] | None = None,
) -> Trail:
    """Follow the model through the clip.

    Parameters
    ----------
    footage : Footage
        The clip.
    pick : tuple of float, optional
        A point of the right object in working pixels, when more than one thing moves.

    progress : callable, optional
        Told the share done, 0 to 1.

    Returns
    -------
    Trail
        Places in pixels over the container's times.

    Raises
    ------
    MediaError
        Black, one frame, a moving camera, nothing moves, two things move.
    """
    told = progress or (lambda _share: None)
    walks = Walks(footage)
    told(0.5)
    still = walks.still
    watcher = _watch(walks, still)
    check_times(walks.times_s, footage.name)
    told(0.8)
    width, height = footage.head.width, footage.head.height
    trail: Trail | None = None
    trouble: MediaError | None = None
    try:
        trail = _trail(watcher, still, footage, pick)
    except MediaError as problem:
        trouble = problem
    scrap = trail is not None and len(trail.t_s) < _SCRAP_SHARE * watcher.busy
    if _sure(trail, watcher) and trail is not None and not _outgrown(trail, walks, still):
        pass
    elif (pointed := _pointed_trail(walks, still, footage, pick)) is not None:
        trail = pointed
    elif pick is None and _unsure(trail) and (near := _near_trail(walks, still, footage)):
        trail = near
    elif (scrap or _doubtful(trail)) and still.empty is not None:
        # a model longer than the picture hides the background most of the time
        clear = replace(still, background=still.empty)
        trail = _trail(_watch(walks, clear), clear, footage, pick)
    elif _doubtful(trail) and pick is None:
        trail = _creeping_trail(walks, still) or trail
    told(1.0)
    if trail is None:
        raise trouble or MediaError(f"nothing moves along in {footage.name}")
    check_leaps(trail.t_s, trail.x, footage.name)
    warnings = list(footage.warnings)
    if len(trail.t_s) < _THIN_SHARE * watcher.busy:
        warnings.append(
            f"it was followed in only {len(trail.t_s)} of {watcher.busy} frames in which something "
            "moved: look at the track before trusting the figures"
        )
    if walks.shake_px > 2:
        warnings.append(f"the camera shook by up to {walks.shake_px:.0f} pixels; taken out")
    return replace(
        trail, times_s=np.array(walks.times_s), picture=(width, height), warnings=tuple(warnings)
    )


def _watch(walks: Walks, still: Still) -> Watcher:
    """Find and link what moves, in a second walk."""
    watcher = Watcher(still)
    for frame in walks.frames():
        watcher.add(frame.t_s, frame.image)
    return watcher


def _trail(
    watcher: Watcher, still: Still, footage: Footage, pick: tuple[float, float] | None
) -> Trail:
    width = footage.head.width
    mover = choose_mover(watcher.movers(), width, footage.name, pick)
    return _follow_straightened(mover.sights, still, width)


def _doubtful(trail: Trail | None) -> bool:
    """Nothing found, not seen whole, or moved by so little that the background is unsure."""
    if trail is None or not trail.whole:
        return True
    return bool(np.ptp(trail.x) < 1.2 * trail.sheet.cover.shape[1])


def _unsure(trail: Trail | None) -> bool:
    """Tell whether the model hid some of the background in most frames, or that may be."""
    if trail is None or not trail.whole:
        return True
    return bool(np.ptp(trail.x) < _FREE_WAY * trail.sheet.cover.shape[1])


def _sure(trail: Trail | None, watcher: Watcher) -> bool:
    """Tell whether the patches followed leave no doubt."""
    if trail is None or _unsure(trail) or len(trail.t_s) < _MOST_FRAMES * watcher.busy:
        return False
    return not leaps_often(trail.t_s, trail.x)


def _outgrown(trail: Trail, walks: Walks, still: Still) -> bool:
    """Tell whether the model is larger than what was taken for it."""
    columns = np.flatnonzero((trail.sheet.cover > _COVERED).any(axis=0))
    if not len(columns):
        return True
    ends = [trail.to_picture(trail.x + end, trail.y)[0] for end in (columns[0], columns[-1] + 1)]
    return outgrown(walks, still, trail.t_s, (ends[0], ends[1]), still.background.shape[1])


def _pointed_trail(
    walks: Walks,
    still: Still,
    footage: Footage,
    pick: tuple[float, float] | None,
    slant: Slant | None = None,
) -> Trail | None:
    """Follow the model along the way that its points tell; None unless both agree."""
    found = uncover(walks, still, footage, pick, slant)
    if found is None or len(found.sights) < _FEWEST_SIGHTS:
        return None
    if np.ptp(found.x) < _NEAR_WAY * (found.sights[0].box.right - found.sights[0].box.left):
        return None  # it hides some of its background all the time
    try:
        trail = _follow_straightened(found.sights, found.still, footage.head.width, found.slant)
    except MediaError:
        return None
    if not _agrees(trail, found.sights, found.x):
        if slant is None and trail.slant.q and not found.slant.q:
            # the sheet tells a slant that its few points did not
            return _pointed_trail(walks, still, footage, pick, trail.slant)
        return None
    if not found.slant.q and _lacks_points(trail, found):
        return replace(trail, whole=False)  # an end of it looks like the wall
    return trail


def _lacks_points(trail: Trail, found: Uncovered) -> bool:
    """Tell whether some of the model's points lie beyond its sheet."""
    columns = np.flatnonzero((trail.sheet.cover > _COVERED).any(axis=0))
    if not len(columns):
        return True
    x = _told(trail, found.sights, found.x)
    low, high = (trail.straighten(x + edge, trail.y)[0] - trail.x for edge in found.reach)
    beyond = max(columns[0] - float(np.median(low)), float(np.median(high)) - columns[-1])
    return bool(beyond > max(_BEYOND_PX, _BEYOND_SHARE * float(np.ptp(columns))))


def _told(trail: Trail, sights: list[Sight], told_x: Floats) -> Floats:
    """Give the places told, of the frames in which it was placed."""
    told = {s.t_s: x for s, x in zip(sights, told_x, strict=True)}
    return np.array([told[t] for t in trail.t_s])


def _agrees(trail: Trail, sights: list[Sight], told_x: Floats) -> bool:
    """Tell whether the places found are those that the points told."""
    x, _ = trail.straighten(_told(trail, sights, told_x), trail.y)
    off = trail.x - x
    most = max(_AGREE_PX, _AGREE_SHARE * float(np.ptp(trail.x)))
    return bool(np.percentile(np.abs(off - np.median(off)), 80) < most)


def _near_trail(walks: Walks, still: Still, footage: Footage) -> Trail | None:
    """Follow a model that starts in the picture and does not get two lengths away.

    It hides the middle of its way in most frames, so the median shows it there; its own
    points tell where it is, and so which frames show the background.
    """
    creep = find_creep(walks.frames(), still)
    if creep is None or np.ptp(creep.x) < _NEAR_WAY * creep.size[0]:
        return None
    try:
        trail = _trail(_watch(walks, creep.still), creep.still, footage, None)
    except MediaError:
        return _again(creep, footage.head.width)
    whole = trail.whole and len(trail.t_s) > _MOST_FRAMES * len(creep.sights)
    return trail if whole else _again(creep, footage.head.width)


def _again(creep: Creep, width: int) -> Trail | None:
    """Follow what the points told, where the patches cannot be linked; None unless both agree."""
    try:
        trail = _follow_straightened(creep.sights, creep.still, width)
    except MediaError:
        return None
    if not trail.whole or len(trail.t_s) < _MOST_FRAMES * len(creep.sights):
        return None
    return trail if _agrees(trail, creep.sights, creep.x) else None


def _creeping_trail(walks: Walks, still: Still) -> Trail | None:
    creep = find_creep(walks.frames(), still)
    if creep is None:
        return None
    y = np.full(len(creep.x), creep.top)
    sheet, teachers_x, _ = learn_sheet(creep.sights, creep.x, y, creep.size, creep.still, rounds=0)
    if np.ptp(creep.x) > _CREEP_WAY * creep.size[0]:
        return None  # then it did not hide its background all the time: it is a part of something
    t = np.array([s.t_s for s in creep.sights])
    whole = not runs_over(sheet)
    return Trail(t, creep.x - MARGIN, y - MARGIN, sheet, whole=whole, teachers_x=teachers_x)


def _follow_straightened(
    sights: list[Sight], still: Still, width: int, slant: Slant = _SQUARE
) -> Trail:
    """Follow; where the camera looks at a slant, straighten the picture and follow again."""
    trail, zoom, zoom_error, reach, shift = _follow_at(slant, sights, still, width)
    for _ in range(2):
        if abs(zoom) * reach < _LEAST_SLANT or abs(zoom) < 5 * zoom_error:
            break
        middle = float(np.median(trail.x)) + trail.sheet.cover.shape[1] / 2 - shift
        row = float(np.median(trail.y)) + trail.sheet.cover.shape[0] / 2
        slant = slant.stronger(zoom / 2) if slant.q else Slant(zoom / 2, middle, row)
        trail, zoom, zoom_error, reach, shift = _follow_at(slant, sights, still, width)
    return replace(trail, slant=slant, shift=shift, zoom_per_px=zoom, zoom_error=zoom_error)


def _follow_at(
    slant: Slant, sights: list[Sight], still: Still, width: int
) -> tuple[Trail, float, float, float, float]:
    """Follow in the picture made straight; also give the shift that keeps it inside."""
    if not slant.q:
        return *_follow(sights, still, width), 0.0
    shift, wide = reach_of(slant, still.background.shape)
    if not 0 < wide < 4 * width:
        raise MediaError("the camera looks along the track: set it up square to the track")
    straight = [straighten_sight(s, slant, wide, shift) for s in sights]
    return *_follow(straight, straighten_still(still, slant, shift), wide), shift


def _follow(all_sights: list[Sight], still: Still, width: int) -> tuple[Trail, float, float, float]:
    """Learn the sheet and place it everywhere; also give the remaining change of scale."""
    sights, box_x, box_y, size, whole = rough_places(all_sights, width)
    inside = [i for i, s in enumerate(sights) if is_whole(s.box, width) or not whole]
    sheet, teachers_x, _ = learn_sheet(
        [sights[i] for i in inside], box_x[inside], box_y[inside], size, still
    )
    margin = (sheet.cover.shape[1] - size[0]) // 2
    places = follow(sights, sheet, still, box_x - margin, box_y - margin)
    good = _good(places, box_x - margin)
    whole = whole and not runs_over(sheet)
    zoom, zoom_error = _zoom(sights, places, good, sheet, still)
    trail = Trail(places.t_s[good], places.x[good], places.y[good], sheet, whole, teachers_x)
    return trail, zoom, zoom_error, float(np.ptp(trail.x))


def _good(places: Places, told_x: Floats) -> NDArray[np.bool_]:
    """Tell which places are to be believed; ``told_x`` is where the search began."""
    usual = float(np.median(places.fit[places.inside > 0.9])) if (places.inside > 0.9).any() else 1
    good = (places.inside > 0.25) & (places.fit < max(2.0 * usual, usual + 0.6))
    # a model that moves fast is blurred and fits worse than at rest, where it is all the same
    off = places.x - told_x
    near = np.abs(off - np.median(off)) < _NEAR_PX
    good |= near & (places.inside > 0.9) & (places.fit < max(5.0 * usual, usual + 3.0))
    if good.sum() < 5:
        raise MediaError(
            "the moving thing changes its look all the time and cannot be followed: show the "
            "model from the side in even light"
        )
    return good


def _zoom(
    sights: list[Sight], places: Places, good: NDArray[np.bool_], sheet: Sheet, still: Still
) -> tuple[float, float]:
    """Relative change of scale along the picture, from how far front and rear stand apart."""
    use = np.flatnonzero(good & (places.inside > 0.98))
    if len(use) < 12:
        return 0.0, 0.0
    use = use[np.unique(np.linspace(0, len(use) - 1, 48).round().astype(int))]
    w = sheet.cover.shape[1]
    third = w // 3
    chosen = [sights[i] for i in use]
    parts = [part_of(sheet, columns) for columns in (slice(0, third), slice(w - third, w))]
    rear, front = (follow(chosen, p, still, places.x[use], places.y[use]).x for p in parts)
    apart = front - rear
    x = places.x[use]
    reach = float(np.ptp(x))
    if reach < 0.5 * w:
        return 0.0, 0.0
    keep = np.abs(apart - np.median(apart)) < 5 * np.median(np.abs(apart - np.median(apart))) + 0.5
    if keep.sum() < 10:
        return 0.0, 0.0
    line, covariance = np.polyfit(x[keep], apart[keep], 1, cov=True)
    # the thirds' middles are 2/3 of the width apart
    between = w - third
    return float(line[0]) / between, float(np.sqrt(covariance[0, 0])) / between
