"""In the child: any still picture -> upright RGB, or small copies without position."""

import io
import warnings
from typing import IO, Any

import numpy as np
import pillow_heif
from PIL import Image, ImageOps, UnidentifiedImageError

from outshop.media import _wire
from outshop.media._wire import Refused

_TAKEN = 0x9003  # Exif 2.32, DateTimeOriginal
_EXIF_IFD = 0x8769
_QUALITY = 82  # our choice: thumbnails
_COPY_QUALITY = 95  # our choice: full-size copies


def run(order: dict[str, Any], pipe: IO[bytes]) -> None:
    """Decode ``order['path']`` to the pipe."""
    warnings.simplefilter("error", Image.DecompressionBombWarning)
    Image.MAX_IMAGE_PIXELS = order["limits"]["pixels"]
    pillow_heif.register_heif_opener(thumbnails=False)
    try:
        with Image.open(order["path"], formats=[order["form"]]) as opened:
            taken, form = _taken(opened), opened.format
            if order["sides"] and all(order["sides"]):  # JPEG: decode smaller where that is enough
                opened.draft("RGB", (2 * max(order["sides"]), 2 * max(order["sides"])))
            picture = ImageOps.exif_transpose(opened).convert("RGB")
            picture.info.clear()  # position, comments and the rest go no further
    except (Image.DecompressionBombError, Image.DecompressionBombWarning) as problem:
        raise Refused(
            f"has more than {order['limits']['pixels'] / 1e6:.0f} million pixels: save a smaller "
            "copy and try that",
            "limit",
        ) from problem
    except (UnidentifiedImageError, OSError, ValueError, SyntaxError, EOFError) as problem:
        raise Refused("is damaged and cannot be opened: copy it again") from problem
    _wire.send(pipe, _wire.HEAD, {"taken": taken, "form": form, "size": picture.size})
    if order["sides"] is None:
        _wire.send(pipe, _wire.DATA, None, np.ascontiguousarray(picture))
        return
    for side in order["sides"]:
        small = picture.copy()
        if side:
            small.thumbnail((side, side), Image.Resampling.LANCZOS)
        buffer = io.BytesIO()
        quality = _QUALITY if side else _COPY_QUALITY
        small.save(buffer, order["as_form"], quality=quality, optimize=order["as_form"] == "JPEG")
        _wire.send(pipe, _wire.DATA, {"size": small.size}, buffer.getbuffer())


def _taken(opened: Image.Image) -> str | None:
    """When the camera says it was taken, ``YYYY:MM:DD HH:MM:SS``."""
    try:
        said = opened.getexif().get_ifd(_EXIF_IFD).get(_TAKEN)
    except (OSError, ValueError, SyntaxError, KeyError, TypeError):
        return None
    return said.strip("\0 ") or None if isinstance(said, str) else None
