"""Any still picture -> upright RGB, thumbnails, copies without position; in a limited child."""

from collections.abc import Iterable, Iterator
from contextlib import closing
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from typing import Any, Literal

import numpy as np
from numpy.typing import NDArray

from outshop.errors import MediaError
from outshop.media import _wire
from outshop.media._parent import Child, Message
from outshop.media.limits import DEFAULT, Limits
from outshop.media.sniff import Kind, short_name

_ACCEPT: frozenset[Kind] = frozenset({"picture"})
_MEDIA_TYPES = {"JPEG": "image/jpeg", "WEBP": "image/webp"}


@dataclass(frozen=True, slots=True)
class Picture:
    """A decoded picture.

    Parameters
    ----------
    image : ndarray [shape=(h, w, 3), uint8]
        Upright RGB.
    form : str
        The file's format, such as ``JPEG``.
    taken : datetime or None
        The camera's clock when it was taken; without zone, so read as UTC.
    """

    image: NDArray[np.uint8]
    form: str
    taken: datetime | None


@dataclass(frozen=True, slots=True)
class EncodedPicture:
    """A small or cleaned copy, ready to store or serve; it carries no metadata at all.

    Parameters
    ----------
    data : bytes
        The encoded picture.
    media_type : str
        ``image/jpeg`` or ``image/webp``.
    width, height : int
        Its size in pixels.
    """

    data: bytes
    media_type: str
    width: int
    height: int


def read_picture(path: Path | str, limits: Limits = DEFAULT) -> Picture:
    """Decode a picture, upright.

    Raises
    ------
    MediaError
        Not a picture, or damaged.
    MediaLimitError
        More pixels than ``limits`` allow.
    """
    head, parts = _ask(Path(path), limits, sides=None, as_form="JPEG")
    width, height = head["size"]
    image = np.frombuffer(parts[0].raw, dtype=np.uint8).reshape(height, width, 3)
    return Picture(image, head["form"], _when(head["taken"]))


def thumbnails(
    path: Path | str,
    sides: Iterable[int],
    form: Literal["JPEG", "WEBP"] = "JPEG",
    limits: Limits = DEFAULT,
) -> list[EncodedPicture]:
    """Make several small copies in one go; each fits a square of ``side`` pixels.

    Errors as for :func:`read_picture`.
    """
    _, parts = _ask(Path(path), limits, sides=list(sides), as_form=form)
    return [
        EncodedPicture(bytes(part.raw), _MEDIA_TYPES[form], *part.facts["size"]) for part in parts
    ]


def thumbnail(
    path: Path | str,
    side: int = 320,
    form: Literal["JPEG", "WEBP"] = "JPEG",
    limits: Limits = DEFAULT,
) -> EncodedPicture:
    """Make one small copy that fits a square of ``side`` pixels."""
    return thumbnails(path, [side], form, limits)[0]


def without_position(path: Path | str, limits: Limits = DEFAULT) -> EncodedPicture:
    """Make a full-size upright copy without position, camera or any other metadata."""
    return thumbnails(path, [0], "JPEG", limits)[0]


def _ask(path: Path, limits: Limits, **options: Any) -> tuple[dict[str, Any], list[Message]]:
    with closing(Child("picture", path, limits, _ACCEPT, **options)) as child:
        messages: Iterator[Message] = child.messages()
        head = next(messages, None)
        parts = [message for message in messages if message.kind == _wire.DATA]
    if head is None or not parts:
        raise MediaError(f"{short_name(path)} holds no picture: choose another")
    return head.facts, parts


def _when(said: str | None) -> datetime | None:
    if not said:
        return None
    try:
        return datetime.strptime(said, "%Y:%m:%d %H:%M:%S").replace(tzinfo=UTC)
    except ValueError:
        return None
