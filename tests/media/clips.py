"""Files for the media tests, written by the standard library, soundfile and PyAV."""

import struct
from fractions import Fraction
from pathlib import Path

import av
import numpy as np


def tone(seconds=2.0, rate=48_000, hertz=440.0, peak=0.5):
    return (peak * np.sin(2 * np.pi * hertz * np.arange(round(seconds * rate)) / rate)).astype("f4")


def wav_bytes(data, channels=1, rate=48_000, bits=16, claim=None, code=1):
    """Hand-made RIFF wav; ``claim`` is the data length that the header tells."""
    size = len(data) if claim is None else claim
    frame = channels * bits // 8
    return (
        b"RIFF" + struct.pack("<I", (36 + size) & 0xFFFFFFFF) + b"WAVEfmt "
        + struct.pack("<IHHIIHH", 16, code, channels, rate, rate * frame, frame, bits)
        + b"data" + struct.pack("<I", size & 0xFFFFFFFF) + data
    )  # fmt: skip


def pcm(samples, bits):
    """Little-endian integers, as a wav holds them."""
    if bits == 8:
        return np.round(samples * 127 + 128).astype("u1").tobytes()
    if bits == 24:
        wide = np.round(samples * (2**23 - 1)).astype("<i4")
        return wide.view("u1").reshape(*wide.shape, 4)[..., :3].tobytes()
    return np.round(samples * (2 ** (bits - 1) - 1)).astype(f"<i{bits // 8}").tobytes()


def encode_sound(path: Path, codec: str, samples, rate=48_000, layout="mono"):
    with av.open(str(path), "w") as container:
        stream = container.add_stream(codec, rate=rate, layout=layout)
        _encode_into(container, stream, samples, rate, layout)


def _encode_into(container, stream, samples, rate, layout):
    planes = np.ascontiguousarray(np.atleast_2d(samples).astype("f4"))
    frame = av.AudioFrame.from_ndarray(planes, format="fltp", layout=layout)
    frame.sample_rate = rate
    fifo = av.AudioFifo()
    to_codec = av.AudioResampler(stream.codec_context.format, layout, rate)
    for part in to_codec.resample(frame) + to_codec.resample(None):
        part.pts = None
        fifo.write(part)
    while (part := fifo.read(stream.codec_context.frame_size or 4096, partial=True)) is not None:
        container.mux(stream.encode(part))
    container.mux(stream.encode(None))


def encode_clip(path: Path, images, times_s, codec="libx264", sound=None, pixel="yuv420p", **opts):
    """Write RGB or grey ``images`` at exactly ``times_s``."""
    with av.open(str(path), "w", options=opts.pop("container", {})) as container:
        stream = container.add_stream(codec, rate=30, options=opts)
        stream.height, stream.width = images[0].shape[:2]
        stream.pix_fmt = pixel
        stream.codec_context.time_base = Fraction(1, 90_000)
        track = container.add_stream("aac", rate=48_000, layout="mono") if sound is not None else 0
        for image, t in zip(images, times_s, strict=True):
            form = "rgb24" if image.ndim == 3 else "gray"
            frame = av.VideoFrame.from_ndarray(np.ascontiguousarray(image), format=form)
            frame.pts, frame.time_base = round(t * 90_000), Fraction(1, 90_000)
            container.mux(stream.encode(frame))
        container.mux(stream.encode(None))
        if track:
            _encode_into(container, track, sound, 48_000, "mono")
    return path
