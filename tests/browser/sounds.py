"""Recordings for the browser tests, made here and by no code of the project."""

import io
import struct
import wave

import numpy as np

RATE = 44_100
RUSH = 0.004  # rms of the rush that comes with running


def bench_run(level: float, seconds: float = 24.0, seed: int = 1) -> np.ndarray:
    """Quiet, running, quiet, running, quiet.

    The running sound is a tone of 1 kHz with amplitude ``level``, where the A-weighting is
    0 dB by definition (IEC 61672-1), over a rush that stays the same at any ``level``.
    """
    rng = np.random.default_rng(seed)
    t = np.arange(int(RATE * seconds)) / RATE
    share = t / seconds
    running = ((share > 0.15) & (share < 0.5)) | ((share > 0.62) & (share < 0.9))
    machine = level * np.sin(2 * np.pi * 1000 * t) + rng.normal(0, RUSH, t.size)
    return rng.normal(0, 0.0003, t.size) + running * machine


def wav(samples: np.ndarray, *, rate: int = RATE, width: int = 2, channels: int = 1) -> bytes:
    """Write samples between -1 and 1 as a wav file of 8, 16 or 24 bits."""
    samples = np.clip(samples, -1, 1)
    if channels > 1:
        samples = np.repeat(samples, channels)
    if width == 1:
        data = (samples * 127 + 128).astype(np.uint8).tobytes()
    elif width == 2:
        data = (samples * 32767).astype("<i2").tobytes()
    else:
        whole = (samples * (2**23 - 1)).astype("<i4")
        data = whole.view(np.uint8).reshape(-1, 4)[:, :3].tobytes()
    file = io.BytesIO()
    with wave.open(file, "wb") as out:
        out.setnchannels(channels)
        out.setsampwidth(width)
        out.setframerate(rate)
        out.writeframes(data)
    return file.getvalue()


def claims_ten_gigabytes() -> bytes:
    """Give a wav header that announces ten gigabytes and holds a hundredth of a second."""
    data = np.zeros(441, "<i2").tobytes()
    size = 10 * 10**9 % 2**32
    form = struct.pack(
        "<4sI4s4sIHHIIHH", b"RIFF", size, b"WAVE", b"fmt ", 16, 1, 1, RATE, 88_200, 2, 16
    )
    return form + struct.pack("<4sI", b"data", size - 36) + data
