"""A walk through a clip kept for another: of each frame only the tiles that changed.

As in conditional replenishment, an old way of sending pictures (Mounts 1969): a still world
costs nothing, and a passing model about its own area a frame.
"""

from collections.abc import Iterator

import cv2
import numpy as np
from numpy.typing import NDArray

from outshop.bench.motion.still import Grey
from outshop.media.video import Frame

_TILE = 32  # pixels on a side
_CELL = 8  # pixels on a side of the squares whose mean is watched
_LEAST = 3  # grey levels by which a mean must change
_AWAKE = 8  # frames for which a tile is kept on after its last change
_MOST_BYTES = 100_000_000
Index = NDArray[np.intp]


class Replay:
    """Keeps steady frames; ``whole`` tells whether all of them are still there."""

    def __init__(self) -> None:
        self.whole = True
        self._frames: list[tuple[float, Index, Grey]] = []
        self._bytes = 0
        self._shape = (0, 0)
        self._padded: Grey = np.zeros((0, 0), np.uint8)
        self._cells: Grey = np.zeros((0, 0), np.uint8)
        self._last = self._cells
        self._awake: NDArray[np.int16] = np.zeros((0, 0), np.int16)

    def add(self, t_s: float, frame: Grey) -> None:
        """Keep one frame."""
        if not self.whole:
            return
        if not self._frames:
            self._begin(frame)
        self._padded[: frame.shape[0], : frame.shape[1]] = frame
        cells = _means(self._padded)
        changed = self._changed(cells)
        where = np.flatnonzero(changed)
        pieces = _tiles(self._padded)[changed]
        across = np.repeat(np.repeat(changed, _TILE // _CELL, 0), _TILE // _CELL, 1)
        np.copyto(self._cells, cells, where=across)
        self._frames.append((t_s, where, pieces))
        self._bytes += pieces.nbytes
        if self._bytes > _MOST_BYTES:
            self.forget()

    def forget(self) -> None:
        """Give the memory back: too much moves."""
        self.whole = False
        self._frames = []

    def frames(self) -> Iterator[Frame]:
        """Walk through them again; each picture is the caller's own until the next one."""
        picture = np.zeros_like(self._padded)
        tiles = _tiles(picture)
        rows, columns = self._shape
        across = tiles.shape[1]
        for t_s, where, pieces in self._frames:
            tiles[where // across, where % across] = pieces
            yield Frame(t_s, picture[:rows, :columns])

    def _begin(self, frame: Grey) -> None:
        self._shape = (frame.shape[0], frame.shape[1])
        rows, columns = (-(-size // _TILE) * _TILE for size in self._shape)
        self._padded = np.zeros((rows, columns), np.uint8)
        self._cells = np.zeros((rows // _CELL, columns // _CELL), np.uint8)
        # nothing is known yet: all tiles count as changed
        self._awake = np.full((rows // _TILE, columns // _TILE), _AWAKE, np.int16)

    def _changed(self, cells: Grey) -> NDArray[np.bool_]:
        """Tell which tiles (rows, columns) changed just now or a moment ago."""
        first = not self._frames
        # what most squares do from one frame to the next is noise; a slow change is none
        step = cv2.absdiff(cells, cells if first else self._last)
        self._last = cells
        usual = int(np.partition(step.ravel(), 7 * step.size // 10)[7 * step.size // 10])
        limit = _LEAST * (1 + usual)
        off = cv2.absdiff(cells, self._cells)
        each = _TILE // _CELL
        rows, columns = self._awake.shape
        now = (off > limit).reshape(rows, each, columns, each).any(axis=(1, 3))
        np.subtract(self._awake, 1, out=self._awake)
        self._awake[now] = _AWAKE
        awake: NDArray[np.bool_] = self._awake > 0
        return awake | first


def _tiles(picture: Grey) -> Grey:
    """View a padded picture as (rows, columns, tile, tile)."""
    rows, columns = picture.shape[0] // _TILE, picture.shape[1] // _TILE
    tiles: Grey = picture.reshape(rows, _TILE, columns, _TILE).swapaxes(1, 2)
    return tiles


def _means(picture: Grey) -> Grey:
    size = (picture.shape[1] // _CELL, picture.shape[0] // _CELL)
    means: Grey = cv2.resize(picture, size, interpolation=cv2.INTER_AREA)
    return means
