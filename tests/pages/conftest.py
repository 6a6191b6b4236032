"""A home folder of its own for each test, and one piece."""

from pathlib import Path

import pytest

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
    return services.add_piece(name="Invented tank engine", road_number="7", arrangement="1'C1'")
