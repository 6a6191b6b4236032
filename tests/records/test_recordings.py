"""Measuring in the background: progress, result, failure, and work that a crash cut off."""

import io
from collections.abc import Callable
from types import SimpleNamespace

import pytest
from django_tasks_db.models import DBTaskResult

from outshop.bench import sound as bench_sound
from outshop.errors import MediaError
from outshop.estimate import Estimate, NotMeasurable
from outshop.records import services, tasks
from outshop.records.models import Measurement, Piece, Recording

pytestmark = pytest.mark.django_db
RESULT = {
    "duration_s": 3.0,
    "level": {"value": 57.3, "low": 56.9, "high": 57.7, "confidence": 0.95, "unit": "dB(A)"},
    "lap_time": {"value": None, "reason": "one lap only", "unit": "s"},
    "warnings": ["short"],
}


@pytest.fixture(name="recording")
def _recording(piece: Piece, sound: Callable[..., io.BytesIO]) -> Recording:
    return services.add_recording(piece=piece, source=sound(), name="run.wav")


def work(recording: Recording) -> Recording:
    tasks.measure_recording.func(recording.pk)
    recording.refresh_from_db()
    return recording


def stand_in(monkeypatch: pytest.MonkeyPatch, measure: Callable[..., object]) -> None:
    monkeypatch.setattr(bench_sound, "measure_file", measure)


def test_a_kept_recording_waits_in_the_queue(recording: Recording) -> None:
    task = DBTaskResult.objects.get()
    assert task.args_kwargs["args"] == [recording.pk]
    assert recording.status == "waiting"


def test_each_estimate_of_a_bench_becomes_a_measurement(
    recording: Recording, monkeypatch: pytest.MonkeyPatch
) -> None:
    stand_in(monkeypatch, lambda *_a, **_k: SimpleNamespace(as_json=lambda: RESULT))
    assert work(recording).status == "done"
    assert recording.result == RESULT
    readings = {m.key: m.reading for m in recording.measurements.all()}
    assert readings["level"] == Estimate(57.3, 56.9, 57.7, "dB(A)")
    assert readings["lap_time"] == NotMeasurable("one lap only", "s")


def test_measuring_again_replaces_the_measurements(
    recording: Recording, monkeypatch: pytest.MonkeyPatch
) -> None:
    stand_in(monkeypatch, lambda *_a, **_k: SimpleNamespace(as_json=lambda: RESULT))
    work(recording)
    services.measure_again(recording=recording)
    assert (recording.status, recording.progress) == ("waiting", 0)
    work(recording)
    assert Measurement.objects.count() == 2


def test_the_bench_is_given_drive_and_scale_of_the_piece(
    recording: Recording, monkeypatch: pytest.MonkeyPatch
) -> None:
    services.change_piece(piece=recording.piece, drive={"armature_poles": 3}, scale="H0")
    seen = []
    stand_in(
        monkeypatch,
        lambda _path, drive, _level, **_more: (
            seen.append(drive) or SimpleNamespace(as_json=lambda: RESULT)
        ),
    )
    work(recording)
    assert (seen[0].poles, seen[0].scale) == (3, 87)


def test_progress_is_noted_while_measuring(
    recording: Recording, monkeypatch: pytest.MonkeyPatch
) -> None:
    noted = []

    def measure(
        _path: object, _drive: object, _level: object, progress: Callable, **_known: object
    ) -> object:
        progress(0.5)
        noted.append(Recording.objects.get().progress)
        progress(1.0)
        noted.append(Recording.objects.get().progress)
        return SimpleNamespace(as_json=lambda: RESULT)

    monkeypatch.setattr(tasks, "PROGRESS_EVERY_S", 0.0)
    stand_in(monkeypatch, measure)
    assert work(recording).progress == 100
    assert noted == [50, 99]  # 100 only once the result is kept


def test_an_unusable_recording_keeps_its_file_and_says_why(
    recording: Recording, monkeypatch: pytest.MonkeyPatch
) -> None:
    def measure(*_args: object, **_kwargs: object) -> None:
        message = "run.wav is 3 ms long: record at least 2 s"
        raise MediaError(message)

    stand_in(monkeypatch, measure)
    work(recording)
    assert (recording.status, recording.error) == (
        "failed",
        "run.wav is 3 ms long: record at least 2 s",
    )


def test_a_fault_of_the_program_is_told_and_logged(
    recording: Recording, monkeypatch: pytest.MonkeyPatch
) -> None:
    stand_in(monkeypatch, lambda *_a, **_k: 1 / 0)
    with pytest.raises(ZeroDivisionError):
        tasks.measure_recording.func(recording.pk)
    recording.refresh_from_db()
    assert recording.status == "failed"
    assert "recording is kept" in recording.error


def test_a_recording_removed_while_it_waited_is_no_fault(recording: Recording) -> None:
    pk = recording.pk
    services.remove_recording(recording=recording)
    tasks.measure_recording.func(pk)


def test_a_person_may_edit_while_the_worker_measures(
    recording: Recording, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The worker writes its own columns only: the edit survives, and needs no new version."""

    def measure(*_args: object, **_kwargs: object) -> object:
        opened = Recording.objects.get()
        services.change_recording(recording=opened, version=opened.version, note="loud")
        return SimpleNamespace(as_json=lambda: RESULT)

    stand_in(monkeypatch, measure)
    work(recording)
    assert (recording.note, recording.status) == ("loud", "done")


def test_what_a_crash_cut_off_is_sent_again_once(recording: Recording) -> None:
    services.begin_measuring(recording=recording)
    DBTaskResult.objects.update(status="RUNNING")
    assert services.resume_interrupted() == 1
    assert services.resume_interrupted() == 1
    recording.refresh_from_db()
    assert recording.status == "waiting"
    assert DBTaskResult.objects.count() == 1


def test_real_noise_is_measured_by_the_real_bench(piece: Piece, sound: Callable) -> None:
    recording = services.add_recording(piece=piece, source=sound(6.0), name="noise.wav")
    assert work(recording).status == "done"
    assert isinstance(recording.measurements.get(key="level").reading, Estimate)


def test_a_typed_reading_is_kept_with_its_interval(piece: Piece) -> None:
    reading = Estimate(0.31, 0.30, 0.32, "A", method="meter")
    kept = services.add_measurement(
        piece=piece, kind="typed", key="running_current", reading=reading
    )
    assert Measurement.objects.get(pk=kept.pk).reading == reading
