"""Everything that is kept, one file a topic."""

from .dating import EditionFeature, Evidence, ResearchNote
from .edition import Edition
from .history import ChangeEntry, SentForm
from .inspection import Finding, Inspection
from .job import JobCard, JobStep
from .market import Lot, LotFile, Sale, Valuation
from .media import MediaFile, Photo
from .piece import Piece
from .prototype import LifeEvent, Prototype
from .recording import Measurement, Recording
from .release import Release
from .run_in import Direction, RunIn, RunInSample, RunInSegment, RunningLog

__all__ = [
    "ChangeEntry",
    "Direction",
    "Edition",
    "EditionFeature",
    "Evidence",
    "Finding",
    "Inspection",
    "JobCard",
    "JobStep",
    "LifeEvent",
    "Lot",
    "LotFile",
    "Measurement",
    "MediaFile",
    "Photo",
    "Piece",
    "Prototype",
    "Recording",
    "Release",
    "ResearchNote",
    "RunIn",
    "RunInSample",
    "RunInSegment",
    "RunningLog",
    "Sale",
    "SentForm",
    "Valuation",
]
