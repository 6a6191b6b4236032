"""Any clip -> upright 8-bit frames with their true timestamps, decoded in a limited child."""

from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from outshop.media._parent import Child, Stream
from outshop.media.limits import DEFAULT, Limits
from outshop.media.sniff import Kind

ACCEPT: frozenset[Kind] = frozenset({"sound", "video"})


@dataclass(frozen=True, slots=True)
class VideoHead:
    """What is known once the first frame is decoded.

    Parameters
    ----------
    width, height : int
        Size of the frames given out, upright, in pixels.
    source_width, source_height : int
        Size as a player shows the clip, upright, in pixels.
    rotation_deg : int
        Turn that the file asks for, already applied (counter-clockwise).
    interlaced : bool
        Only the earlier field of each frame is used.
    nominal_rate_hz : float or None
        What the header says; time only ever by the timestamps.
    claimed_duration_s : float or None
        What the header says.
    codec : str
        Name of the coding.
    """

    width: int
    height: int
    source_width: int
    source_height: int
    rotation_deg: int
    interlaced: bool
    nominal_rate_hz: float | None
    claimed_duration_s: float | None
    codec: str


@dataclass(frozen=True, slots=True)
class Frame:
    """One frame.

    Parameters
    ----------
    t_s : float
        Presentation time from the container, in seconds.
    image : ndarray [shape=(h, w, 3) RGB or (h, w) grey, uint8]
        Upright picture.
    """

    t_s: float
    image: NDArray[np.uint8]


class VideoStream(Stream):
    """A clip being decoded; iterate once, inside ``with``.

    Made by :func:`open_video`. ``head`` is there at once; ``warnings`` is complete after
    the last frame. Memory use does not grow with the length.
    """

    def __init__(self, path: Path, limits: Limits, **how: Any) -> None:
        super().__init__(Child("video", path, limits, ACCEPT, **how))
        self.head = VideoHead(**self._facts)

    def __iter__(self) -> Iterator[Frame]:
        """Yield the frames in order.

        Raises
        ------
        MediaError
            The decoder gave up; what came before is good.
        """
        for piece in self._pieces():
            image = np.frombuffer(piece.raw, dtype=np.uint8).reshape(piece.facts["shape"])
            yield Frame(piece.facts["t_s"], image)


def open_video(
    path: Path | str,
    limits: Limits = DEFAULT,
    *,
    max_height: int | None = None,
    max_width: int | None = None,
    grey: bool = False,
    keyframes_only: bool = False,
) -> VideoStream:
    """Open any clip as a stream of upright frames.

    Parameters
    ----------
    path : path-like
        mp4, mov, mkv, webm, avi, ...; told apart by content.
    limits : Limits
        What the file may ask for.
    max_height : int, optional
        Frames higher than this are scaled down to it, in pixels.
    max_width : int, optional
        Frames wider than this, once upright, are scaled down to it, in pixels.
    grey : bool
        Give (h, w) brightness in place of (h, w, 3) RGB.
    keyframes_only : bool
        Give only the frames that stand alone, about one a second on phones; fast.

    Returns
    -------
    VideoStream
        A context manager.

    Raises
    ------
    MediaError
        No picture, no timestamps, damaged, cut off; the sentence says what to do.
    MediaLimitError
        Too long, too large or too slow.
    """
    return VideoStream(
        Path(path),
        limits,
        max_height=max_height,
        max_width=max_width,
        grey=grey,
        keyframes_only=keyframes_only,
    )
