"""Any sound or clip -> mono samples, decoded in a limited child process."""

from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from outshop.media._parent import Child, Stream
from outshop.media.limits import DEFAULT, Limits
from outshop.media.sniff import Kind

ACCEPT: frozenset[Kind] = frozenset({"sound", "video"})


@dataclass(frozen=True, slots=True)
class SoundHead:
    """What is known once the first piece is decoded.

    Parameters
    ----------
    sample_rate_hz : int
        Samples a second, as decoded.
    channels : int
        Channels before the mix-down.
    claimed_duration_s : float or None
        What the header says; compare, never trust.
    codec : str
        Name of the coding.
    start_s : float
        Time of the first sample on the container's clock, which a clip's frames go by too.
    warnings : tuple of str
        What a careful reader should know.
    """

    sample_rate_hz: int
    channels: int
    claimed_duration_s: float | None
    codec: str
    start_s: float = 0.0
    warnings: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class SoundBlock:
    """Some samples in a row.

    Parameters
    ----------
    samples : ndarray [shape=(n,), float32]
        Mean of all channels; full scale is 1.
    clipped : int
        How many of the n moments touch full scale in any channel before the mix-down.
    """

    samples: NDArray[np.float32]
    clipped: int


@dataclass(frozen=True, slots=True)
class Sound:
    """A whole recording in memory.

    Parameters
    ----------
    samples : ndarray [shape=(n,), float32]
        Mean of all channels; full scale is 1.
    sample_rate_hz : int
        Samples a second.
    duration_s : float
        Length as decoded, in seconds.
    clipped_share : float
        Share of moments that touch full scale in any channel, 0 to 1.
    warnings : tuple of str
        What a careful reader should know.
    """

    samples: NDArray[np.float32]
    sample_rate_hz: int
    duration_s: float
    clipped_share: float
    warnings: tuple[str, ...]


class SoundStream(Stream):
    """A recording being decoded; iterate once, inside ``with``.

    Made by :func:`open_sound`. ``head`` is there at once; ``warnings`` is complete after
    the last block. Memory use does not grow with the length.
    """

    def __init__(self, path: Path, limits: Limits) -> None:
        super().__init__(Child("sound", path, limits, ACCEPT))
        self.head = SoundHead(**self._facts)

    def __iter__(self) -> Iterator[SoundBlock]:
        """Yield the blocks in order.

        Raises
        ------
        MediaError
            The decoder gave up; what came before is good.
        """
        for piece in self._pieces():
            samples = np.frombuffer(piece.raw, dtype=np.float32)
            yield SoundBlock(samples, piece.facts["clipped"])


def open_sound(path: Path | str, limits: Limits = DEFAULT) -> SoundStream:
    """Open any sound file, or the sound track of a clip, as a stream of mono blocks.

    Parameters
    ----------
    path : path-like
        wav (8 to 32 bit, float), m4a, mp3, ogg, flac, aac, aiff, caf, mp4, mov, mkv, ...
        told apart by content, never by name.
    limits : Limits
        What the file may ask for.

    Returns
    -------
    SoundStream
        A context manager.

    Raises
    ------
    MediaError
        Empty, no sound, damaged, cut off; the sentence names the file and what to do.
    MediaLimitError
        Too long, too large or too slow.
    """
    return SoundStream(Path(path), limits)


def read_sound(path: Path | str, limits: Limits = DEFAULT) -> Sound:
    """Decode a whole recording into memory (an hour at 48 kHz takes 700 MB: then stream).

    Parameters and errors as for :func:`open_sound`.
    """
    with open_sound(path, limits) as stream:
        blocks = list(stream)
        samples = np.concatenate([block.samples for block in blocks])
        clipped = sum(block.clipped for block in blocks)
        return Sound(
            samples,
            stream.head.sample_rate_hz,
            len(samples) / stream.head.sample_rate_hz,
            clipped / len(samples),
            stream.head.warnings + stream.warnings,
        )
