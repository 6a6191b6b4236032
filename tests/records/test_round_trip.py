"""Export and import bring back every record and every byte, whatever was in them."""

import io
import json
import uuid
import zipfile
from datetime import UTC, date, datetime
from pathlib import Path
from typing import Any

import pytest
from django.db import transaction
from hypothesis import HealthCheck, Phase, given, settings
from hypothesis import strategies as st

from outshop.estimate import Estimate, NotMeasurable
from outshop.records import services, store
from outshop.records.archive.exporting import export_archive
from outshop.records.archive.importing import import_archive
from outshop.records.archive.rows import record_models
from outshop.records.models import JobCard, MediaFile, Piece, RunInSegment
from outshop.records.models.base import Record

from .conftest import picture_of, sound_of
from .filling import filled

pytestmark = pytest.mark.django_db

texts = st.text(st.characters(codec="utf-8", exclude_characters="\x00"), max_size=40)
names = texts.filter(str.strip)
sizes = st.none() | st.floats(0.1, 1e6)
moments = st.integers(-(2**31), 2**32).map(lambda s: datetime.fromtimestamp(s, UTC))
days = st.none() | st.dates(date(1900, 1, 1), date(2100, 1, 1))
json_values = st.recursive(
    st.none() | st.booleans() | st.integers(-(2**53), 2**53) | st.floats(-1e9, 1e9) | texts,
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(texts, inner, max_size=3),
    max_leaves=8,
)


@st.composite
def readings(draw: st.DrawFn) -> Estimate | NotMeasurable:
    if draw(st.booleans()):
        return NotMeasurable(draw(texts), "s", tuple(draw(st.lists(texts, max_size=2))))
    low, value, high = sorted(draw(st.lists(st.floats(-1e6, 1e6), min_size=3, max_size=3)))
    return Estimate(value, low, high, "dB", draw(st.floats(0.5, 0.99)), draw(texts))


@st.composite
def collections(draw: st.DrawFn) -> list[dict[str, Any]]:
    """Plain data from which a collection is built; no code of the archive takes part."""
    return draw(
        st.lists(
            st.fixed_dictionaries(
                {
                    "name": names,
                    "road_number": texts,
                    "notes": texts,
                    "place": texts,
                    "kind": st.sampled_from(Piece.Kind.values),
                    "state": st.sampled_from(Piece.State.values),
                    "shows": st.sampled_from(["", "1958", "1958~", "1950/1968", "1970/.."]),
                    "mass_g": sizes,
                    "length_mm": sizes,
                    "arrived_on": days,
                    "edition": st.none() | names,
                    "prototype": st.none() | names,
                    "findings": st.dictionaries(st.text("123ab", min_size=1, max_size=3), names),
                    "sounds": st.lists(st.tuples(st.integers(0, 3), texts, moments), max_size=2),
                    "photos": st.lists(st.sampled_from(["red", "blue"]), max_size=2),
                    "readings": st.lists(readings(), max_size=2),
                    "steps": st.lists(names, max_size=3),
                    "legs": st.lists(moments, max_size=2),
                    "snapshot": st.none() | st.dictionaries(texts, json_values, max_size=3),
                    "minutes": st.none() | st.floats(0.1, 1000),
                }
            ),
            max_size=3,
        )
    )


PLAIN = (
    "name",
    "road_number",
    "notes",
    "place",
    "kind",
    "state",
    "shows",
    "mass_g",
    "length_mm",
    "arrived_on",
)


def build(plan: list[dict[str, Any]]) -> None:
    for entry in plan:
        piece = services.add_piece(**{name: entry[name] for name in PLAIN})
        add_identity(piece, entry)
        job = add_bench_work(piece, entry)
        add_running(piece, job, entry)
        for colour in entry["photos"]:
            keep_photo(piece, colour)
        for reading in entry["readings"]:
            services.add_measurement(piece=piece, kind="typed", key="x", reading=reading)


def add_identity(piece: Piece, entry: dict[str, Any]) -> None:
    if entry["edition"]:
        edition = services.add_edition(name=entry["edition"], drive={"armature_poles": 3})
        services.change_piece(piece=piece, edition=edition)
    if entry["prototype"]:
        prototype = services.add_prototype(name=entry["prototype"])
        services.add_life_event(prototype=prototype, date="1911/1913", kind="built")
        services.change_piece(piece=piece, prototype=prototype)


def add_bench_work(piece: Piece, entry: dict[str, Any]) -> JobCard:
    inspection = services.add_inspection(piece=piece)
    for target, note in entry["findings"].items():
        services.set_finding(
            inspection=inspection, target_kind="axle", target=target, state="stiff", note=note
        )
    steps = [
        {"title": title, "reverses": 0 if n else None} for n, title in enumerate(entry["steps"])
    ]
    job = services.add_job(piece=piece, title="job", inspection=inspection, steps=steps)
    for seed, name, taken_at in entry["sounds"]:
        recording = services.add_recording(
            piece=piece, source=sound_of(0.01, seed), name=name, taken_at=taken_at, job=job
        )
        level = Estimate.exact(1.5, "dB").as_json()
        services.keep_result(recording=recording, result={"level": level, "runs": []}, kind="sound")
    return job


