"""Seconds from `outshop open` to the first page, and the size of the installation.

Baseline of the same run: a bare Python process that loads Django and sets nothing up.
Prints markdown.
"""

import os
import statistics
import subprocess
import sys
import sysconfig
import tempfile
import time
from collections.abc import Callable
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[1] / "tests" / "cli"))

from running import Server, begun, free_port

RUNS = 5


def main() -> None:
    """Measure and print."""
    with tempfile.TemporaryDirectory(prefix="outshop-open-") as folder:
        home = begun(Path(folder))
        base = median(bare)
        known = median(lambda: first_page(home))
        fresh = median(lambda: new_home(folder))
    print("| what | seconds (median of 5) | over baseline |")
    print("|---|---|---|")
    print(f"| bare Django process (baseline) | {base:.2f} | 1.0 |")
    print(f"| open to first page | {known:.2f} | {known / base:.1f} |")
    print(f"| open to first page, new collection | {fresh:.2f} | {fresh / base:.1f} |")
    print(f"\nInstallation, all dependencies: {installed() / 1e6:.0f} MB")


def median(measure: Callable[[], float]) -> float:
    return statistics.median(measure() for _ in range(RUNS))


def bare() -> float:
    begin = time.perf_counter()
    code = "import django; from django.conf import settings; settings.configure(); django.setup()"
    subprocess.run([sys.executable, "-c", code], check=True)
    return time.perf_counter() - begin


def first_page(home: Path) -> float:
    begin = time.perf_counter()
    running = Server(home, "--port", str(free_port()))
    status, _, _ = running.ask("/")
    seconds = time.perf_counter() - begin
    running.stop()
    if status != 200:
        sys.exit(f"the first page answered {status}")
    return seconds


def new_home(folder: str) -> float:
    return first_page(Path(tempfile.mkdtemp(dir=folder)))


def installed() -> int:
    """Bytes of everything in this environment's library folder."""
    library = Path(sysconfig.get_paths()["purelib"])
    sizes = (
        os.lstat(Path(at) / name).st_size for at, _, names in os.walk(library) for name in names
    )
    return sum(sizes)


if __name__ == "__main__":
    main()
