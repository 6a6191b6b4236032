"""In the child: brightness straight from a decoded frame's first plane, shrunk by averaging."""

from typing import Any

import cv2
import numpy as np
from numpy.typing import NDArray

Grey = NDArray[np.uint8]
# pixel formats whose first plane is brightness, and the bits of one value in it
_BITS = {
    "gray": 8, "yuv420p": 8, "yuv422p": 8, "yuv444p": 8, "nv12": 8,
    "yuvj420p": 8, "yuvj422p": 8, "yuvj444p": 8,
    "yuv420p10le": 10, "yuv422p10le": 10, "yuv444p10le": 10, "yuv420p12le": 12,
}  # fmt: skip
_FULL_RANGE = 2  # AVCOL_RANGE_JPEG
# ITU-R BT.601 and BT.709: black is 16 and white 235 of 255 where the range is not full
_BLACK, _WHITE = 16, 235
_CODES = {1: cv2.ROTATE_90_COUNTERCLOCKWISE, 2: cv2.ROTATE_180, 3: cv2.ROTATE_90_CLOCKWISE}


def readable(frame: Any) -> bool:
    """Tell whether the first plane of this frame is plain brightness."""
    return frame.format.name in _BITS


def luma(frame: Any, size: tuple[int, int], step: int, first_row: int) -> Grey:
    """Give the brightness at ``size`` (width, height), from every ``step``-th row."""
    plane = frame.planes[0]
    bits = _BITS[frame.format.name]
    kind = np.dtype(np.uint8) if bits == 8 else np.dtype("<u2")
    rows = np.frombuffer(plane, kind).reshape(plane.height, plane.line_size // kind.itemsize)
    small = _shrunk(rows[first_row::step, : frame.width], size)
    full = frame.color_range == _FULL_RANGE or frame.format.name.startswith(("yuvj", "gray"))
    grow = 2.0 ** (8 - bits)
    if full and bits == 8:
        plain: Grey = np.ascontiguousarray(small)
        return plain
    lift = 0.0 if full else -255 * _BLACK / (_WHITE - _BLACK)
    grow *= 1.0 if full else 255 / (_WHITE - _BLACK)
    if bits > 8:
        deep: Grey = np.clip(small * np.float32(grow) + np.float32(lift), 0, 255).astype(np.uint8)
        return deep
    table = np.clip(np.arange(256) * grow + lift, 0, 255).round().astype(np.uint8)
    levelled: Grey = cv2.LUT(small, table)
    return levelled


def turned(image: Grey, quarters: int) -> Grey:
    """Turn counter-clockwise by quarter turns."""
    if not quarters:
        return image
    upright: Grey = cv2.rotate(image, _CODES[quarters])
    return upright


def _shrunk(image: NDArray[Any], size: tuple[int, int]) -> NDArray[Any]:
    if (image.shape[1], image.shape[0]) == size:
        return image
    # averaging over whole pixels is quick; over parts of pixels it is slow, and hardly better
    ratio = image.shape[1] / size[0]
    whole = image.shape[1] % size[0] == 0 and image.shape[0] % size[1] == 0
    how = cv2.INTER_AREA if whole or ratio > 2 else cv2.INTER_LINEAR
    small: NDArray[Any] = cv2.resize(image, size, interpolation=how)
    return small
