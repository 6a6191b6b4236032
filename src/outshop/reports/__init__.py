"""What is printed: release sheet, job card, labels, charts and the axle diagram."""

from outshop.reports.job_card import job_card as job_card_sheet
from outshop.reports.release import release_sheet
from outshop.reports.sheet import Fact, ReleaseSheet, RunInLine, SheetRow, Spectrum

__all__ = [
    "Fact",
    "ReleaseSheet",
    "RunInLine",
    "SheetRow",
    "Spectrum",
    "job_card_sheet",
    "release_sheet",
]
