"""Time and peak memory of ``measure_file``: ``sound_speed.py MINUTES...``, 48 kHz.

The baseline in the same run is one plain scipy STFT pass over the same file: 16-bit samples read
and scaled a minute at a time, ``scipy.signal.stft`` of each with 2048 samples a window and a hop
of a quarter window, the usual size for sound. Processor time tells more than wall time on a busy
machine; the bench's holds the decoding child. Each row is a fresh process; imports are left out on
both sides, the child's are not. Peak memory: of the process, and of its largest child.
A last line gives a minute measured a second time in one process, as a worker does.
"""

import os
import resource
import subprocess
import sys
import tempfile
import time
import wave
from pathlib import Path

import numpy as np

RATE = 48_000
WINDOW, HOP = 2048, 512


def main() -> None:
    if sys.argv[1:2] in (["stft"], ["bench"]):
        work(sys.argv[1], Path(sys.argv[2]), int(sys.argv[3]))
        return
    print(
        "| minutes | STFT pass, CPU s | sound bench, CPU s | ratio | STFT, wall s | bench, wall s "
        "| peak MB | child MB |"
    )
    print("|---|---|---|---|---|---|---|---|")
    with tempfile.TemporaryDirectory() as folder:
        for minutes in [int(word) for word in sys.argv[1:]] or [1, 10, 60]:
            path = Path(folder) / f"{minutes}.wav"
            write(path, minutes)
            base, base_wall, _, _ = run("stft", path)
            took, wall, own, child = run("bench", path)
            print(
                f"| {minutes} | {base:.2f} | {took:.2f} | {took / base:.1f} | {base_wall:.2f} "
                f"| {wall:.2f} | {own:.0f} | {child:.0f} |"
            )
        path = Path(folder) / "again.wav"
        write(path, 1)
        took, wall, _, _ = run("bench", path, times=2)
        print(f"\nOne minute in a warm process: {took:.2f} s CPU, {wall:.2f} s wall")


def write(path, minutes, seed=1):
    rng = np.random.default_rng(seed)
    t = np.arange(60 * RATE) / RATE
    tone = sum(0.03 * np.sin(2 * np.pi * 62.3 * k * t) for k in (1, 6, 12, 18, 20))
    with wave.open(str(path), "wb") as file:
        file.setparams((1, 2, RATE, 0, "NONE", ""))
        for minute in range(minutes):
            sound = 0.01 * rng.standard_normal(t.size) + (tone * (t > 5) if minute == 0 else tone)
            file.writeframes((sound * 32767).astype("<i2").tobytes())


def run(what, path, times=1):
    line = [sys.executable, __file__, what, str(path), str(times)]
    out = subprocess.run(line, capture_output=True, text=True, check=True).stdout.split()
    return [float(word) for word in out]


def work(what, path, times):
    """Do it ``times`` times and tell of the last."""
    if what == "stft":
        from scipy.signal import stft
    else:  # which does without scipy.signal
        from outshop.bench.sound import Drive, Stage, measure_file

    for _ in range(times):
        begin, clock = spent(), time.monotonic()
        if what == "stft":
            with wave.open(str(path)) as file:
                while raw := file.readframes(60 * RATE):
                    samples = np.frombuffer(raw, "<i2").astype(np.float32) / 32768
                    stft(samples, RATE, nperseg=WINDOW, noverlap=WINDOW - HOP)
        else:
            measure_file(path, Drive(3, (Stage(1, 20),), 20.0, 16.0, 87.0))
    own = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    child = resource.getrusage(resource.RUSAGE_CHILDREN).ru_maxrss / 1024
    print(spent() - begin, time.monotonic() - clock, own, child)


def spent():
    """Processor seconds of this process and of the decoder that it waited for."""
    return sum(os.times()[:4])


if __name__ == "__main__":
    main()
