"""The bench: what stands on it, what waits, what goes on."""

from dataclasses import dataclass

from django.db.models import Count, Q

from outshop.records.models import JobCard, Piece, Recording, RunIn

SHOWN = 12  # of each list on the home page


@dataclass(frozen=True, slots=True)
class Bench:
    """What the home page shows; each list newest first."""

    on_the_bench: list[Piece]
    arrived: list[Piece]
    jobs: list[JobCard]  # open ones, each with ``steps_done`` and ``steps_all``
    run_ins: list[RunIn]  # begun and not ended
    waiting: list[Recording]  # being measured, or waiting for it
    failed: list[Recording]
    counts: dict[str, int]  # pieces by state


def bench() -> Bench:
    """Look at the bench."""
    pieces = Piece.objects.select_related("edition", "cover__media").order_by("-changed_at", "-pk")
    jobs = (
        JobCard.objects.filter(state=JobCard.State.OPEN)
        .select_related("piece__cover__media")
        .annotate(
            steps_all=Count("steps"),
            steps_done=Count("steps", filter=Q(steps__done_at__isnull=False)),
        )
    )
    run_ins = (
        RunIn.objects.filter(state__in=(RunIn.State.RUNNING, RunIn.State.PAUSED))
        .select_related("piece")
        .prefetch_related("segments")
    )
    recordings = Recording.objects.select_related("piece", "media")
    status = Recording.Status
    counts = Piece.objects.order_by().values("state").annotate(number=Count("pk"))
    return Bench(
        on_the_bench=list(pieces.filter(state=Piece.State.ON_THE_BENCH)[:SHOWN]),
        arrived=list(pieces.filter(state=Piece.State.ARRIVED)[:SHOWN]),
        jobs=list(jobs[:SHOWN]),
        run_ins=list(run_ins[:SHOWN]),
        waiting=list(recordings.filter(status__in=(status.WAITING, status.ANALYSING))[:SHOWN]),
        failed=list(recordings.filter(status=status.FAILED)[:SHOWN]),
        counts={row["state"]: row["number"] for row in counts},
    )
