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
    shelf = scenario()["vehicle"]
    names = [scenario()["line"]["name"], *(row["name"] for row in scenario()["train"])]
    names += [row["name"] for row in shelf if "piece" not in row]
    assert all("invented" in name for name in names)


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


@pytest.mark.django_db
def test_three_trains_of_different_kinds_pass_every_test_and_share_no_vehicle():
    from outshop.demo import layout
    from outshop.formation.assess import assess
    from outshop.records import services
    from outshop.records.queries.formations import scene_of, train_of

    data = scenario()
    measures = {"length_mm": 118.0, "mass_g": 286.0}
    fields = ("name", "road_number", "kind", "length_mm", "mass_g")
    pieces = {
        row["key"]: services.add_piece(**measures | {k: row[k] for k in fields if k in row})
        for row in data["piece"]
    }
    layout.vehicles(data["vehicle"], pieces)
    made = layout.trains(data["train"], layout.line(data["line"]), pieces)
    assert len({train.recipe for train in made}) == 3
    standing = [train_of(train) for train in made]
    keys = [v.pk for vehicles in standing for v in vehicles]
    assert len(keys) == len(set(keys))
    assert any(v.piece for v in standing[0])
    for train, vehicles in zip(made, standing, strict=True):
        assert len(vehicles) >= 3
        found = assess(scene_of(train, vehicles))
        assert found.haul.verdict == "hauls"
        assert 0 < found.haul.margin_percent < 80
        assert all(demand.met for demand in found.fits)
        assert found.supply.enough
        assert all(j.met for j in found.judged if j.rule.strength == "forbidden")
