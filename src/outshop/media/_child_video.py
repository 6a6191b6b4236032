"""In the child: any clip -> upright 8-bit frames with their true timestamps."""

from typing import IO, Any

import av
import numpy as np
from av.video.reformatter import Interpolation
from numpy.typing import NDArray

from outshop.media import _luma, _wire
from outshop.media._container import claimed_seconds, frames, open_container
from outshop.media._wire import Refused

_THREADS = 4  # decoder threads: more only cost memory


def run(order: dict[str, Any], pipe: IO[bytes]) -> None:
    """Decode ``order['path']`` to the pipe."""
    warnings: list[str] = []
    limits = order["limits"]
    with open_container(order["path"], order["form"]) as container:
        stream = _picture_stream(container)
        stream.codec_context.thread_type = "AUTO"
        stream.codec_context.thread_count = _THREADS
        if order["keyframes_only"]:
            stream.codec_context.skip_frame = "NONKEY"
        claimed = claimed_seconds(container, stream)
        shape: _Shape | None = None
        first = last = None
        for frame in frames(container, stream, warnings):
            if frame.time is None:
                raise Refused("carries no timestamps: use the clip as the phone saved it")
            if shape is None:
                shape = _Shape(stream, frame, order, limits["pixels"])
                _wire.send(pipe, _wire.HEAD, shape.head(stream, claimed))
            first = frame.time if first is None else first
            last = frame.time
            if last - first > limits["duration_s"]:
                hours = limits["duration_s"] / 3600
                raise Refused(
                    f"is longer than {hours:.3g} hours: cut it to the minutes that matter", "limit"
                )
            image = shape.upright(frame)
            _wire.send(pipe, _wire.DATA, {"t_s": frame.time, "shape": image.shape}, image)
    if first is None or last is None:
        raise Refused("holds no picture that can be decoded: record again")
    if claimed and last - first < 0.9 * claimed - 0.5:
        warnings.append(
            f"the file ends early: {last - first:.1f} s of the {claimed:.1f} s it announces "
            "are there"
        )
    for warning in dict.fromkeys(warnings):
        _wire.send(pipe, _wire.WARNING, warning)


class _Shape:
    """How each frame is brought upright and to size."""

    def __init__(self, stream: Any, frame: Any, order: dict[str, Any], most: int) -> None:
        if frame.width * frame.height > most:
            raise Refused(
                f"has frames of {frame.width} by {frame.height} pixels: record in 4K or less",
                "limit",
            )
        self.turns = round(frame.rotation / 90) % 4  # quarter turns, counter-clockwise
        self.interlaced = bool(frame.interlaced_frame)
        aspect = float(stream.codec_context.sample_aspect_ratio or 1) or 1.0
        wide, high = frame.width * aspect, float(frame.height)
        self.source = (round(wide), frame.height)
        upright = (high, wide) if self.turns % 2 else (wide, high)
        caps = (order.get("max_width"), order.get("max_height"))
        self.scale = min([1.0, *(m / u for m, u in zip(caps, upright, strict=True) if m)])
        self.size = (_even(wide * self.scale), _even(high * self.scale))
        self.form = "gray" if order["grey"] else "rgb24"

    def head(self, stream: Any, claimed: float | None) -> dict[str, Any]:
        """Give the facts that hold for all frames."""
        turn = -1 if self.turns % 2 else 1
        width, height = self.size[::turn]
        source_width, source_height = self.source[::turn]
        rate = stream.average_rate
        return {
            "width": width,
            "height": height,
            "source_width": source_width,
            "source_height": source_height,
            "rotation_deg": self.turns * 90,
            "interlaced": self.interlaced,
            "nominal_rate_hz": float(rate) if rate else None,
            "claimed_duration_s": claimed,
            "codec": stream.codec_context.name,
        }

    def upright(self, frame: Any) -> NDArray[np.uint8]:
        """Scale, drop the second field, and turn."""
        if self.form == "gray" and _luma.readable(frame):
            step, first_row = (2, 0 if _top_first(frame) else 1) if self.interlaced else (1, 0)
            return _luma.turned(_luma.luma(frame, self.size, step, first_row), self.turns)
        if self.interlaced:
            return self._field(frame)
        small = frame.reformat(
            width=self.size[0],
            height=self.size[1],
            format=self.form,
            interpolation=Interpolation.AREA,
        )
        return self._turned(small.to_ndarray())

    def _field(self, frame: Any) -> NDArray[np.uint8]:
        """Use the field that was taken first: both together would show two moments."""
        both = frame.reformat(format=self.form).to_ndarray()
        field = np.ascontiguousarray(both[0 if _top_first(frame) else 1 :: 2])
        single = av.VideoFrame.from_ndarray(field, format=self.form)
        small = single.reformat(
            width=self.size[0], height=self.size[1], interpolation=Interpolation.BILINEAR
        )
        return self._turned(small.to_ndarray())

    def _turned(self, image: NDArray[np.uint8]) -> NDArray[np.uint8]:
        return np.ascontiguousarray(np.rot90(image, self.turns))  # the decoder pads its rows


def _top_first(frame: Any) -> bool:
    return bool(getattr(frame, "top_field_first", True))


def _picture_stream(container: Any) -> Any:
    """First video stream that is no cover picture."""
    for stream in container.streams.video:
        if "attached_pic" not in str(stream.disposition):
            return stream
    if container.streams.audio:
        raise Refused("holds sound only: choose the clip")
    raise Refused("holds no moving picture: choose the clip")


def _even(size: float) -> int:
    return max(2, 2 * round(size / 2))
