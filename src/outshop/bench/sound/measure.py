"""The whole sound bench: a recording goes in, a :class:`SoundBench` comes out."""

import hashlib
from collections.abc import Callable, Iterable
from pathlib import Path

import numpy as np

from outshop.bench.sound.details import details, inferred_ratio, speeds_from
from outshop.bench.sound.digest import Digest, Digester, Float32Array
from outshop.bench.sound.drive import Drive
from outshop.bench.sound.events import list_events, start_time
from outshop.bench.sound.laps import lap_time
from outshop.bench.sound.levels import measure_levels
from outshop.bench.sound.motor import find_motor
from outshop.bench.sound.result import SoundBench
from outshop.bench.sound.runs import find_runs
from outshop.bench.sound.stretch import stretches
from outshop.bench.sound.thirds import third_octaves
from outshop.estimate import Estimate
from outshop.media.sound import open_sound

Progress = Callable[[float], None]
CLIPPED_SHARE = 1e-4  # more than this share of samples at full scale is worth a warning; ours


def measure_file(
    path: Path,
    drive: Drive | None = None,
    full_scale_db: float | None = None,
    progress: Progress | None = None,
    *,
    scale_speed_km_h: float | None = None,
) -> SoundBench:
    """Measure a recording; see :func:`measure_digest`.

    Parameters
    ----------
    path : Path
        Any sound or video file with a sound track.
    drive : Drive, optional
        What is known of the drive.
    full_scale_db : float, optional
        Level of a full-scale sine in dB SPL.
    progress : callable, optional
        Called with the share done, 0 to 1.
    scale_speed_km_h : float, optional
        Scale speed known otherwise (clip, lap and loop, stop-watch).

    Raises
    ------
    MediaError
        The file cannot be decoded or asks for too much.
    """
    tell = progress or (lambda _share: None)
    with open_sound(path) as stream:
        head = stream.head
        digester = Digester(head.sample_rate_hz)
        claimed = head.claimed_duration_s or 0.0
        seconds = 0.0
        for block in stream:
            digester.feed(block.samples, block.clipped)
            seconds += block.samples.size / head.sample_rate_hz
            tell(0.6 * min(1.0, seconds / claimed) if claimed else 0.3)
        warnings = tuple(head.warnings)
    with path.open("rb") as file:
        checksum = hashlib.file_digest(file, "sha256").hexdigest()
    result = measure_digest(
        digester.finish(), drive, full_scale_db, checksum, warnings, scale_speed_km_h
    )
    tell(1.0)
    return result


def measure_samples(
    samples: Float32Array,
    rate: float,
    drive: Drive | None = None,
    full_scale_db: float | None = None,
    scale_speed_km_h: float | None = None,
) -> SoundBench:
    """Measure samples of shape (n,), full scale 1; see :func:`measure_digest`."""
    digest = digest_samples(samples, rate)
    return measure_digest(digest, drive, full_scale_db, scale_speed_km_h=scale_speed_km_h)


def digest_samples(samples: Float32Array, rate: float, step: int = 1 << 18) -> Digest:
    """Digest samples of shape (n,) at ``rate`` Hz, ``step`` at a time."""
    digester = Digester(rate)
    parts: Iterable[Float32Array] = np.split(samples, range(step, samples.size, step))
    for part in parts:
        digester.feed(part, int(np.count_nonzero(np.abs(part) >= 0.9999)))
    return digester.finish()


def measure_digest(
    digest: Digest,
    drive: Drive | None = None,
    full_scale_db: float | None = None,
    sha256: str = "",
    warnings: tuple[str, ...] = (),
    scale_speed_km_h: float | None = None,
) -> SoundBench:
    """Turn a digested recording into readings.

    Parameters
    ----------
    digest : Digest
        The recording after one pass.
    drive : Drive, optional
        What is known of the drive.
    full_scale_db : float, optional
        Level of a full-scale sine in dB SPL; without it levels are relative to full scale.
    sha256 : str
        Checksum to carry along.
    warnings : tuple of str
        Warnings to carry along.
    scale_speed_km_h : float, optional
        Scale speed known otherwise; narrows the search, or gives the ratio.
    """
    runs = find_runs(digest)
    laps = lap_time(digest, runs)
    levels = measure_levels(
        digest, runs, full_scale_db, laps.value if isinstance(laps, Estimate) else None
    )
    running = stretches(digest, runs)
    motor = find_motor(running, drive, scale_speed_km_h)
    events = list_events(runs, motor.heard, digest.duration_s)
    wheel, travel = speeds_from(motor.speed, drive)
    ratio = inferred_ratio(motor, drive, scale_speed_km_h)
    return SoundBench(
        duration_s=digest.duration_s,
        sample_rate_hz=digest.rate,
        sha256=sha256,
        runs=runs,
        level=levels.level,
        level_as_recorded=levels.as_recorded,
        background=levels.background,
        room_change=levels.room_change,
        motor_speed=motor.speed,
        wheel_speed=wheel,
        scale_speed=travel,
        motor_speed_status=motor.status,
        alternatives=motor.alternatives,
        inferred_ratio=ratio,
        lap_time=laps,
        start_time=start_time(events),
        events=events,
        bands=third_octaves(digest, runs, full_scale_db),
        clipped_share=digest.clipped_share,
        full_scale_db=full_scale_db,
        drive=drive,
        warnings=_notes(digest, full_scale_db, warnings + motor.warnings),
        **details(motor, drive, running, stretches(digest, runs, "still"), full_scale_db),
    )


def _notes(
    digest: Digest, full_scale_db: float | None, warnings: tuple[str, ...]
) -> tuple[str, ...]:
    notes = list(warnings)
    if digest.clipped_share > CLIPPED_SHARE:
        notes.append(
            f"{digest.clipped_share:.2%} of the samples are clipped: levels are too low and "
            "tones may be false; record again from further away"
        )
    if full_scale_db is None:
        notes.append("levels are relative to full scale, not sound pressure levels")
    return tuple(notes)
