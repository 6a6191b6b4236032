"""Time and memory of the motion bench against plain decoding of the same 1080p clip.

Run: python benchmarks/motion_speed.py [seconds of clip]. The baseline is PyAV with thread_type
AUTO, frames decoded and thrown away, in a process of its own; both are told in wall time and in
processor time, start of Python included. Each clip comes twice: as a clean encoder leaves it, and
with grain at the 14 Mbit/s that phones write.
"""

import resource
import subprocess
import sys
import tempfile
import time
from pathlib import Path

import av
import numpy as np

from outshop.rig.clip import Camera, film
from outshop.rig.locomotive import Locomotive
from outshop.rig.programme import Phase, drive

DECODE = (
    "import av,sys\nwith av.open(sys.argv[1]) as c:\n c.streams.video[0].thread_type='AUTO'\n"
    " n=sum(1 for f in c.decode(video=0))\n"
)
MEASURE = (
    "import sys\nfrom outshop.bench.motion.measure import Setup, measure_clip\n"
    "measure_clip(sys.argv[1], Setup(length_mm=118))\n"
)
PEAK = "import resource as r\nprint(r.getrusage(r.RUSAGE_SELF).ru_maxrss/1e3)\n"
GRAIN, RATE = 2.5, 14_000_000  # grey levels; bits a second, as phones write 1080p


def timed(code: str, clip: Path) -> tuple[float, float, float]:
    """Run a process; give wall seconds, processor seconds (children too) and its peak in MB."""
    before, begin = resource.getrusage(resource.RUSAGE_CHILDREN), time.perf_counter()
    command = [sys.executable, "-c", code + PEAK, str(clip)]
    said = subprocess.run(command, check=True, capture_output=True, text=True)
    wall, after = time.perf_counter() - begin, resource.getrusage(resource.RUSAGE_CHILDREN)
    used = after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime
    return wall, used, float(said.stdout)


def grained(source: Path, target: Path) -> None:
    """Write the clip anew as a phone would."""
    rng = np.random.default_rng(1)
    pool = [rng.normal(0, GRAIN, (1080, 1920)).round().astype(np.int16) for _ in range(8)]
    with av.open(str(source)) as clip, av.open(str(target), "w") as out:
        stream = out.add_stream("libx264", rate=30)
        stream.width, stream.height, stream.pix_fmt = 1920, 1080, "yuv420p"
        stream.bit_rate, stream.options = RATE, {"preset": "veryfast", "g": "30"}
        for frame in clip.decode(video=0):
            planes = frame.to_ndarray(format="yuv420p")
            grain = np.roll(pool[rng.integers(8)], int(rng.integers(1900)), axis=1)
            planes[:1080] = np.clip(planes[:1080] + grain, 0, 255)
            noisy = av.VideoFrame.from_ndarray(planes, format="yuv420p")
            noisy.pts, noisy.time_base = frame.pts, frame.time_base
            out.mux(stream.encode(noisy))
        out.mux(stream.encode(None))


def row(name: str, clip: Path) -> None:
    plain, plain_cpu, _ = timed(DECODE, clip)
    ours, ours_cpu, peak = timed(MEASURE, clip)
    print(
        f"| {name} | {plain:.1f} s, {plain_cpu:.1f} s | {ours:.1f} s, {ours_cpu:.1f} s | "
        f"{ours / plain:.1f} | {ours_cpu / plain_cpu:.1f} | {peak:.0f} MB |"
    )


def main(seconds: float) -> None:
    there_and_back = (Phase(seconds / 2, 0.4), Phase(seconds / 2, -0.4))
    run = drive(Locomotive(top_speed_m_s=1.3 / seconds * 3), there_and_back)
    with tempfile.TemporaryDirectory() as folder:
        clip, phone = Path(folder) / "clip.mp4", Path(folder) / "phone.mp4"
        film(run, clip, Camera(width=1920, height=1080, pixels_per_mm=2.4))
        grained(clip, phone)
        row(f"{seconds:g} s, 14 Mbit/s", phone)
        row(f"{seconds:g} s, clean, {8 * clip.stat().st_size / seconds / 1e6:.1f} Mbit/s", clip)


if __name__ == "__main__":
    print("| clip | decode: wall, CPU | bench: wall, CPU | wall ratio | CPU ratio | peak |")
    print("|---|---|---|---|---|---|")
    for length in [float(a) for a in sys.argv[1:]] or [10.0, 40.0]:
        main(length)
