"""Job cards as they are shown."""

from django.db.models import Prefetch

from outshop.errors import MissingError
from outshop.records.models import JobCard, JobStep


def job_card(pk: int) -> JobCard:
    """Give a card with its piece, steps and their photos.

    Raises
    ------
    MissingError
        There is none under this number.
    """
    steps = JobStep.objects.select_related("reverses").prefetch_related("photos__media")
    card = (
        JobCard.objects.select_related("piece__edition", "inspection")
        .prefetch_related(Prefetch("steps", steps))
        .filter(pk=pk)
        .first()
    )
    if card is None:
        message = f"there is no job card number {pk}: it may have been removed"
        raise MissingError(message)
    return card


def step_progress(card: JobCard) -> tuple[int, int, float]:
    """Give how many steps are done, how many there are, and the minutes still planned."""
    steps = list(card.steps.all())
    left = [step for step in steps if step.done_at is None]
    return len(steps) - len(left), len(steps), sum(step.minutes for step in left)
