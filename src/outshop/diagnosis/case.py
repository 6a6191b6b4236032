"""A case: the model's context, what was seen or not, what was measured."""

import tomllib
from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from difflib import get_close_matches
from typing import Any

from outshop.diagnosis.knowledge_base import Knowledge
from outshop.diagnosis.terms import MOTORS, OUTLINES, SYSTEMS, UNKNOWN, band_of, nearest
from outshop.errors import InputError
from outshop.estimate import Estimate, NotMeasurable, Reading, reading_from_json

_FIRST_DECADE, _LAST_DECADE = 1840, 2100
_TABLES = ("model", "observed", "measured")
_SLIP = 0.8  # likeness from which another key is taken for a slip of the pen


@dataclass(frozen=True, slots=True)
class Case:
    """What is known of one ailing model.

    Parameters
    ----------
    system, motor : str or None
        None is unknown.
    decade : int or None
        1960 stands for 1960-1969; a single year will do.
    yes, no : tuple of str
        Ids of signs found, and of signs looked for and not found. All else is unknown.
    measured : mapping
        Quantity key to an estimate, or to the word of a verdict.
    notes : tuple of str
        What was left out when the case was read.
    outline : str or None
        ``steam``, ``electric``, ``diesel``, ``railcar``: what it shows.
    """

    system: str | None = None
    motor: str | None = None
    decade: int | None = None
    yes: tuple[str, ...] = ()
    no: tuple[str, ...] = ()
    measured: Mapping[str, Estimate | str] = field(default_factory=dict)
    notes: tuple[str, ...] = ()
    outline: str | None = None

    @property
    def years(self) -> str | None:
        """Age band of the decade."""
        return None if self.decade is None else band_of(self.decade)

    def without(self, item: str) -> "Case":
        """Give the same case with one sign or measured key unknown."""
        return replace(
            self,
            yes=tuple(x for x in self.yes if x != item),
            no=tuple(x for x in self.no if x != item),
            measured={k: v for k, v in self.measured.items() if k != item},
        )

    @property
    def items(self) -> tuple[str, ...]:
        """Everything that speaks: signs found, signs not found, measured keys."""
        return (*self.yes, *self.no, *self.measured)


def checked_case(case: Case, knowledge: Knowledge) -> Case:
    """Return the case with doubles removed, or raise what is wrong with it.

    Raises
    ------
    InputError
        An id is unknown, or stands in both lists; a context word is unknown.
    """
    known = knowledge.sign_by_id
    for name in (*case.yes, *case.no):
        if name not in known:
            message = f"there is no observation '{name}'{nearest(name, known)}"
            raise InputError(message)
    both = sorted(set(case.yes) & set(case.no))
    if both:
        message = f"'{both[0]}' stands in yes and in no; keep it in one of them"
        raise InputError(message)
    for key in case.measured:
        if key not in knowledge.quantity_by_key:
            message = f"there is no quantity '{key}'{nearest(key, knowledge.quantity_by_key)}"
            raise InputError(message)
    _word("system", case.system, SYSTEMS)
    _word("motor", case.motor, MOTORS)
    _word("outline", case.outline, OUTLINES)
    if case.decade is not None and not _FIRST_DECADE <= case.decade <= _LAST_DECADE:
        message = (
            f"decade {case.decade} lies outside {_FIRST_DECADE} to {_LAST_DECADE}; "
            "write a year such as 1960, or leave it out"
        )
        raise InputError(message)
    return replace(case, yes=tuple(dict.fromkeys(case.yes)), no=tuple(dict.fromkeys(case.no)))


def read_case(text: str, knowledge: Knowledge) -> Case:
    """Read the TOML of a case.

    Raises
    ------
    InputError
        It is no TOML, a table or key is unknown, or a value cannot be used.
    """
    try:
        document = tomllib.loads(text)
    except tomllib.TOMLDecodeError as problem:
        message = f"the case is no valid TOML: {problem}"
        raise InputError(message) from problem
    strange = [key for key in document if key not in _TABLES]
    for key in strange:
        if nearest(key, _TABLES):  # a slip of the pen must not lose evidence
            message = f"the case holds [{key}]{nearest(key, _TABLES)}; correct the name"
            raise InputError(message)
    model, observed, measured = (_table(document, k) for k in _TABLES)
    _keys("[observed]", observed, ("yes", "no"))
    case = Case(
        system=_context_word(model, "system"),
        motor=_context_word(model, "motor"),
        outline=_context_word(model, "outline"),
        decade=_decade(model),
        yes=_ids(observed, "yes"),
        no=_ids(observed, "no"),
        notes=tuple(f"'{key}' was left out: it says nothing here" for key in strange),
    )
    case = checked_case(case, knowledge)
    used = {k: v for k, v in measured.items() if not _is_of_no_use(k, knowledge)}
    notes = tuple(
        f"'{k}' was left out: no cause is judged by it" for k in measured if k not in used
    )
    return replace(case, measured=read_measured(used, knowledge), notes=(*case.notes, *notes))


