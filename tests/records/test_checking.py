"""`outshop check` finds each kind of harm, and nothing where there is none."""

from pathlib import Path

import pytest
from django.db import connection

from outshop.records import services, store
from outshop.records.checking import check
from outshop.records.models import Piece, Recording

from .conftest import sound_of

pytestmark = pytest.mark.django_db


@pytest.fixture(name="recording")
def _recording(piece: Piece, django_capture_on_commit_callbacks: object) -> Recording:
    with django_capture_on_commit_callbacks(execute=True):
        return services.add_recording(piece=piece, source=sound_of(), name="run.wav")


@pytest.fixture(name="original")
def _original(recording: Recording) -> Path:
    path = store.path_of(recording.media.sha256)
    path.chmod(0o600)
    return path


def faults(**options: bool) -> list[str]:
    return sorted({problem.fault for problem in check(**options)})


def test_a_sound_collection_has_no_problem(original: Path) -> None:
    assert check() == []


def test_a_missing_file_is_found_by_its_name(original: Path) -> None:
    original.unlink()
    assert [(p.fault, p.sentence[:16]) for p in check()] == [("missing", "run.wav is gone:")]


def test_a_changed_file_is_found(original: Path) -> None:
    data = original.read_bytes()
    original.write_bytes(data[:-1] + bytes([data[-1] ^ 1]))
    assert faults() == ["changed"]
    assert faults(quick=True) == []  # the size is as it was


def test_a_cut_file_is_found_even_by_a_quick_look(original: Path) -> None:
    original.write_bytes(original.read_bytes()[:-1])
    assert faults(quick=True) == ["changed"]


def test_an_orphaned_file_is_found(original: Path) -> None:
    (original.parent / ("f" * 64)).write_bytes(b"whose?")
    assert faults() == ["orphaned"]


def test_what_a_crash_left_on_its_way_in_is_found(original: Path) -> None:
    (store.home() / "incoming" / "tmp1.part").write_bytes(b"half")
    assert faults() == ["unfinished"]


@pytest.mark.parametrize(
    ("table", "change"),
    [
        ("records_piece", "state = 'flying'"),
        ("records_piece", "drive = '{\"armature_poles\": -1}'"),
        ("records_recording", "taken_at = 'soon'"),
        ("records_recording", "progress = 900"),
    ],
)
def test_a_broken_row_is_found(original: Path, table: str, change: str) -> None:
    with connection.cursor() as cursor:
        cursor.execute(f"UPDATE {table} SET {change}")
    assert faults() == ["broken_row"]


def test_a_row_that_is_no_json_any_more_is_found(original: Path) -> None:
    with connection.cursor() as cursor:
        cursor.execute("PRAGMA ignore_check_constraints=ON")
        cursor.execute("UPDATE records_piece SET drive = '{broken'")
        cursor.execute("PRAGMA ignore_check_constraints=OFF")
    assert "broken_row" in faults()


def test_a_row_that_points_nowhere_is_found(original: Path) -> None:
    with connection.cursor() as cursor:
        cursor.execute("PRAGMA defer_foreign_keys=ON")
        cursor.execute("UPDATE records_recording SET piece_id = 999")
        assert "broken_row" in faults()
        cursor.execute("UPDATE records_recording SET piece_id = (SELECT id FROM records_piece)")
