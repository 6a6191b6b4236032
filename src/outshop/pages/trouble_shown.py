"""What the page of a trouble shows: questions, the reading of the answers, places."""

from dataclasses import dataclass
from typing import Any

from django import forms
from django.utils.functional import Promise
from django.utils.safestring import SafeString
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from outshop.diagnosis.checks import NextCheck
from outshop.diagnosis.diagnosis import Diagnosis, RankedCause, strongest_at
from outshop.diagnosis.load import shipped_knowledge
from outshop.diagnosis.model import Cause, Quantity, Sign
from outshop.errors import InputError
from outshop.estimate import Estimate
from outshop.pages import axle_drawing, fields
from outshop.records import queries, services
from outshop.records.models import JobCard, Trouble
from outshop.reports.axles import AxleMark, Severity

KINDS: tuple[tuple[str, Promise], ...] = (
    ("movement", gettext_lazy("How it moves")),
    ("direction", gettext_lazy("Which way")),
    ("rhythm", gettext_lazy("What comes round")),
    ("place", gettext_lazy("Where, and what other engines do")),
    ("sound_heat", gettext_lazy("Sound, heat and smell")),
    ("electrical", gettext_lazy("Current, lamps, decoder")),
    ("by_hand", gettext_lazy("Turned by hand, power off")),
    ("seen", gettext_lazy("Seen")),
    ("history", gettext_lazy("What it has been through")),
)
PLACES: dict[str, Promise] = {
    "gears": gettext_lazy("Gears"),
    "driven_wheels": gettext_lazy("Driven wheels"),
    "carrying_wheels": gettext_lazy("Carrying wheels"),
    "rods": gettext_lazy("Rods"),
    "tyres": gettext_lazy("Tyres"),
    "motor": gettext_lazy("Motor"),
    "commutator": gettext_lazy("Commutator"),
    "brushes": gettext_lazy("Brushes"),
    "drive_shaft": gettext_lazy("Drive shaft"),
    "pickup": gettext_lazy("Pick-up"),
    "wiring": gettext_lazy("Wiring"),
    "reverser": gettext_lazy("Reversing unit"),
    "decoder": gettext_lazy("Decoder"),
    "lamp": gettext_lazy("Lamps and smoke unit"),
    "body": gettext_lazy("Body"),
    "frame": gettext_lazy("Frame"),
    "coupling": gettext_lazy("Couplings"),
    "track": gettext_lazy("Track and supply"),
}
OPENS: dict[str, Promise] = {
    "nothing": gettext_lazy("nothing to open"),
    "body": gettext_lazy("body off"),
    "motor": gettext_lazy("motor out"),
    "strip": gettext_lazy("strip-down"),
}
SHOWN = 8  # causes on the page; the printed reasoning has all
LEAST = 0.01  # a place or cause below is not worth a line
DRIVEN, CARRYING = ("driven_wheels", "rods", "tyres"), ("carrying_wheels",)
GRAVE = 0.25


@dataclass(frozen=True, slots=True)
class Question:
    """One sign to ask for, and what was answered."""

    id: str
    asks: str
    answer: str
    elsewhere: bool


@dataclass(frozen=True, slots=True)
class QuestionGroup:
    """Signs of one kind, and how many were answered."""

    id: str
    name: str | Promise
    rows: tuple[Question, ...]
    answered: int


@dataclass(frozen=True, slots=True)
class Known:
    """One line of what is known: an answer or a meter reading."""

    id: str
    says: str
    answer: str
    reading: Estimate | None = None
    own: bool = True


@dataclass(frozen=True, slots=True)
class ShownCheck:
    """A check with what it asks."""

    found: NextCheck
    opens: str | Promise
    asks: tuple[Question, ...]


@dataclass(frozen=True, slots=True)
class ShownCause:
    """A cause as a line: per cent, reasons for and against, what settles it."""

    ranked: RankedCause
    percent: int
    places: tuple[str | Promise, ...]
    settles: str
    second: str


class ModelForm(forms.Form):
    """How the model is fed, what motor, which decade."""

    system = forms.ChoiceField(label=gettext_lazy("Fed by"), choices=Trouble.System)
    motor = forms.ChoiceField(label=gettext_lazy("Motor"), choices=Trouble.Motor)
    decade = forms.IntegerField(
        label=gettext_lazy("Made about"),
        required=False,
        min_value=1840,
        max_value=2100,
        widget=forms.TextInput(attrs={"inputmode": "numeric", "autocomplete": "off"}),
    )

    @classmethod
    def of(cls, trouble: Trouble) -> "ModelForm":
        """Give the form as it is kept."""
        kept = {"system": trouble.system, "motor": trouble.motor, "decade": trouble.decade}
        return cls(initial=kept)


