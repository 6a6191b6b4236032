"""A home folder of its own for each test, and small files of known content."""

import io
import wave
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest
from PIL import Image

from outshop.records import services
from outshop.records.models import Piece


@pytest.fixture(name="home", autouse=True)
def _home(tmp_path: Path, settings: object) -> Path:
    home = tmp_path / "home"
    home.mkdir()
    settings.OUTSHOP_HOME = home
    return home


@pytest.fixture(name="piece")
def _piece(db: None) -> Piece:
    return services.add_piece(name="Invented tank engine", road_number="7")


@pytest.fixture(name="sound")
def _sound() -> Callable[..., io.BytesIO]:
    return sound_of


@pytest.fixture(name="photo")
def _photo() -> Callable[..., io.BytesIO]:
    return picture_of


def sound_of(seconds: float = 0.2, seed: int = 1) -> io.BytesIO:
    """A wav of noise; each seed gives other bytes."""
    samples = np.random.default_rng(seed).normal(0, 2000, int(8000 * seconds)).astype("<i2")
    file = io.BytesIO()
    with wave.open(file, "wb") as target:
        target.setparams((1, 2, 8000, len(samples), "NONE", ""))
        target.writeframes(samples.tobytes())
    file.seek(0)
    return file


def picture_of(colour: str = "red") -> io.BytesIO:
    file = io.BytesIO()
    Image.new("RGB", (60, 40), colour).save(file, "PNG")
    file.seek(0)
    return file
