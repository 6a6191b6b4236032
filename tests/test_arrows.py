"""Rooms that compute know no web framework; `lint-imports` holds the other arrows."""

import os
import subprocess
import sys
from pathlib import Path

import pytest

ROOMS = (
    "errors",
    "estimate",
    "railway",
    "media",
    "bench",
    "diagnosis",
    "workshop",
    "dating",
    "formation",
    "market",
    "rig",
)
# Every module of the room is loaded in a process in which the framework is not to be had.
# Blocking says more than looking afterwards: the date library looks for the framework by itself.
LOAD = """
import importlib, pkgutil, sys
sys.modules["django"] = None
name = "outshop." + sys.argv[1]
room = importlib.import_module(name)
loaded = 0
for found in pkgutil.walk_packages(getattr(room, "__path__", []), name + "."):
    importlib.import_module(found.name)
    loaded += 1
print(loaded)
"""


@pytest.mark.parametrize("room", ROOMS)
def test_a_room_that_computes_loads_without_django(room: str) -> None:
    done = subprocess.run(
        [sys.executable, "-c", LOAD, room], capture_output=True, text=True, check=False
    )
    assert done.returncode == 0, done.stderr
    assert int(done.stdout) >= (0 if room in ("errors", "estimate") else 3)


def test_the_program_says_its_version_without_loading_anything_slow() -> None:
    code = (
        "import sys; from outshop.cli.main import build_app; build_app();"
        "slow = ('django', 'numpy', 'scipy', 'av', 'cv2', 'ortools');"
        "print([name for name in slow if name in sys.modules])"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout == "[]\n"


def test_the_pages_are_ready_without_what_only_a_computation_needs(tmp_path: Path) -> None:
    code = (
        "import os, sys; os.environ['DJANGO_SETTINGS_MODULE'] = 'outshop.site.settings';"
        "import django; django.setup();"
        "from django.urls import get_resolver; assert get_resolver().url_patterns;"
        "slow = ('scipy.optimize', 'scipy.signal', 'scipy.stats', 'av', 'cv2', 'ortools');"
        "print([name for name in slow if name in sys.modules])"
    )
    done = subprocess.run(
        [sys.executable, "-c", code],
        capture_output=True,
        text=True,
        check=True,
        env={**os.environ, "OUTSHOP_HOME": str(tmp_path)},
    )
    assert done.stdout == "[]\n"
