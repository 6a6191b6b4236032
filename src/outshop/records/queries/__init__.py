"""Everything that only reads; no query grows with the number of rows it shows."""

from .bench import Bench, bench
from .jobs import job_card, step_progress
from .pieces import before_and_after, history, latest_inspection, piece_page, running_minutes
from .shelf import PAGE_SIZE, SORTS, ShelfPage, shelf

__all__ = [
    "PAGE_SIZE",
    "SORTS",
    "Bench",
    "ShelfPage",
    "before_and_after",
    "bench",
    "history",
    "job_card",
    "latest_inspection",
    "piece_page",
    "running_minutes",
    "shelf",
    "step_progress",
]