def add_running(piece: Piece, job: JobCard, entry: dict[str, Any]) -> None:
    run_in = services.plan_run_in(piece=piece, job=job)
    for moment in entry["legs"]:
        RunInSegment.objects.create(run_in=run_in, leg=0, started_at=moment, ended_at=moment)
    services.add_sample(run_in=run_in, current_a=0.3)
    if entry["snapshot"] is not None:
        services.issue_release(piece=piece, snapshot=entry["snapshot"], pdf=b"%PDF-1.7", job=job)
    if entry["minutes"]:
        services.log_running(piece=piece, minutes=entry["minutes"])


def keep_photo(piece: Piece, colour: str) -> None:
    """As services.add_photo does, without the child process that looks at the picture."""
    incoming = store.receive(picture_of(colour))
    media, _ = MediaFile.objects.get_or_create(
        sha256=incoming.sha256,
        defaults={"size": incoming.size, "kind": "picture", "media_type": "image/png"},
    )
    store.settle(incoming)
    photo = piece.photos.create(media=media, caption=colour)
    Piece.objects.filter(pk=piece.pk, cover=None).update(cover=photo)


def everything() -> dict[str, dict[uuid.UUID, dict[str, Any]]]:
    """Every column of every record, relations by uid, read without the archive's code."""
    found = {}
    for model in record_models():
        rows = {}
        for record in model.objects.all():
            row = {}
            for field in record._meta.concrete_fields:
                value = getattr(record, field.name)
                row[field.name] = value.uid if isinstance(value, Record) else value
            del row["id"]
            rows[record.uid] = row
        found[model.__name__] = rows
    return found


def files() -> dict[str, bytes]:
    return {path.name: path.read_bytes() for path in store.all_files()}


def empty() -> None:
    for model in reversed(record_models()):
        if model is Piece:
            Piece.objects.update(cover=None)
        model.objects.all().delete()
    for path in store.all_files():
        path.unlink()


@given(plan=collections())
@settings(
    max_examples=12,
    phases=[Phase.explicit, Phase.generate],  # an example is slow; shrinking would take minutes
    suppress_health_check=[HealthCheck.function_scoped_fixture, HealthCheck.too_slow],
)
def test_export_then_import_brings_back_everything(plan: list[dict[str, Any]], home: Path) -> None:
    file = home / "archive.zip"
    with transaction.atomic():
        build(plan)
        before, kept = everything(), files()
        assert export_archive(file, replace=True) == []
        empty()
        assert not Piece.objects.exists()
        done = import_archive(file)
        assert done.added == sum(len(rows) for rows in before.values())
        assert (done.known, done.warnings) == (0, ())
        assert everything() == before
        assert files() == kept
        again = import_archive(file)
        assert (again.added, again.known) == (0, done.added)
        assert everything() == before
        transaction.set_rollback(True)
    for path in store.all_files():
        path.unlink()


def test_one_record_of_every_kind_comes_back(home: Path) -> None:
    """Kinds that later rooms add take part by themselves: each gets a row with every field set."""
    for model in record_models():
        filled(model)
    before = everything()
    assert all(before.values())
    export_archive(home / "archive.zip")
    empty()
    import_archive(home / "archive.zip")
    assert everything() == before


def test_an_archive_adds_to_a_collection_without_touching_it(home: Path) -> None:
    services.add_piece(name="travels")
    file = home / "archive.zip"
    export_archive(file)
    empty()
    stays = services.add_piece(name="stays")
    import_archive(file)
    assert set(Piece.objects.values_list("name", flat=True)) == {"travels", "stays"}
    stays.refresh_from_db()
    assert stays.name == "stays"


def test_what_was_changed_here_since_stays_changed(home: Path) -> None:
    piece = services.add_piece(name="old name")
    file = home / "archive.zip"
    export_archive(file)
    services.change_piece(piece=piece, name="new name")
    import_archive(file)
    assert Piece.objects.get().name == "new name"


def test_the_same_photo_on_both_sides_is_kept_once(home: Path) -> None:
    piece = services.add_piece(name="travels")
    services.add_recording(piece=piece, source=sound_of(), name="a.wav")
    file = home / "archive.zip"
    export_archive(file)
    empty()
    other = services.add_piece(name="here")
    services.add_recording(piece=other, source=sound_of(), name="b.wav")
    import_archive(file)
    assert MediaFile.objects.count() == 1
    assert Piece.objects.get(name="travels").recordings.get().media == MediaFile.objects.get()


def test_the_archive_opens_with_any_zip_and_json_reader(home: Path) -> None:
    piece = services.add_piece(name="Ähre", mass_g=212.5)
    services.add_recording(piece=piece, source=sound_of(), name="a.wav")
    export_archive(home / "archive.zip")
    with zipfile.ZipFile(home / "archive.zip") as opened:
        manifest = json.loads(opened.read("manifest.json"))
        pieces = json.loads(opened.read("records/piece.json"))
        wavs = [name for name in opened.namelist() if name.endswith(".wav")]
        assert opened.read(wavs[0]) == sound_of().getvalue()
    assert (manifest["format"], manifest["format_version"]) == ("outshop-archive", 1)
    assert manifest["counts"]["records/piece.json"] == 1
    assert (pieces[0]["name"], pieces[0]["mass_g"]) == ("Ähre", 212.5)


def test_a_missing_file_is_told_and_the_rest_exported(home: Path) -> None:
    piece = services.add_piece(name="x")
    recording = services.add_recording(
        piece=piece, source=io.BytesIO(sound_of().getvalue()), name="a"
    )
    store.path_of(recording.media.sha256).unlink()
    assert len(export_archive(home / "a.zip")) == 1
    empty()
    assert len(import_archive(home / "a.zip").warnings) == 1
