"""In the child: any sound track -> mono float32 blocks."""

from typing import IO, Any

import numpy as np
from numpy.typing import NDArray

from outshop.media import _wire
from outshop.media._container import claimed_seconds, frames, open_container
from outshop.media._wire import Refused

BLOCK = 1 << 16  # frames in one block, our choice: 256 kB of float32

# sample format -> (offset, full scale, first value that counts as clipped, relative)
_INTEGER = {
    "u8": (128, 128.0, 127 / 128),
    "s16": (0, 32768.0, 32767 / 32768),
    "s32": (0, 2147483648.0, 32767 / 32768),
}
_FLOAT_CLIPS = 32767 / 32768
_CANCELS = 0.05  # share of the channels' power left in their mean that calls for a warning


class _Mixer:
    """Collects frames into mono blocks and counts what goes past."""

    def __init__(self, pipe: IO[bytes]) -> None:
        self._pipe = pipe
        self._kept: list[NDArray[np.float32]] = []
        self._held = 0
        self._clipped = 0
        self.total = 0
        self.silent: Any = None
        self.power = np.zeros(2)  # of the mean, and the mean of the channels'

    def add(self, channels: NDArray[np.float32], clips: float) -> None:
        """Take ``channels`` (c, n)."""
        clipped = int(((channels >= clips) | (channels <= -clips)).any(axis=0).sum())
        mono = channels[0]
        if len(channels) > 1:
            quiet = ~channels.any(axis=1)
            self.silent = quiet if self.silent is None else self.silent & quiet
            mono = channels.mean(axis=0, dtype=np.float32)
            self.power += np.vdot(mono, mono), np.vdot(channels, channels) / len(channels)
        self._kept.append(mono)
        self._held += len(mono)
        self._clipped += clipped
        self.total += len(mono)
        if self._held >= BLOCK:
            self.flush()

    def flush(self) -> None:
        """Send what is held."""
        if not self._held:
            return
        block = self._kept[0] if len(self._kept) == 1 else np.concatenate(self._kept)
        _wire.send(self._pipe, _wire.DATA, {"clipped": self._clipped}, np.ascontiguousarray(block))
        self._kept, self._held, self._clipped = [], 0, 0

    def remarks(self) -> list[str]:
        """Say what the mix-down did to the sound."""
        found = []
        if self.silent is not None and self.silent.any() and not self.silent.all():
            dead, count = int(self.silent.sum()), len(self.silent)
            low = 20 * np.log10(count / (count - dead))
            found.append(
                f"{dead} of {count} channels {'is' if dead == 1 else 'are'} silent; the mean of "
                f"all is used, so levels read {low:.1f} dB low"
            )
        elif self.power[1] > 0 and self.power[0] < _CANCELS * self.power[1]:
            found.append("the channels largely cancel when mixed; levels read low")
        return found


def run(order: dict[str, Any], pipe: IO[bytes]) -> None:
    """Decode ``order['path']`` to the pipe."""
    warnings: list[str] = []
    with open_container(order["path"], order["form"]) as container:
        if not container.streams.audio:
            if container.streams.video:
                raise Refused("is a video without sound: record again with the microphone on")
            raise Refused("holds no sound track: choose a recording")
        stream = container.streams.audio[0]
        claimed = claimed_seconds(container, stream, order["path"])
        mixer = _Mixer(pipe)
        rate = 0
        most = 0.0
        for frame in frames(container, stream, warnings):
            if not frame.samples:
                continue
            if not rate:
                rate = _checked_rate(frame.sample_rate)
                most = order["limits"]["duration_s"] * rate
                _wire.send(pipe, _wire.HEAD, _head(stream, frame, claimed))
            elif frame.sample_rate != rate:
                warnings.append(f"the sample rate changes after {mixer.total / rate:.1f} s; the "
                                "rest is left out")  # fmt: skip
                break
            mixer.add(*_channels(frame))
            if mixer.total > most:
                raise Refused(
                    f"is longer than {order['limits']['duration_s'] / 3600:.3g} hours: cut it to "
                    "the minutes that matter",
                    "limit",
                )
    if not rate:
        raise Refused("holds no sound: nothing in it could be decoded; record again")
    mixer.flush()
    warnings += mixer.remarks() + _missing(claimed, mixer.total / rate)
    for warning in dict.fromkeys(warnings):
        _wire.send(pipe, _wire.WARNING, warning)


def _head(stream: Any, frame: Any, claimed: float | None) -> dict[str, Any]:
    return {
        "sample_rate_hz": frame.sample_rate,
        "channels": len(frame.layout.channels),
        "claimed_duration_s": claimed,
        "codec": stream.codec_context.name,
        "start_s": float(frame.time or 0.0),
    }


def _checked_rate(rate: int) -> int:
    if not 1000 <= rate <= 1_000_000:
        raise Refused(f"claims {rate} samples a second: the file is damaged; record again")
    return rate


def _channels(frame: Any) -> tuple[NDArray[np.float32], float]:
    """Give the frame as (channels, n), full scale 1, and the value that counts as clipped."""
    raw = frame.to_ndarray()
    if not frame.format.is_planar:
        raw = raw.reshape(-1, len(frame.layout.channels)).T
    name = frame.format.name.removesuffix("p")
    if name not in _INTEGER:
        return np.nan_to_num(raw.astype(np.float32), nan=0, posinf=1, neginf=-1), _FLOAT_CLIPS
    offset, full, clips = _INTEGER[name]
    samples = raw.astype(np.float32)
    if offset:
        samples -= offset
    samples *= np.float32(1 / full)
    return samples, clips


def _missing(claimed: float | None, got: float) -> list[str]:
    """Compare the header's claim with what was there."""
    if claimed is None or got >= claimed - max(0.25, 0.01 * claimed):
        return []
    return [f"the file ends early: {got:.1f} s of the {claimed:.1f} s it announces are there"]
