"""A hundred kills of the server at random moments during uploads, and what was lost by them.

The real command line is started, recordings are sent over HTTP one after another, and the
server is killed like a power cut would. In the end every acknowledged recording must be there
byte for byte, and `outshop check` must find nothing wrong. Prints a markdown table; exits 1
when something was lost. Say another number of kills as the first word.
"""

import hashlib
import http.client
import json
import random
import sys
import tempfile
import threading
import time
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[1] / "tests" / "cli"))

from running import Server, begun, free_port, noise, outshop

KILLS = 100
LONGEST_S = 0.4  # between the first upload of a round and its kill


def main() -> int:
    """Kill, look, print."""
    kills = int(sys.argv[1]) if len(sys.argv) > 1 else KILLS
    chance = random.Random(20261125)
    kept: list[str] = []
    cut = 0
    with tempfile.TemporaryDirectory(prefix="outshop-kills-") as folder:
        home = begun(Path(folder))
        number = ""
        for kill in range(kills):
            running = Server(home, "--port", str(free_port()))
            try:
                number = number or new_piece(running)
                cut += one_round(running, number, kill, chance, kept)
            finally:
                running.kill()
        ended = Server(home, "--port", str(free_port()))  # mends what was cut off
        ended.stop()
        problems = json.loads(outshop(home, "check", "--json").stdout)["problems"]
        lost = [sha256 for sha256 in kept if not is_there(home, sha256)]
    print("| kills | uploads cut off | acknowledged | lost | problems found by check |")
    print("|---|---|---|---|---|")
    print(f"| {kills} | {cut} | {len(kept)} | {len(lost)} | {len(problems)} |")
    return 1 if lost or problems else 0


def new_piece(running: Server) -> str:
    form = {"name": "Tank", "kind": "steam", "state": "arrived"}
    _, place, _ = running.send_form("/piece/new/", form)
    return place.strip("/").split("/")[1]


def one_round(
    running: Server, number: str, kill: int, chance: random.Random, kept: list[str]
) -> int:
    """Send until killed; give 1 when an upload was on its way at the kill."""
    running.csrf()
    begun_uploads = [0]
    before = len(kept)

    def send() -> None:
        while True:
            data = noise(2.0, 10_000 * kill + begun_uploads[0])
            begun_uploads[0] += 1
            try:
                status, _, _ = running.send_file(f"/piece/{number}/record/", "a.wav", data)
            except (OSError, http.client.HTTPException):
                return
            if status == 302:
                kept.append(hashlib.sha256(data).hexdigest())

    sender = threading.Thread(target=send)
    sender.start()
    while not begun_uploads[0]:
        time.sleep(0.001)
    time.sleep(chance.uniform(0, LONGEST_S))
    running.process.kill()
    sender.join(timeout=60)
    return int(begun_uploads[0] > len(kept) - before)


def is_there(home: Path, sha256: str) -> bool:
    original = home / "media" / sha256[:2] / sha256
    return original.is_file() and hashlib.sha256(original.read_bytes()).hexdigest() == sha256


if __name__ == "__main__":
    sys.exit(main())
