"""The demo collection: complete, marked as invented, and never in a person's own folder."""

import os
import subprocess
import sys

import pytest

from outshop.demo.scenario import scenario
from outshop.records.models import Piece, Recording, Release


@pytest.fixture(name="build_into")
def _build_into():
    def run(home):
        return subprocess.run(
            [sys.executable, "-m", "outshop", "demo", "--no-serve"],
            env={**os.environ, "OUTSHOP_HOME": str(home)},
            capture_output=True,
            text=True,
            timeout=240,
            check=False,
        )

    return run


def test_a_folder_with_something_else_in_it_is_refused(tmp_path, build_into):
    (tmp_path / "letters.txt").write_text("mine")
    done = build_into(tmp_path)
    assert done.returncode == 1
    assert "set OUTSHOP_HOME to an empty folder" in done.stderr
    assert [p.name for p in tmp_path.iterdir()] == ["letters.txt"]


def test_every_piece_and_maker_is_marked_as_invented():
    assert all("nvented" in row["maker"] for row in scenario()["edition"])
    assert all("nvented" in row["notes"] for row in scenario()["piece"])


@pytest.mark.django_db(transaction=True)
def test_the_tank_engine_went_through_every_step_and_got_better():
    from outshop.demo.build import build

    build(say=lambda _: None)
    piece = Piece.objects.get(road_number="No. 14")
    assert piece.state == Piece.State.IN_TRAFFIC
    assert piece.inspections.count() == 2
    assert set(piece.recordings.values_list("role", "status")) == {
        ("before", Recording.Status.DONE),
        ("after", Recording.Status.DONE),
    }
    job = piece.jobs.get()
    assert not job.steps.filter(done_at=None).exists()
    assert piece.run_ins.get().samples.count() == 10
    release = Release.objects.get(piece=piece)
    level = next(r for r in release.snapshot["rows"] if r["quantity"] == "level")
    assert level["verdict"] == "better"
    assert release.pdf is not None
