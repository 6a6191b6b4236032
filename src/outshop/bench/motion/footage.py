"""A clip that can be walked through more than once, in grey, at a bounded size."""

from collections.abc import Iterator
from pathlib import Path

import numpy as np

from outshop.errors import MediaError
from outshop.media.limits import DEFAULT, Limits
from outshop.media.sniff import short_name
from outshop.media.video import Frame, VideoHead, VideoStream, open_video

WORK_WIDTH = 960  # pixels of the working picture: a third of a pixel on a 15 cm model is 0.2 %
_CACHE_BYTES = 160_000_000
_ENOUGH_KEYFRAMES = 16
_DARK = 12  # grey level below which nothing can be seen


class Footage:
    """Grey frames of a clip; a short clip is decoded once and kept, a long one re-read.

    Parameters
    ----------
    path : Path
        The clip.
    limits : Limits
        What it may ask for.

    Raises
    ------
    MediaError
        The clip cannot be used.
    """

    def __init__(self, path: Path, limits: Limits = DEFAULT) -> None:
        self.path = path
        self.name = short_name(path)
        self._limits = limits
        self._cache: list[Frame] | None = None
        self._height = WORK_WIDTH * 9 // 16
        self.head = self._opened_head()
        self.warnings: tuple[str, ...] = ()

    @property
    def scale(self) -> float:
        """Working pixels for one pixel of the clip as a player shows it."""
        return self.head.width / self.head.source_width

    def frames(self) -> Iterator[Frame]:
        """Walk through all frames in order of time."""
        if self._cache is not None:
            yield from self._cache
            return
        kept: list[Frame] | None = []
        size = 0
        with self._open(keyframes_only=False) as stream:
            for frame in stream:
                if kept is not None:
                    kept.append(frame)
                    size += frame.image.nbytes
                    if size > _CACHE_BYTES:
                        kept = None
                yield frame
            self.warnings = stream.warnings
        self._cache = kept

    def preview(self) -> Iterator[Frame]:
        """Walk through the frames that stand alone, or all when those are too few."""
        with self._open(keyframes_only=True) as stream:
            keys = []
            for frame in stream:
                keys.append(frame)
                if len(keys) >= 200:
                    keys = keys[::2]
        yield from keys if len(keys) >= _ENOUGH_KEYFRAMES else self.frames()

    def _open(self, *, keyframes_only: bool) -> VideoStream:
        return open_video(
            self.path,
            self._limits,
            max_height=self._height,
            grey=True,
            keyframes_only=keyframes_only,
        )

    def _opened_head(self) -> VideoHead:
        with self._open(keyframes_only=True) as stream:
            head = stream.head
        if head.height > head.width:  # upright clip: keep the width, not the height
            self._height = round(WORK_WIDTH * head.source_height / head.source_width)
            with self._open(keyframes_only=True) as stream:
                head = stream.head
        return head


def check_times(times_s: list[float], name: str) -> None:
    """Refuse a clip whose clock does not run.

    Raises
    ------
    MediaError
        One frame only, or times that do not grow.
    """
    if len(times_s) < 2:
        raise MediaError(f"{name} has a single frame, which shows no motion: record a clip")
    steps = np.diff(times_s)
    if (steps <= 0).mean() > 0.1:
        raise MediaError(
            f"{name} gives its frames the same time again and again, so no speed can be had: "
            "use the clip as the phone saved it"
        )


def check_light(brightest: float, name: str) -> None:
    """Refuse a clip in which nothing can be seen."""
    if brightest < _DARK:
        raise MediaError(f"{name} is black: take the cap or the finger away and give more light")
