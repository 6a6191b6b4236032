"""Troubles: answers, what was measured, the confirmed cause, the job card; counts of others."""

from collections.abc import Mapping
from typing import Any

from django.utils import timezone

from outshop.diagnosis.case import read_measured
from outshop.diagnosis.learning import Experience
from outshop.diagnosis.load import shipped_knowledge
from outshop.diagnosis.model import Cause
from outshop.diagnosis.terms import nearest
from outshop.errors import InputError
from outshop.records.models import CauseCounts, JobCard, Piece, Trouble
from outshop.records.queries.care import absent_parts
from outshop.records.queries.pace import pace
from outshop.workshop import job_card as workshop_cards

from .job_cards import step_fields
from .jobs import add_job
from .saving import add, change, once, remove, use_case
from .strip_down import plan_of

# groups whose remedy the workshop's own tasks spell out
TASKS: Mapping[str, tuple[str, ...]] = {
    "dried_lubricant": ("lubricate",),
    "over_lubricated": ("lubricate",),
    "wrong_lubricant": ("lubricate",),
    "motor_bearing": ("lubricate",),
    "dirty_commutator": ("brushes",),
    "commutator_slots_bridged": ("brushes",),
    "worn_brushes": ("brushes",),
    "oil_soaked_brushes": ("brushes",),
    "brush_spring": ("brushes",),
    "dirty_wheels_pickup": ("clean-wheels",),
    "worn_pickup_shoe": ("clean-wheels",),
    "seized_axle": ("free-axle", "lubricate"),
    "weak_magnet": ("magnet",),
    "coil_open": ("brushes", "magnet"),
    "coil_short": ("brushes", "magnet"),
    "broken_wire_or_joint": ("wiring",),
    "reversing_unit": ("reverser",),
    "split_gear": ("gears",),
    "worn_gear": ("gears",),
    "gear_mesh_misaligned": ("gears",),
    "rods_binding_or_quartering": ("rods",),
    "wheel_out_of_gauge": ("wheel-gauge",),
    "wheel_out_of_round_or_loose": ("wheel-gauge",),
    "traction_tyre": ("tyres",),
    "lamp_or_smoke_short": ("lamps",),
    "zinc_pest": ("castings",),
    "coupling": ("couplings",),
}
REMEDY = "remedy:"  # begins the procedure of the step that mends a cause
_AFTER_OPENING = ("work", "reassembly", "test", "run-in", "close")


@use_case
def open_trouble(*, piece: Piece, token: str = "", **fields: Any) -> Trouble:
    """Begin asking what ails a piece; what its last trouble said of the model is taken over."""
    last = Trouble.objects.filter(piece=piece).first()
    kept = {k: getattr(last, k) for k in ("system", "motor", "decade")} if last else {}
    trouble = Trouble(piece=piece, **{**kept, **fields})
    return once(token=token, model=Trouble, make=lambda: add(trouble))


@use_case
def answer_sign(*, trouble: Trouble, sign: str, answer: bool | None) -> Trouble:
    """Keep one answer; None is "not looked".

    Raises
    ------
    InputError
        There is no such sign.
    """
    known = shipped_knowledge().sign_by_id
    if sign not in known:
        message = f"there is no observation '{sign}'{nearest(sign, known)}"
        raise InputError(message)
    fresh = Trouble.objects.select_for_update().get(pk=trouble.pk)
    answers = {k: v for k, v in fresh.answers.items() if k != sign}
    if answer is not None:
        answers[sign] = answer
    return change(trouble, version=None, fields={"answers": answers})


@use_case
def set_measured(*, trouble: Trouble, key: str, value: object) -> Trouble:
    """Keep one measured value, verdict or estimate; None takes it back.

    Raises
    ------
    InputError
        The key is unknown, or the value is of no use for it.
    """
    if value is not None:
        read_measured({key: value}, shipped_knowledge())
    fresh = Trouble.objects.select_for_update().get(pk=trouble.pk)
    measured = {k: v for k, v in fresh.measured.items() if k != key}
    if value is not None:
        measured[key] = value
    return change(trouble, version=None, fields={"measured": measured})


@use_case
def change_trouble(*, trouble: Trouble, version: int | None = None, **fields: Any) -> Trouble:
    """Change what is known of the model, or the note."""
    return change(trouble, version=version, fields=fields)


@use_case
def remove_trouble(*, trouble: Trouble) -> None:
    """Take a trouble back with all its answers."""
    remove(trouble)


@use_case
def confirm_cause(*, trouble: Trouble, cause: str) -> Trouble:
    """Close a trouble with its cause, which teaches the odds; empty takes it back."""
    if cause:
        _cause(cause)
    when = timezone.now() if cause else None
    return change(trouble, version=None, fields={"cause": cause, "confirmed_at": when})


@use_case
def write_trouble_job(*, trouble: Trouble, cause: str, token: str = "") -> JobCard:
    """Write the job card that checks and mends one cause."""
    wanted = _cause(cause)
    plan = workshop_cards.build(
        (),
        tasks=TASKS.get(wanted.group, ()),
        without=absent_parts(trouble.piece),
        plan=plan_of(trouble.piece),
        minutes_factor=pace(),
    )
    card = add_job(
        piece=trouble.piece,
        title=wanted.name,
        steps=_with_cause(step_fields(plan), wanted),
        token=token,
    )
    change(trouble, version=None, fields={"job": card})
    return card


@use_case
def take_counts(*, name: str, text: str) -> CauseCounts:
    """Take over another shop's counts under a name, in place of its earlier ones.

    Raises
    ------
    ArchiveError
        The text holds no counts.
    """
    counts = dict(Experience().imported(name, text).counts())
    CauseCounts.objects.filter(name=name).delete()
    return add(CauseCounts(name=name, counts=counts))


@use_case
def forget_counts(*, counts: CauseCounts) -> None:
    """Take another shop's counts back."""
    remove(counts)


def _cause(name: str) -> Cause:
    known = shipped_knowledge().cause_by_id
    if name not in known:
        message = f"there is no cause '{name}'{nearest(name, known)}"
        raise InputError(message)
    return known[name]


def _with_cause(steps: list[dict[str, Any]], cause: Cause) -> list[dict[str, Any]]:
    """Put the confirming check and the remedy where the work begins."""
    place = next((i for i, s in enumerate(steps) if s["phase"] in _AFTER_OPENING), len(steps))
    own = _own_steps(cause)
    moved = [
        {**s, "reverses": s["reverses"] + len(own)}
        if s["reverses"] is not None and s["reverses"] >= place
        else s
        for s in steps
    ]
    return [*moved[:place], *own, *moved[place:]]


def _own_steps(cause: Cause) -> list[dict[str, Any]]:
    check = shipped_knowledge().check_by_id[cause.confirm]
    shared: dict[str, Any] = {"tools": [], "consumables": [], "cautions": [], "reverses": None}
    return [
        {
            **shared,
            "phase": "work",
            "procedure": f"check:{check.id}",
            "title": check.name,
            "text": " ".join(filter(None, (check.means, *check.cautions))),
            "minutes": check.minutes,
        },
        {
            **shared,
            "phase": "work",
            "procedure": f"{REMEDY}{cause.id}",
            "title": cause.name,
            "text": " ".join((cause.remedy, *cause.cautions)),
            "minutes": cause.minutes,
        },
    ]
