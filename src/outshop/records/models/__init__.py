"""Everything that is kept, one file a topic."""

from .care import CareDone, CareInterval
from .dating import EditionFeature, Evidence, ResearchNote
from .edition import Edition
from .formation import (
    Formation,
    FormationDemand,
    FormationPlace,
    Line,
    LineSection,
    ShelfVehicle,
    TrainRecipe,
)
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
from .stock import FittedPart, JobNeed, StockItem
from .strip_down import StripDownPlan
from .trouble import CauseCounts, Trouble

__all__ = [
    "CareDone",
    "CareInterval",
    "CauseCounts",
    "ChangeEntry",
    "Direction",
    "Edition",
    "EditionFeature",
    "Evidence",
    "Finding",
    "FittedPart",
    "Formation",
    "FormationDemand",
    "FormationPlace",
    "Inspection",
    "JobCard",
    "JobNeed",
    "JobStep",
    "LifeEvent",
    "Line",
    "LineSection",
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
    "ShelfVehicle",
    "StockItem",
    "StripDownPlan",
    "TrainRecipe",
    "Trouble",
    "Valuation",
]
