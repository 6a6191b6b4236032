"""Time and memory of a five-million-row log against numpy's own reader on the same file."""

import subprocess
import sys
import tempfile
import time
from pathlib import Path

import numpy as np

ROWS = 5_000_000
PARTS = {
    "numpy.loadtxt alone": (
        "import numpy as np, sys; np.loadtxt(sys.argv[1], delimiter=',', skiprows=1)"
    ),
    "outshop bench current": (
        "import sys; from pathlib import Path;"
        "from outshop.bench.electrics.current import measure_file; measure_file(Path(sys.argv[1]))"
    ),
}


def write(path: Path, rows: int) -> None:
    """Write a log of a running motor, 1000 readings a second."""
    rng = np.random.default_rng(0)
    with path.open("w") as handle:
        handle.write("time_s,current_a,voltage_v\n")
        for start in range(0, rows, 500_000):
            t = np.arange(start, start + 500_000) * 1e-3
            amps = 0.3 + 0.02 * rng.standard_normal(t.size)
            volts = 12 + 0.05 * rng.standard_normal(t.size)
            lines = zip(t, amps, volts, strict=True)
            handle.write("\n".join(f"{a:.3f},{b:.4f},{c:.2f}" for a, b, c in lines) + "\n")


def run(code: str, path: Path) -> tuple[float, float]:
    """Give seconds and peak MB of one child."""
    meter = "import resource; print(resource.getrusage(resource.RUSAGE_SELF).ru_maxrss)"
    begun = time.perf_counter()
    done = subprocess.run(
        [sys.executable, "-c", f"{code}\n{meter}", str(path)],
        check=True, capture_output=True, text=True,
    )  # fmt: skip
    return time.perf_counter() - begun, int(done.stdout) / 1024


if __name__ == "__main__":
    print(f"| {ROWS:,} rows | seconds, whole process | peak MB |\n|---|---|---|")
    with tempfile.TemporaryDirectory() as folder:
        for rows in (ROWS // 5, ROWS):
            path = Path(folder) / f"{rows}.csv"
            write(path, rows)
            for name, code in PARTS.items():
                seconds, peak = min(run(code, path) for _ in range(3))
                print(f"| {name}, {rows:,} | {seconds:.2f} | {peak:.0f} |")
