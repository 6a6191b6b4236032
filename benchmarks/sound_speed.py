"""Processor time and peak memory of ``measure_file``: ``sound_speed.py MINUTES...``, 48 kHz.

The baseline in the same run is one plain scipy STFT pass (default settings) over the same file,
read a minute at a time. Processor time, decoding included, for a busy machine stretches the rest.
"""

import os
import resource
import subprocess
import sys
import tempfile
import wave
from pathlib import Path

import numpy as np

RATE = 48_000


def main() -> None:
    if sys.argv[1:2] in (["stft"], ["bench"]):
        work(sys.argv[1], Path(sys.argv[2]))
        return
    print("| minutes | STFT pass, CPU s | sound bench, CPU s | ratio | peak MB |")
    print("|---|---|---|---|---|")
    with tempfile.TemporaryDirectory() as folder:
        for minutes in [int(word) for word in sys.argv[1:]] or [1, 10, 60]:
            path = Path(folder) / f"{minutes}.wav"
            write(path, minutes)
            base, _ = run("stft", path)
            took, peak = run("bench", path)
            print(f"| {minutes} | {base:.2f} | {took:.2f} | {took / base:.1f} | {peak:.0f} |")


def write(path, minutes):
    rng = np.random.default_rng(1)
    t = np.arange(60 * RATE) / RATE
    tone = sum(0.03 * np.sin(2 * np.pi * 62.3 * k * t) for k in (1, 6, 12, 18, 20))
    with wave.open(str(path), "wb") as file:
        file.setparams((1, 2, RATE, 0, "NONE", ""))
        for minute in range(minutes):
            sound = 0.01 * rng.standard_normal(t.size) + (tone * (t > 5) if minute == 0 else tone)
            file.writeframes((sound * 32767).astype("<i2").tobytes())


def run(what, path):
    line = [sys.executable, __file__, what, str(path)]
    out = subprocess.run(line, capture_output=True, text=True, check=True).stdout.split()
    return float(out[0]), float(out[1])


def work(what, path):
    from scipy.signal import stft

    from outshop.bench.sound import Drive, Stage, measure_file

    begin = spent()
    if what == "stft":
        with wave.open(str(path)) as file:
            while raw := file.readframes(60 * RATE):
                stft(np.frombuffer(raw, "<i2").astype("f4"), RATE)
    else:
        measure_file(path, Drive(3, (Stage(1, 20),), 20.0, 16.0, 87.0))
    own = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
    child = resource.getrusage(resource.RUSAGE_CHILDREN).ru_maxrss
    print(spent() - begin, max(own, child) / 1024)


def spent():
    """Processor seconds of this process and of the decoder that it waited for."""
    return sum(os.times()[:4])


if __name__ == "__main__":
    main()
