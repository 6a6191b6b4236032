"""How long tasks really took, from the ticks of finished cards."""

from collections import defaultdict
from datetime import datetime

from outshop.records.models import JobCard, JobStep
from outshop.workshop.pace import Took, own_pace

LONGEST_GAP_MIN = 90.0  # a longer gap between two ticks was a pause; our choice
CARDS = 40  # latest finished cards; older ones say little about the present pace


def pace() -> dict[str, float]:
    """Give the factor by task that multiplies the table's minutes."""
    latest = JobCard.objects.filter(state=JobCard.State.DONE).order_by("-finished_at")[:CARDS]
    cards = list(latest.values_list("pk", flat=True))
    steps = JobStep.objects.filter(card__in=cards, done_at__isnull=False)
    rows = steps.order_by("card", "done_at", "order").values_list(
        "card", "procedure", "minutes", "done_at"
    )
    taken: dict[tuple[int, str], list[float]] = defaultdict(lambda: [0.0, 0.0])
    before: tuple[int, datetime] | None = None
    for card, procedure, minutes, done_at in rows:
        task = procedure.partition(".")[0]
        if done_at is None:
            continue
        if before and before[0] == card and task and minutes > 0:
            gap = (done_at - before[1]).total_seconds() / 60
            # Ticks in one go say nothing about the time each step took.
            if 0.2 <= gap <= LONGEST_GAP_MIN:
                both = taken[card, task]
                both[0] += minutes
                both[1] += gap
        before = (card, done_at)
    return own_pace(Took(task, both[0], both[1]) for (_, task), both in taken.items())
