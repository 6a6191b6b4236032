"""The whole server killed in the middle of uploads: nothing acknowledged is lost.

`benchmarks/kills.py` does the same a hundred times.
"""

import hashlib
import http.client
import json
import random
import threading
import time
from pathlib import Path

from .running import Server, begun, free_port, noise, outshop

KILLS = 2


def upload_until_dead(running: Server, number: str, seed: int, kept: list[str]) -> None:
    """Send one recording after another; note each that was acknowledged."""
    while True:
        data = noise(2.0, seed)
        try:
            status, _, _ = running.send_file(f"/piece/{number}/record/", "a.wav", data)
        except (OSError, http.client.HTTPException):
            return
        assert status == 302
        kept.append(hashlib.sha256(data).hexdigest())
        seed += 1


def test_uploads_survive_kills_at_random_moments(tmp_path: Path) -> None:
    chance = random.Random(7)
    kept: list[str] = []
    number = ""
    begun(tmp_path)
    for kill in range(KILLS):
        running = Server(tmp_path, "--port", str(free_port()))
        try:
            if not number:
                _, place, _ = running.send_form(
                    "/piece/new/", {"name": "Tank", "kind": "steam", "state": "arrived"}
                )
                number = place.strip("/").split("/")[1]
            running.csrf()
            before = len(kept)
            sender = threading.Thread(
                target=upload_until_dead, args=(running, number, 1000 * kill, kept)
            )
            sender.start()
            while len(kept) == before:
                time.sleep(0.01)
            time.sleep(chance.uniform(0, 0.3))
            running.process.kill()
            sender.join(timeout=30)
        finally:
            running.kill()
    ended = Server(tmp_path, "--port", str(free_port()))  # takes care of what was cut off
    ended.stop()
    found = json.loads(outshop(tmp_path, "check", "--json").stdout)
    assert found["problems"] == []
    for sha256 in kept:
        original = tmp_path / "media" / sha256[:2] / sha256
        assert hashlib.sha256(original.read_bytes()).hexdigest() == sha256
    assert len(kept) >= KILLS
