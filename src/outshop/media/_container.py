"""Open a container in the child and walk its packets, damaged ones included."""

from collections.abc import Iterator
from pathlib import Path
from typing import Any

import av
import av.error

from outshop.media._wire import Refused

_CUT_OFF = {
    "mov": "has no index: the recorder was stopped before it had finished, or the copy was cut "
    "off; stop the recording properly and copy it again",
}
_DAMAGED = "is damaged and cannot be opened: copy it again, or record again"
_UNKNOWN = 0xFFFFFFFF  # a wav whose recorder never wrote its length
_MAX_BAD = 200  # packets that fail to decode before the rest is given up


def open_container(path: str, form: str) -> Any:
    """Open ``path`` as ``form`` and as nothing else (no play lists, no network)."""
    options = {"protocol_whitelist": "file"}
    if form == "wav":
        options["max_size"] = "65536"  # bytes a packet: fewer calls an hour
    try:
        return av.open("file:" + str(Path(path)), format=form, options=options)
    except (av.error.FFmpegError, ValueError) as problem:
        raise Refused(_CUT_OFF.get(form, _DAMAGED)) from problem


def frames(container: Any, stream: Any, warnings: list[str]) -> Iterator[Any]:
    """Yield decoded frames; say in ``warnings`` what was left out."""
    bad = 0
    packets = container.demux(stream)
    while True:
        try:
            packet = next(packets)
        except StopIteration:
            break
        except av.error.FFmpegError:
            warnings.append("the file is damaged or cut off; what comes before is used")
            break
        try:
            yield from packet.decode()
        except av.error.EOFError:
            break
        except av.error.FFmpegError:
            bad += 1
            if bad > _MAX_BAD:
                break
    if bad:
        warnings.append(f"{bad} damaged places were left out")


def claimed_seconds(container: Any, stream: Any, path: str = "") -> float | None:
    """Length that the header claims, in seconds; never trusted, only compared."""
    if container.format.name == "wav" and path:
        return _wav_seconds(path)  # the decoder itself cuts a wav's claim to the file's size
    if stream.duration and stream.time_base:
        return float(stream.duration * stream.time_base)
    return container.duration / av.time_base if container.duration else None


def _wav_seconds(path: str) -> float | None:
    """Length of a wav's data chunk as its header says (RIFF, and EBU Tech 3306 for RF64)."""
    with Path(path).open("rb") as file:
        file.seek(12)
        bytes_a_second, long_size = 0, 0
        for _ in range(100):  # chunks before the data; more is no real recording
            name, size = file.read(4), int.from_bytes(file.read(4), "little")
            if name == b"data":
                size = long_size if size == _UNKNOWN else size
                return size / bytes_a_second if bytes_a_second and size else None
            if len(name) < 4:
                return None
            body = file.read(min(size, 64))
            if name == b"fmt ":
                bytes_a_second = int.from_bytes(body[8:12], "little")
            elif name == b"ds64":
                long_size = int.from_bytes(body[8:16], "little")
            file.seek(size + size % 2 - len(body), 1)
    return None
