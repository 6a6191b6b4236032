"""What happened to the invented pieces: inspections, recordings, work, run-in, release."""

import io
from datetime import datetime, timedelta
from decimal import Decimal
from typing import Any

from django.utils import timezone

from outshop.market.comparables import read_comparables
from outshop.records import services, tasks
from outshop.records.models import Edition, JobCard, Piece, Recording, RunIn
from outshop.reports import compose, release_sheet
from outshop.rig.locomotive import Faults, Locomotive, Microphone, Stage
from outshop.rig.programme import bench_programme, drive
from outshop.rig.sound import record

TANK = {
    "poles": 3,
    "stages": (Stage(11, 53), Stage(13, 41)),
    "wheel_diameter_mm": 16.1,
    "top_speed_m_s": 0.28,
}
RAILCAR = {
    "poles": 5,
    "stages": (Stage(1, 24),),
    "wheel_diameter_mm": 10.5,
    "length_mm": 174.0,
    "top_speed_m_s": 0.28,
}
NEGLECTED = Faults(
    binding_axle=0.12,
    rough_mesh=7.0,
    brush_noise=8.0,
    crackle=6.0,
    dry_squeal=0.8,
    sticky_start=0.5,
)
FULL_SCALE_DB = 94.0  # as if the phone had been checked against a sound level meter
AFTER_SERVICE = {
    **{("axle", label): "free" for label in ("a", "1", "2", "3", "b")},
    ("part", "gears"): "good",
    ("part", "commutator"): "good",
    ("part", "wheels"): "good",
    ("part", "body"): "good",
    ("part", "paint"): "rubbed",
    ("part", "box"): "worn",
    ("part", "handrails"): "good",
}
FOUND = {
    ("axle", "a"): "stiff",
    ("axle", "1"): "free",
    ("axle", "2"): "seized",
    ("axle", "3"): "free",
    ("axle", "b"): "stiff",
    ("part", "gears"): "gummed",
    ("part", "commutator"): "dirty",
    ("part", "wheels"): "dirty",
    ("part", "body"): "good",
    ("part", "paint"): "rubbed",
    ("part", "box"): "worn",
    ("part", "handrails"): "good",
}


def tank_engine(piece: Piece) -> None:
    """Take the tank engine from arrival to its release sheet."""
    piece.refresh_from_db()  # it has a picture by now
    now = timezone.now()
    inspection = services.add_inspection(
        piece=piece, made_on=timezone.localdate() - timedelta(days=9), note="Turned by hand first."
    )
    services.set_findings(inspection=inspection, findings=FOUND)
    job = services.write_job_card(
        piece=piece, title="First service after the loft", inspection=inspection
    )
    _record(piece, job, Recording.Role.BEFORE, NEGLECTED, now - timedelta(days=8), seed=1)
    for step in job.steps.all():
        services.tick_step(step=step)
    _run_in(piece, job, now - timedelta(days=2))
    _record(piece, job, Recording.Role.AFTER, Faults(), now - timedelta(days=1), seed=2)
    services.finish_job(card=job)
    again = services.add_inspection(piece=piece, note="After the service.")
    services.set_findings(inspection=again, findings=AFTER_SERVICE)
    sheet = compose.release_of(piece, job, signed_by="the demo's fitter")
    services.issue_release(
        piece=piece,
        job=job,
        snapshot=sheet.as_json(),
        pdf=release_sheet(sheet, compose.photo_of(sheet)),
        signed_by="the demo's fitter",
    )
    piece.refresh_from_db()
    services.change_piece(piece=piece, state=Piece.State.IN_TRAFFIC)
    for days, minutes in ((1, 25), (0, 15)):
        services.log_running(
            piece=piece, minutes=minutes, ran_at=now - timedelta(days=days), note="branch train"
        )


def evidence(piece: Piece, rows: list[dict[str, Any]]) -> None:
    """Write down what dates the piece."""
    for row in rows:
        services.add_evidence(piece=piece, source="invented", **row)


def railcar(piece: Piece) -> None:
    """Leave the railcar half done: looked over, recorded before, the job begun."""
    now = timezone.now()
    inspection = services.add_inspection(piece=piece)
    services.set_findings(
        inspection=inspection,
        findings={
            ("axle", "1"): "free",
            ("axle", "2"): "free",
            ("part", "brushes"): "oily",
            ("part", "gears"): "dry",
            ("part", "tyres"): "hard",
        },
    )
    job = services.write_job_card(piece=piece, title="Noisy backwards", inspection=inspection)
    _record(piece, job, Recording.Role.BEFORE, Faults(rough_mesh=6, brush_noise=5), now, seed=3)
    for step in job.steps.all()[:4]:
        services.tick_step(step=step)


def shunter(piece: Piece) -> None:
    """Give the shunter some running hours."""
    for week in range(6):
        services.log_running(
            piece=piece, minutes=40, ran_at=timezone.now() - timedelta(days=7 * week + 3)
        )


def market(edition: Edition, lots: list[dict[str, Any]], sales: list[dict[str, str]]) -> None:
    """Watch a lot, and know what others were sold for."""
    for lot in lots:
        ends = timezone.localdate() + timedelta(days=9)
        services.add_lot(edition=edition, ends_on=ends, **lot)
    columns = ("date", "price", "condition", "box", "working")
    lines = [",".join(sale[c] for c in columns) + f",EUR,{edition.name},invented" for sale in sales]
    table = "\n".join([",".join(columns) + ",currency,edition,source", *lines])
    services.add_sales(sales=read_comparables(table)[0], edition=edition)


def values(*pieces: Piece) -> None:
    """Agree values for the insurer."""
    for number, piece in enumerate(pieces):
        services.add_valuation(
            piece=piece, basis="paid", amount=Decimal(64 + 21 * number), currency="EUR"
        )
        services.add_valuation(
            piece=piece, basis="agreed", amount=Decimal(140 + 40 * number), currency="EUR"
        )


def _record(
    piece: Piece, job: JobCard, role: str, faults: Faults, taken_at: datetime, *, seed: int
) -> None:
    """Record the simulated engine and measure it with the real bench."""
    parts = RAILCAR if piece.kind == Piece.Kind.RAILCAR else TANK
    engine = Locomotive(**parts, faults=faults)  # type: ignore[arg-type]  # the two dicts above
    sound = record(drive(engine, bench_programme(), seed), Microphone(), seed)
    recording = services.add_recording(
        piece=piece,
        source=io.BytesIO(sound.wav()),
        name=f"{role}.wav",
        role=role,
        programme="sound",
        job=job,
        taken_at=taken_at,
        full_scale_db=FULL_SCALE_DB,
        note="made by the simulated engine",
    )
    tasks.measure_recording.call(recording.pk)


def _run_in(piece: Piece, job: JobCard, began: datetime) -> RunIn:
    """Run in ten minutes each way, with a reading every two minutes."""
    run_in = services.plan_run_in(
        piece=piece, job=job, current_limit_a=0.6, temperature_limit_c=55.0
    )
    run_in = services.start_run_in(run_in=run_in, now=began)
    for leg in range(2):
        start = began + timedelta(minutes=10 * leg)
        for minute in range(1, 10, 2):
            services.add_sample(
                run_in=run_in,
                current_a=round(0.34 - 0.008 * (10 * leg + minute) ** 0.8, 3),
                temperature_c=22.0 + 0.7 * (10 * leg + minute),
                now=start + timedelta(minutes=minute),
            )
        run_in = services.next_leg(run_in=run_in, leg=leg, now=start + timedelta(minutes=10))
    return run_in
