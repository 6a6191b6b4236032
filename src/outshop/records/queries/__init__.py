"""Everything that only reads; no query grows with the number of rows it shows."""

from .bench import Bench, bench
from .care import absent_parts, care_history, care_of, piece_care
from .care_due import PieceDue, Turn, calendar_dues, due_list, next_turns
from .jobs import job_card, step_progress
from .pieces import before_and_after, history, latest_inspection, piece_page, running_minutes
from .settling import Settled, settling_of, still_to_run
from .shelf import PAGE_SIZE, SORTS, ShelfPage, shelf
from .standing import Standing, standings
from .stock import PartLife, open_needs, part_lives, to_buy
from .troubles import (
    case_of,
    diagnosis_of,
    experience,
    known_elsewhere,
    learnt_weights,
    solved_troubles,
    troubles_of,
)

__all__ = [
    "PAGE_SIZE",
    "SORTS",
    "Bench",
    "PartLife",
    "PieceDue",
    "Settled",
    "ShelfPage",
    "Standing",
    "Turn",
    "absent_parts",
    "before_and_after",
    "bench",
    "calendar_dues",
    "care_history",
    "care_of",
    "case_of",
    "diagnosis_of",
    "due_list",
    "experience",
    "history",
    "job_card",
    "known_elsewhere",
    "latest_inspection",
    "learnt_weights",
    "next_turns",
    "open_needs",
    "part_lives",
    "piece_care",
    "piece_page",
    "running_minutes",
    "settling_of",
    "shelf",
    "solved_troubles",
    "standings",
    "step_progress",
    "still_to_run",
    "to_buy",
    "troubles_of",
]