def _is_of_no_use(key: str, knowledge: Knowledge) -> bool:
    """Tell a reading of another bench from a slip of the pen, which must not lose evidence."""
    known = knowledge.quantity_by_name
    return key not in known and not get_close_matches(key, list(known), n=1, cutoff=_SLIP)


def read_measured(table: Mapping[str, Any], knowledge: Knowledge) -> dict[str, Estimate | str]:
    """Turn numbers, ``[low, high]``, estimates in JSON shape or verdict words into evidence.

    A key of what was not measurable is left out.
    """
    found: dict[str, Estimate | str] = {}
    for key, value in table.items():
        quantity = knowledge.quantity_by_name.get(key)
        if quantity is None:
            message = f"there is no quantity '{key}'{nearest(key, knowledge.quantity_by_name)}"
            raise InputError(message)
        if quantity.verdicts:
            if value not in quantity.verdicts:
                words = ", ".join(quantity.verdicts)
                message = f"{key} is {value!r}; write one of {words}"
                raise InputError(message)
            found[quantity.key] = str(value)
            continue
        reading = _reading(key, value, quantity.unit)
        if isinstance(reading, NotMeasurable):
            continue
        if quantity.scale == "ratio" and reading.value < 0:
            message = f"{key} is {reading.value:g}; it cannot be negative"
            raise InputError(message)
        found[quantity.key] = reading
    return found


def _reading(key: str, value: object, unit: str) -> Reading:
    if isinstance(value, dict):
        filled = {"unit": unit, **value}
        if filled.get("value") is not None:
            filled = {"low": filled["value"], "high": filled["value"], **filled}
        if filled["unit"] not in (unit, ""):
            message = f"{key} is given in {filled['unit']}; give it in {unit}"
            raise InputError(message)
        return reading_from_json(filled)
    if isinstance(value, list) and len(value) == 2 and all(map(_is_number, value)):
        low, high = sorted(float(x) for x in value)
        return Estimate((low + high) / 2, low, high, unit, method="given as an interval")
    if not _is_number(value):
        message = f"{key} is {value!r}; write a number, [low, high] or an estimate"
        raise InputError(message)
    return Estimate.exact(float(str(value)), unit)


def _is_number(value: object) -> bool:
    return isinstance(value, int | float) and not isinstance(value, bool)


def _word(name: str, value: str | None, known: tuple[str, ...]) -> None:
    if value is not None and value not in known:
        message = f"{name} is '{value}'; write one of {', '.join((*known, UNKNOWN))}"
        raise InputError(message + nearest(value, known))


def _table(document: Mapping[str, Any], key: str) -> dict[str, Any]:
    value = document.get(key, {})
    if not isinstance(value, dict):
        message = f"'{key}' must be a table; write [{key}] on a line of its own"
        raise InputError(message)
    return value


def _keys(where: str, table: Mapping[str, Any], known: tuple[str, ...]) -> None:
    for key in table:
        if key not in known:
            message = f"{where} holds '{key}'; it may hold {', '.join(known)}{nearest(key, known)}"
            raise InputError(message)


def _context_word(model: Mapping[str, Any], key: str) -> str | None:
    value = model.get(key, UNKNOWN)
    if not isinstance(value, str):
        message = f"{key} is {value!r}; write a word in quotes"
        raise InputError(message)
    return None if value in (UNKNOWN, "") else value


def _decade(model: Mapping[str, Any]) -> int | None:
    value = model.get("decade", UNKNOWN)
    if value in (UNKNOWN, "") or (value == 0 and not isinstance(value, bool)):
        return None
    text = str(value).strip().removesuffix("s")
    if isinstance(value, bool) or not text.isdecimal():
        message = f"decade is {value!r}; write a year such as 1960, or leave it out"
        raise InputError(message)
    return int(text)


def _ids(observed: Mapping[str, Any], key: str) -> tuple[str, ...]:
    value = observed.get(key, [])
    if not isinstance(value, list) or not all(isinstance(x, str) for x in value):
        message = f"'{key}' must be a list of observation ids in quotes"
        raise InputError(message)
    return tuple(value)
