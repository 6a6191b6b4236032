"""One frame of a clip as a JPEG, for browsers that cannot play it."""

import io
from pathlib import Path

from PIL import Image

from outshop.errors import MediaError
from outshop.media.limits import DEFAULT, Limits
from outshop.media.video import open_video

_WIDTH = 1280  # pixels: sharp on a phone and on half a desk's screen


def still_at(path: Path | str, t_s: float, limits: Limits = DEFAULT) -> bytes:
    """Give the first frame at or after a moment, or the last one before it, as a JPEG.

    Parameters
    ----------
    path : path-like
        Any clip.
    t_s : float
        Seconds on the clip's clock.
    limits : Limits
        What the file may ask for.

    Raises
    ------
    MediaError
        The clip cannot be used.
    """
    image = None
    with open_video(path, limits, max_width=_WIDTH) as stream:
        for frame in stream:
            image = frame.image
            if frame.t_s >= t_s:
                break
    if image is None:
        raise MediaError(f"{Path(path).name} holds no picture that can be decoded: record again")
    out = io.BytesIO()
    Image.fromarray(image).save(out, "JPEG", quality=85)
    return out.getvalue()
