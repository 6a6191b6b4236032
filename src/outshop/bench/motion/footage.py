"""A clip that can be walked through more than once, in grey, at a bounded size."""

from collections.abc import Iterator
from pathlib import Path
from types import TracebackType
from typing import Self

import numpy as np

from outshop.errors import MediaError
from outshop.media.limits import DEFAULT, Limits
from outshop.media.sniff import short_name
from outshop.media.video import Frame, VideoStream, open_video

WORK_WIDTH = 960  # pixels of the working picture: a third of a pixel on a 15 cm model is 0.2 %
_LONG_S = 90.0  # from here on the background is learnt from frames that stand alone
_ENOUGH_KEYFRAMES = 16
_MOST_KEYFRAMES = 200
_DARK = 12  # grey level below which nothing can be seen


class Footage:
    """Grey frames of a clip, decoded anew in each walk; close it when done.

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
        self._ready: VideoStream | None = self._open(keyframes_only=False)
        self.head = self._ready.head
        self.warnings: tuple[str, ...] = ()

    @property
    def scale(self) -> float:
        """Working pixels for one pixel of the clip as a player shows it."""
        return self.head.width / self.head.source_width

    @property
    def is_long(self) -> bool:
        """Too long to be walked through twice for nothing, as far as its header tells."""
        return (self.head.claimed_duration_s or 0.0) > _LONG_S

    def frames(self) -> Iterator[Frame]:
        """Walk through all frames in order of time."""
        with self._ready or self._open(keyframes_only=False) as stream:
            self._ready = None
            yield from stream
            self.warnings = stream.warnings

    def key_frames(self) -> list[Frame]:
        """Give some of the frames that stand alone, or none when those are too few."""
        keys: list[Frame] = []
        every = 1
        with self._open(keyframes_only=True) as stream:
            for number, frame in enumerate(stream):
                if number % every == 0:
                    keys.append(frame)
                if len(keys) >= _MOST_KEYFRAMES:
                    keys, every = keys[::2], 2 * every
        return keys if len(keys) >= _ENOUGH_KEYFRAMES else []

    def close(self) -> None:
        """End a decoder that was not used."""
        if self._ready is not None:
            self._ready.close()
            self._ready = None

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        self.close()

    def _open(self, *, keyframes_only: bool) -> VideoStream:
        return open_video(
            self.path,
            self._limits,
            max_width=WORK_WIDTH,
            grey=True,
            keyframes_only=keyframes_only,
        )


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
