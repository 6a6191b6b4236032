"""Killed at any moment: what was acknowledged is there, and nothing is half there.

Here the service itself is killed; the whole server, over HTTP, in tests/cli/test_kill_server.py.
"""

import hashlib
import json
import os
import random
import subprocess
import sys
import time
from pathlib import Path

KEEPER = """
import io, sys, os, hashlib
from outshop.site import start
with start.collection():
    from outshop.site.serve import repair
    repair()
    from outshop.records import services
    from outshop.records.models import Piece
    piece = Piece.objects.first() or services.add_piece(name="kept")
    print("ready", flush=True)
    while True:
        data = b"RIFF\\x00\\x00\\x00\\x00WAVE" + os.urandom(200_000)
        services.add_recording(piece=piece, source=io.BytesIO(data), name="a.wav")
        print(hashlib.sha256(data).hexdigest(), flush=True)
"""
LOOKER = """
import json
from dataclasses import asdict
from outshop.site import start
with start.collection():
    from outshop.site.serve import repair
    repair()
    from outshop.records.checking import check
    from outshop.records.models import Recording
    shas = list(Recording.objects.values_list("media__sha256", flat=True))
    print(json.dumps({"problems": [asdict(p) for p in check()], "shas": shas}))
"""
KILLS = 4


def run_until_killed(home: Path, after_s: float) -> list[str]:
    """Keep recordings until killed; give the checksums that were acknowledged."""
    environment = os.environ | {"OUTSHOP_HOME": str(home)}
    command = [sys.executable, "-c", KEEPER]
    with subprocess.Popen(command, stdout=subprocess.PIPE, env=environment) as keeper:
        assert keeper.stdout.readline() == b"ready\n"
        time.sleep(after_s)
        keeper.kill()
        said = keeper.stdout.read().decode()
    return [line for line in said.split("\n")[:-1] if len(line) == 64]


def test_recordings_survive_kills_at_random_moments(tmp_path: Path) -> None:
    chance = random.Random(20261125)
    acknowledged: list[str] = []
    for _ in range(KILLS):
        acknowledged += run_until_killed(tmp_path, chance.uniform(0.0, 0.25))
    assert acknowledged, "no recording was kept before any kill: the test shows nothing"
    environment = os.environ | {"OUTSHOP_HOME": str(tmp_path)}
    said = subprocess.run(
        [sys.executable, "-c", LOOKER], env=environment, stdout=subprocess.PIPE, check=True
    )
    seen = json.loads(said.stdout)
    assert seen["problems"] == []
    assert set(acknowledged) <= set(seen["shas"])
    for sha256 in acknowledged:
        kept = tmp_path / "media" / sha256[:2] / sha256
        assert hashlib.sha256(kept.read_bytes()).hexdigest() == sha256
