"""The printed strip in a clip: find its markers, and make them a ruler."""

import math
from collections import Counter, defaultdict
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import cv2
import numpy as np
from numpy.typing import NDArray

from outshop.bench.motion.strip import DICTIONARY, Strip, strip_of
from outshop.errors import MediaError
from outshop.media.limits import DEFAULT, Limits
from outshop.media.sniff import short_name
from outshop.media.video import open_video

Floats = NDArray[np.float64]
Found = dict[int, Floats]  # number of a marker -> its corners (4, 2), in pixels of the clip
_WIDEST = 1920  # pixels: larger pictures are shrunk, which finds small markers no worse
_FRAMES = 12
_ENOUGH_KEYFRAMES = 5
_EVERY = 6  # frames from look to look where few stand alone
_LEAST_PX = 0.12  # least standard error of a corner, pixels of the clip (our choice)
# misfit beyond which the strip is bent or a marker belongs elsewhere: pixels, share of a side
_FAR_OFF_PX, _FAR_OFF_SHARE = 0.7, 0.025
_DRAWN_IN = 0.03  # share of a side by which corners are tried drawn in by blur
_SINGLE_PX = 40  # side of a marker below which it is no ruler alone


@dataclass(frozen=True, slots=True)
class Sighting:
    """A strip as it is seen.

    Parameters
    ----------
    strip : Strip
        Which.
    numbers : tuple of int
        Markers seen, left to right on the strip.
    picture : ndarray [shape=(4 * m, 2)]
        Their corners in pixels of the clip as a player shows it.
    paper : ndarray [shape=(4 * m, 2)]
        The same corners on the strip, in mm as designed, drawn in as blur draws them in.
    error_px : float
        Standard error of a corner, in pixels of the clip.
    warnings : tuple of str
        What a careful reader should know.
    """

    strip: Strip
    numbers: tuple[int, ...]
    picture: Floats
    paper: Floats
    error_px: float
    warnings: tuple[str, ...] = ()

    @property
    def side_px(self) -> float:
        """Usual side of a marker, in pixels of the clip."""
        quads = self.picture.reshape(-1, 4, 2)
        return float(np.median(np.hypot(*np.moveaxis(quads - np.roll(quads, 1, axis=1), 2, 0))))


def find_strip(path: Path | str, limits: Limits = DEFAULT) -> Sighting | None:
    """Look for a printed strip in a clip.

    Parameters
    ----------
    path : path-like
        The clip.
    limits : Limits
        What it may ask for.

    Returns
    -------
    Sighting or None
        In the geometry of the clip's first frame; None when no marker is seen.

    Raises
    ------
    MediaError
        The clip cannot be used; or what is seen of the strip is too little for a ruler.
    """
    looks = [_markers(image) for image in _some_frames(Path(path), limits)]
    strip = _seen_best(looks)
    if strip is None:
        return None
    mine = [{n: q for n, q in look.items() if n in strip.numbers} for look in looks]
    return _sighting(strip, _together(mine), short_name(Path(path)))


def _some_frames(path: Path, limits: Limits) -> Iterator[NDArray[np.uint8]]:
    """Give up to twelve grey frames spread over the clip, the first one first."""
    with open_video(path, limits, grey=True, keyframes_only=True) as stream:
        keys = [frame.image for frame, _ in zip(stream, range(_FRAMES), strict=False)]
    if len(keys) >= _ENOUGH_KEYFRAMES:
        yield from keys
        return
    with open_video(path, limits, grey=True) as stream:
        for number, frame in enumerate(stream):
            if number >= _FRAMES * _EVERY:
                break
            if number % _EVERY == 0:
                yield frame.image


def _markers(image: NDArray[np.uint8]) -> Found:
    """Find single markers; a number that is seen twice tells nothing and is left out."""
    shrunk = min(1.0, _WIDEST / max(image.shape))
    small = image if shrunk == 1 else cv2.resize(
        image, None, fx=shrunk, fy=shrunk, interpolation=cv2.INTER_AREA
    )  # fmt: skip
    how = cv2.aruco.DetectorParameters()
    how.cornerRefinementMethod = cv2.aruco.CORNER_REFINE_SUBPIX
    how.adaptiveThreshWinSizeMax = 43
    detector = cv2.aruco.ArucoDetector(cv2.aruco.getPredefinedDictionary(DICTIONARY), how)
    corners, numbers, _ = detector.detectMarkers(small)
    if numbers is None:
        return {}
    flat = [int(n) for n in np.ravel(numbers)]
    often = Counter(flat)
    # pixel centres of the shrunk picture lie elsewhere
    return {
        n: (np.asarray(q, dtype=np.float64).reshape(4, 2) + 0.5) / shrunk - 0.5
        for n, q in zip(flat, corners, strict=True)
        if often[n] == 1
    }


def _seen_best(looks: list[Found]) -> Strip | None:
    """Choose the strip of which most is seen, marker by marker and frame by frame."""
    shares: dict[Strip, float] = defaultdict(float)
    for look in looks:
        for number in look:
            strip = strip_of(number)
            if strip is not None:
                shares[strip] += strip.pitch_mm
    # a stray pattern taken for a marker comes once, a strip comes again
    often = {s: v for s, v in shares.items() if v > s.pitch_mm or len(looks) < 3}
    return max(often, key=lambda s: often[s]) if often else None


def _together(looks: list[Found]) -> Found:
    """Lay all looks over the first one, so that shake and noise average out."""
    base = dict(next((look for look in looks if look), {}))
    rows: dict[int, list[Floats]] = {n: [q] for n, q in base.items()}
    for look in looks[1:]:
        shared = sorted(set(look) & set(base))
        matrix = _similarity(look, base, shared) if shared else np.eye(3)[:2]
        for number, quad in look.items():
            laid = quad @ matrix[:, :2].T + matrix[:, 2]
            rows.setdefault(number, []).append(laid)
            base.setdefault(number, laid)
    least = 2 if len(looks) >= 3 else 1
    return {n: np.median(q, axis=0) for n, q in rows.items() if len(q) >= least}


