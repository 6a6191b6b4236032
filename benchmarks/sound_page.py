"""Seconds from the end of an upload to the result on the page, for the usual minute of sound.

The real server and its worker; the page asks once a second, as the browser does. The first
recording finds a worker that has measured nothing yet, the others a warm one. On a busy machine
the processor time of worker and decoder (read from /proc, Linux) tells more. Prints markdown.
"""

import os
import sys
import tempfile
import time
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[1] / "tests" / "cli"))

from running import Server, begun, free_port
from sound_speed import write

RUNS = 4
DRIVE = {"scale": "1:87", "armature_poles": "3", "stages": "1/20", "wheel_diameter_mm": "16"}


def main() -> None:
    print(
        "| recording | upload, s | until measured, s | until the page shows it, s "
        "| worker and decoder, CPU s |"
    )
    print("|---|---|---|---|---|")
    with tempfile.TemporaryDirectory(prefix="outshop-page-") as folder:
        home = begun(Path(folder))
        path = Path(folder) / "minute.wav"
        running = Server(home, "--port", str(free_port()))
        try:
            form = {"name": "Tank", "kind": "steam", "state": "arrived"} | DRIVE
            _, place, _ = running.send_form("/piece/new/", form)
            number = place.strip("/").split("/")[1]
            for run in range(RUNS):
                write(path, 1, seed=run)
                before = worked(running.process.pid)
                upload, measured, shown = one(running, number, path.read_bytes())
                cpu = worked(running.process.pid) - before
                name = "first" if run == 0 else "next"
                print(
                    f"| {name} | {upload:.2f} | {measured:.2f} | {shown:.2f} | {cpu:.2f} |",
                    flush=True,
                )
        finally:
            running.stop()


def one(running, number, data):
    begin = time.monotonic()
    status, place, page = running.send_file(f"/piece/{number}/record/", "minute.wav", data)
    if status != 302:
        sys.exit(f"the upload answered {status}: {page[:500]}")
    end = time.monotonic()
    pk = place.strip("/").split("/")[-1]
    measured, asked = 0.0, end
    while True:
        time.sleep(0.2)
        _, _, answer = running.ask(f"/recording/{pk}/result/")
        now = time.monotonic()
        if not measured and b"hx-trigger" not in answer:
            measured = now - end
        if now - asked >= 1.0:  # what the browser would have seen
            asked = now
            if measured:
                if b"motor" not in answer.lower():
                    sys.exit("the result holds no motor speed")
                return end - begin, measured, now - end


def worked(server: int) -> float:
    """Processor seconds of all the server started, and of what these waited for."""
    total = 0.0
    for stat in Path("/proc").glob("[0-9]*/stat"):
        try:
            fields = stat.read_text().rpartition(")")[2].split()
        except OSError:  # ended meanwhile
            continue
        if int(fields[3]) == server and int(stat.parent.name) != server:
            total += sum(int(ticks) for ticks in fields[11:15]) / os.sysconf("SC_CLK_TCK")
    return total


if __name__ == "__main__":
    main()
