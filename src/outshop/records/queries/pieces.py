"""Everything that a piece's page shows."""

from django.db.models import Prefetch, QuerySet, Sum

from outshop.errors import MissingError
from outshop.records.models import (
    ChangeEntry,
    Inspection,
    JobCard,
    JobStep,
    Photo,
    Piece,
    Recording,
    RunningLog,
)


def piece_page(pk: int) -> Piece:
    """Give a piece with all that hangs on it fetched at once.

    Raises
    ------
    MissingError
        There is none under this number.
    """
    piece = (
        Piece.objects.select_related("edition", "prototype", "cover__media")
        .prefetch_related(
            Prefetch("photos", Photo.objects.select_related("media")),
            Prefetch("inspections", Inspection.objects.prefetch_related("findings__photos__media")),
            Prefetch(
                "recordings",
                Recording.objects.select_related("media").prefetch_related("measurements"),
            ),
            Prefetch("jobs", JobCard.objects.prefetch_related("steps")),
            "run_ins__segments",
            "run_ins__samples",
            "releases__pdf",
            "prototype__events",
        )
        .filter(pk=pk)
        .first()
    )
    if piece is None:
        message = f"there is no piece number {pk}: it may have been removed"
        raise MissingError(message)
    return piece


def running_minutes(piece: Piece) -> float:
    """Give the minutes that a piece has run, all together."""
    total = RunningLog.objects.filter(piece=piece).aggregate(sum=Sum("minutes"))["sum"]
    return float(total or 0)


def history(piece: Piece, limit: int = 100) -> QuerySet[ChangeEntry]:
    """Give the latest changes of a piece and of all that hangs on it."""
    return ChangeEntry.objects.filter(piece=piece)[:limit]


def latest_inspection(piece: Piece) -> Inspection | None:
    """Give the latest inspection with its findings."""
    return piece.inspections.prefetch_related("findings").first()


def before_and_after(
    piece: Piece, job: JobCard | None = None
) -> tuple[Recording | None, Recording | None]:
    """Give the latest measured recording before the work, and the latest after it.

    With a job, only its own recordings count when it has any of the role.
    """
    done = Recording.objects.filter(piece=piece, status=Recording.Status.DONE)

    def latest(role: str) -> Recording | None:
        own = done.filter(role=role, job=job).first() if job else None
        return own or done.filter(role=role).first()

    return latest(Recording.Role.BEFORE), latest(Recording.Role.AFTER)


def open_steps(card: JobCard) -> QuerySet[JobStep]:
    """Give the steps of a card that are still to do."""
    return card.steps.filter(done_at=None)
