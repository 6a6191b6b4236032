"""Time and memory of the motion bench against plain decoding of the same 1080p clip.

Run: python benchmarks/motion_speed.py [seconds of clip]
"""

import subprocess
import sys
import tempfile
import time
from pathlib import Path

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


def timed(code: str, clip: Path) -> tuple[float, float]:
    begin = time.perf_counter()
    command = [sys.executable, "-c", code + PEAK, str(clip)]
    said = subprocess.run(command, check=True, capture_output=True, text=True)
    return time.perf_counter() - begin, float(said.stdout)


def main(seconds: float) -> None:
    there_and_back = (Phase(seconds / 2, 0.4), Phase(seconds / 2, -0.4))
    run = drive(Locomotive(top_speed_m_s=1.3 / seconds * 3), there_and_back)
    with tempfile.TemporaryDirectory() as folder:
        clip = Path(folder) / "clip.mp4"
        film(run, clip, Camera(width=1920, height=1080, pixels_per_mm=2.4))
        plain, _ = timed(DECODE, clip)
        ours, peak = timed(MEASURE, clip)
    times = f"{plain:.1f} s | {ours:.1f} s | {ours / plain:.1f}"
    print(f"| {seconds:g} s of 1080p | {times} | {peak:.0f} MB |")


if __name__ == "__main__":
    print("| clip | plain decode | bench | ratio | peak of the bench |")
    print("|---|---|---|---|---|")
    for length in [float(a) for a in sys.argv[1:]] or [10.0, 60.0]:
        main(length)