def _similarity(there: Found, here: Found, shared: list[int]) -> Floats:
    """Shift, turn and zoom (2, 3) that bring one look onto the other."""
    x, y = np.concatenate([there[n] for n in shared]).T
    u, v = np.concatenate([here[n] for n in shared]).T
    if len(shared) < 2:  # a single marker tells a shift at most
        return np.array([[1, 0, np.mean(u - x)], [0, 1, np.mean(v - y)]])
    one, zero = np.ones_like(x), np.zeros_like(x)
    system = np.vstack([np.stack([x, -y, one, zero], 1), np.stack([y, x, zero, one], 1)])
    a, b, c, d = np.linalg.lstsq(system, np.concatenate([u, v]), rcond=None)[0]
    return np.array([[a, -b, c], [b, a, d]])


def _sighting(strip: Strip, seen: Found, name: str) -> Sighting | None:
    """Keep the markers that lie on one plane as designed."""
    numbers = sorted(seen)
    seen_at_first = len(numbers)
    while len(numbers) > 1:
        off, side = _misfit(strip, seen, numbers)
        if off < max(_FAR_OFF_PX, _FAR_OFF_SHARE * side):
            break
        if len(numbers) == 2:
            raise MediaError(
                f"the markers seen in {name} do not lie as on the printed strip: glue it flat on "
                "card, and show one strip only"
            )
        _, worst = min(
            (_misfit(strip, seen, [k for k in numbers if k != n])[0], n) for n in numbers
        )
        numbers.remove(worst)
    dropped = seen_at_first - len(numbers)
    if not numbers:
        return None
    picture = np.concatenate([seen[n] for n in numbers])
    paper = np.concatenate([strip.corners(n) for n in numbers])
    error = _LEAST_PX
    if len(numbers) > 1:
        paper = as_seen(paper, picture)
        rest = picture - project(homography(paper, picture), paper)
        error = max(error, math.sqrt(float((rest**2).sum()) / (2 * len(rest) - 8)))
    found = Sighting(
        strip, tuple(numbers), picture, paper, error, _remarks(strip, numbers, dropped)
    )
    if len(numbers) == 1 and found.side_px < _SINGLE_PX:
        raise MediaError(
            f"only one marker of the printed strip is seen in {name}, {found.side_px:.0f} pixels "
            "wide: too little for a ruler; show at least two whole markers, or go nearer"
        )
    return found


def _but(numbers: list[int], left_out: int) -> list[int]:
    return [n for n in numbers if n != left_out]


def _misfit(strip: Strip, seen: Found, numbers: list[int]) -> tuple[float, float]:
    """How far the corners lie from the strip's plane (root mean square), and a marker's side."""
    paper = np.concatenate([strip.corners(n) for n in numbers])
    picture = np.concatenate([seen[n] for n in numbers])
    rest = picture - project(homography(paper, picture), paper)
    side = float(np.hypot(*(picture[1] - picture[0])))
    return float(np.sqrt((rest**2).sum(axis=1).mean())), side


def _remarks(strip: Strip, numbers: list[int], dropped: int) -> tuple[str, ...]:
    remarks = []
    if len(numbers) == 1:
        remarks.append(
            "only one marker of the printed strip is seen whole: the ruler is short; show more"
        )
    elif len(numbers) < min(4, strip.count):
        remarks.append(
            f"only {len(numbers)} markers of the printed strip are seen whole: show more"
        )
    if dropped:
        plural = "marker lies" if dropped == 1 else "markers lie"
        remarks.append(
            f"{dropped} {plural} off the line of the strip and was left out: glue it flat on card"
        )
    return tuple(remarks)


def as_seen(paper: Floats, picture: Floats) -> Floats:
    """Draw the markers' corners in (or out) by the share that fits the picture best.

    Blur rounds a corner, so that it is found inside its true place; the middles of the
    markers stay where they are. The misfit is a parabola of that share.
    """
    quads = paper.reshape(-1, 4, 2)
    middles = quads.mean(axis=1, keepdims=True)
    tried = np.array([-_DRAWN_IN, 0.0, _DRAWN_IN])
    misfits = []
    for share in tried:
        drawn = (middles + (1 + share) * (quads - middles)).reshape(-1, 2)
        misfits.append(float(((picture - project(homography(drawn, picture), drawn)) ** 2).sum()))
    curve, slope, _ = np.polyfit(tried, misfits, 2)
    if curve <= 0:
        return paper
    best = float(np.clip(-slope / (2 * curve), -2 * _DRAWN_IN, 2 * _DRAWN_IN))
    found: Floats = (middles + (1 + best) * (quads - middles)).reshape(-1, 2)
    return found


def homography(here: Floats, there: Floats) -> Floats:
    """Least-squares projection (3, 3) of a plane from points (n, 2), n >= 4.

    Hartley and Zisserman 2004, algorithm 4.2, refined by Levenberg and Marquardt (OpenCV).
    """
    matrix, _ = cv2.findHomography(here, there, 0)
    if matrix is None:
        raise MediaError("the markers of the printed strip do not lie on a plane: glue it on card")
    return np.asarray(matrix, dtype=np.float64)


def project(matrix: Floats, points: Floats) -> Floats:
    """Send points (n, 2) through a projection (3, 3)."""
    lifted = points @ matrix[:, :2].T + matrix[:, 2]
    projected: Floats = lifted[:, :2] / lifted[:, 2:]
    return projected
