"""Background work: measuring a recording."""

import logging
import time
from collections.abc import Callable
from typing import Any

from django_tasks import task

from outshop.errors import OutshopError
from outshop.records import services, store
from outshop.records.models import Recording

log = logging.getLogger("outshop")

PROGRESS_EVERY_S = 0.5  # often enough for a bar, rare enough for the disk


@task()
def measure_recording(recording_pk: int) -> None:
    """Measure one recording and keep what was found, or the sentence that says why not."""
    recording = (
        Recording.objects.select_related("piece__edition", "media").filter(pk=recording_pk).first()
    )
    if recording is None:  # removed while it waited
        return
    services.begin_measuring(recording=recording)
    try:
        kind = "motion" if recording.programme == "motion" else "sound"
        measure = _measure_motion if kind == "motion" else _measure
        result = measure(recording, _reporter(recording))
        services.keep_result(recording=recording, result=result, kind=kind)
    except OutshopError as problem:
        services.note_failure(recording=recording, sentence=_by_its_own_name(problem, recording))
    except Exception:
        sentence = (
            "Outshop itself failed at this recording: the recording is kept, the log says more"
        )
        services.note_failure(recording=recording, sentence=sentence)
        raise


def _by_its_own_name(problem: OutshopError, recording: Recording) -> str:
    """Name the file as the person does, not as the store does."""
    from outshop.media.sniff import short_name

    stored = short_name(store.path_of(recording.media.sha256))
    return str(problem).replace(stored, recording.media.original_name or "the file")


def _measure(recording: Recording, report: Callable[[float], None]) -> dict[str, Any]:
    from outshop.bench import sound

    table = recording.piece.known_drive
    if recording.piece.known_scale:
        table.setdefault("scale", recording.piece.known_scale)
    drive = sound.drive_from_table(table) if table else None
    bench = sound.measure_file(
        store.path_of(recording.media.sha256),
        drive,
        recording.full_scale_db,
        progress=report,
        scale_speed_km_h=recording.setup.get("scale_speed_km_h"),
    )
    return bench.as_json()


def _measure_motion(recording: Recording, report: Callable[[float], None]) -> dict[str, Any]:
    from outshop.bench.motion.measure import measure_clip, setup_from_table

    table = dict(recording.setup)
    wheel = recording.piece.known_drive.get("wheel_diameter_mm")
    if wheel:
        table.setdefault("wheel_mm", wheel)
    if recording.piece.known_scale:
        table.setdefault("scale", recording.piece.known_scale)
    bench = measure_clip(
        store.path_of(recording.media.sha256), setup_from_table(table), progress=report
    )
    return bench.as_json()


def _reporter(recording: Recording) -> Callable[[float], None]:
    """Give a function that takes a share of 0 to 1 and notes it now and then."""
    last = [time.monotonic(), -1]

    def report(share: float) -> None:
        percent, now = int(share * 100), time.monotonic()
        if percent != last[1] and now - last[0] >= PROGRESS_EVERY_S:
            last[:] = now, percent
            services.note_progress(recording=recording, percent=min(percent, 99))

    return report