def questions(trouble: Trouble) -> list[QuestionGroup]:
    """Give the owner's signs by groups with their answers."""
    elsewhere = queries.known_elsewhere(trouble)
    groups = []
    for kind, name in KINDS:
        rows = tuple(
            _question(sign, trouble, elsewhere)
            for sign in shipped_knowledge().signs
            if sign.kind == kind
        )
        groups.append(QuestionGroup(kind, name, rows, sum(bool(r.answer) for r in rows)))
    return groups


def reading_of(trouble: Trouble, *, whole: bool = False) -> dict[str, Any]:
    """Give all that the reading of a trouble shows; ``whole`` for the printed reasoning."""
    found = queries.diagnosis_of(trouble)
    causes = [_cause(found, c) for c in found.causes if whole or c.probability >= LEAST]
    shown = causes if whole else causes[:SHOWN]
    checks = [_check(n, trouble) for n in found.next_checks]
    return {
        "trouble": trouble,
        "piece": trouble.piece,
        "found": found,
        "causes": shown,
        "check": checks[0] if checks else None,
        "other_checks": checks[1:4],
        "known": _known(found, trouble),
        "at_places": _places(found),
        "drawing": _drawing(trouble, found),
        "quantities": shipped_knowledge().quantities,
        "confirmed": shipped_knowledge().cause_by_id.get(trouble.cause),
        "done": _mended(trouble),
        "group_names": [
            (shipped_knowledge().group_by_id[g].name, _percent(p)) for g, p in found.groups
        ],
    }


def measured_value(key: str, text: str) -> object:
    """Read what was typed for a quantity: a number, or the word of a verdict; None if empty."""
    quantity = shipped_knowledge().quantity_by_key.get(key)
    if quantity is None:
        raise InputError(_("Choose what was measured."))
    if quantity.verdicts:
        return text.strip().lower() or None
    return fields.number_or_none(text, quantity.name)


def _question(sign: Sign, trouble: Trouble, elsewhere: dict[str, bool]) -> Question:
    own = trouble.answers.get(sign.id)
    said = elsewhere.get(sign.id) if own is None else own
    word = "" if said is None else ("yes" if said else "no")
    return Question(sign.id, sign.asks, word, own is None and said is not None)


def _known(found: Diagnosis, trouble: Trouble) -> list[Known]:
    signs = shipped_knowledge().sign_by_id
    lines = [
        Known(name, signs[name].asks, answer, own=name in trouble.answers)
        for answer, names in (("yes", found.case.yes), ("no", found.case.no))
        for name in names
    ]
    for key, reading in found.case.measured.items():
        quantity: Quantity = shipped_knowledge().quantity_by_key[key]
        word = reading if isinstance(reading, str) else "measured"
        estimate = reading if isinstance(reading, Estimate) else None
        lines.append(Known(key, quantity.name, word, estimate, key in trouble.measured))
    return lines


def _check(found: NextCheck, trouble: Trouble) -> ShownCheck:
    signs = shipped_knowledge().sign_by_id
    asks = tuple(_question(signs[name], trouble, {}) for name in found.check.tells)
    return ShownCheck(found, OPENS[found.check.opens], asks)


def _cause(found: Diagnosis, ranked: RankedCause) -> ShownCause:
    knowledge = shipped_knowledge()
    second = found.second_reading(ranked)
    return ShownCause(
        ranked,
        _percent(ranked.probability),
        tuple(PLACES.get(place, place) for place in ranked.cause.place),
        knowledge.check_by_id[ranked.cause.confirm].name,
        second.cause.name if second else "",
    )


def _places(found: Diagnosis) -> list[tuple[str | Promise, int, str]]:
    at = strongest_at(found)
    return [
        (PLACES.get(place, place), _percent(c.probability), c.cause.name)
        for place, c in at.items()
        if c.probability >= LEAST
    ]


def _drawing(trouble: Trouble, found: Diagnosis) -> SafeString:
    at = strongest_at(found)
    text = trouble.piece.known_arrangement
    marks = {}
    for label, driven in axle_drawing.axles(text):
        places = DRIVEN if driven else CARRYING
        strongest = max(
            (at[p] for p in places if p in at), key=lambda c: c.probability, default=None
        )
        if strongest and strongest.probability >= LEAST:
            grave: Severity = "fault" if strongest.probability >= GRAVE else "good"
            marks[label] = AxleMark(f"{_percent(strongest.probability)} %", grave)
    return axle_drawing.drawing(text, marks)


def _mended(trouble: Trouble) -> Cause | None:
    """Give the cause whose job card is done, while nobody has said whether that was it."""
    if trouble.cause or trouble.job is None or trouble.job.state != JobCard.State.DONE:
        return None
    remedies = trouble.job.steps.filter(procedure__startswith=services.REMEDY)
    names = [step.procedure.removeprefix(services.REMEDY) for step in remedies]
    return next(filter(None, map(shipped_knowledge().cause_by_id.get, names)), None)


def _percent(probability: float) -> int:
    return round(100 * probability)
