"""What a person says of a clip on its page: the ruler, the right object, the moment, the front."""

from collections.abc import Callable, Mapping
from typing import Any

from django.utils.translation import gettext as _

from outshop.errors import InputError
from outshop.pages import fields

Said = Mapping[str, str]
LENGTHS_MM = (5.0, 5000.0)  # what a model over buffers may measure
_STRIP = ("strip", "control_mm", "strip_behind_mm", "camera_mm")
_LIVE_ERROR_S = 0.1  # a key hit while the clip runs (our assumption: the hand's unsteadiness)
_LAMP_SHARE = 0.05  # of the picture's width: how near a tap must be to the lamp


def changed(setup: Mapping[str, Any], said: Said) -> dict[str, Any]:
    """Give the setup after one form of the page was sent; ``what`` names the form.

    Raises
    ------
    InputError
        A number is missing or none.
    """
    new = dict(setup)
    change = _CHANGES.get(said.get("what", ""))
    if change is None:
        raise InputError(_("This form is not known: load the page again."))
    change(new, said)
    return _checked(new)


def ruler_of(said: Said) -> dict[str, Any]:
    """Read the ruler chosen when a clip is taken in: the printed strip or the model's length."""
    if said.get("ruler") != "strip":
        return {"length_mm": length(said)}
    new: dict[str, Any] = {}
    if said.get("length_mm", "").strip():
        new["length_mm"] = length(said)  # to check the print by
    _strip(new, said)
    return _checked(new)


def length(said: Said) -> float:
    """Read the length over buffers."""
    found = fields.number_or_none(said.get("length_mm", ""), _("Length over buffers"))
    if found is None:
        raise InputError(_("The length over buffers is needed: it is the ruler in the picture."))
    if not LENGTHS_MM[0] <= found <= LENGTHS_MM[1]:
        message = _("A model of %(mm)g mm cannot be: between 5 and 5000 mm is expected.")
        raise InputError(message % {"mm": found})
    return found


def _checked(new: dict[str, Any]) -> dict[str, Any]:
    """Let the bench look at it now: its sentence is wanted here, not after the measuring."""
    from outshop.bench.motion.setup import setup_from_table

    setup_from_table(new).checked()
    return new


def _marks(new: dict[str, Any], said: Said) -> None:
    _forget(new, _STRIP)
    ends = [_number(said, name) for name in ("x1", "y1", "x2", "y2")]
    new["marks"] = [*ends, _number(said, "mm")]


def _length(new: dict[str, Any], said: Said) -> None:
    _forget(new, (*_STRIP, "marks"))
    new["length_mm"] = length(said)


def _strip(new: dict[str, Any], said: Said) -> None:
    _forget(new, (*_STRIP, "marks"))
    new["strip"] = True
    names = {
        "control_mm": _("Control line"),
        "strip_behind_mm": _("Strip behind the model's side"),
        "camera_mm": _("From the lens to the model"),
    }
    for key, name in names.items():
        number = fields.number_or_none(said.get(key, ""), name)
        if number is not None:
            new[key] = number


def _object(new: dict[str, Any], said: Said) -> None:
    new["pick"] = [_number(said, "pick_x"), _number(said, "pick_y")]


def _any_object(new: dict[str, Any], _said: Said) -> None:
    _forget(new, ("pick",))


def _moment(new: dict[str, Any], said: Said) -> None:
    _forget(new, ("moment_s", "moment_error_s"))
    moment = fields.number_or_none(said.get("moment_s", ""), _("Moment"))
    if moment is None:
        return  # emptied: no moment is marked any more
    new["moment_s"] = moment
    if said.get("live"):
        new["moment_error_s"] = _LIVE_ERROR_S


def _lamp(new: dict[str, Any], said: Said) -> None:
    _forget(new, ("moment_s", "moment_error_s"))
    x = fields.number_or_none(said.get("lamp_x", ""), _("Lamp"))
    y = fields.number_or_none(said.get("lamp_y", ""), _("Lamp"))
    if x is None or y is None:
        new["lamp"] = "find"
        return
    width, height = _number(said, "width"), _number(said, "height")
    reach = _LAMP_SHARE * width / 2
    left, top = max(0.0, x - reach), max(0.0, y - reach)
    new["lamp"] = [left, top, min(2 * reach, width - left), min(2 * reach, height - top)]


def _forget_lamp(new: dict[str, Any], _said: Said) -> None:
    _forget(new, ("lamp",))


def _front(new: dict[str, Any], said: Said) -> None:
    _forget(new, ("front",))
    if said.get("front") in ("left", "right"):
        new["front"] = said["front"]


_CHANGES: dict[str, Callable[[dict[str, Any], Said], None]] = {
    "marks": _marks,
    "length": _length,
    "strip": _strip,
    "object": _object,
    "any object": _any_object,
    "moment": _moment,
    "lamp": _lamp,
    "no lamp": _forget_lamp,
    "front": _front,
}


def _forget(new: dict[str, Any], keys: tuple[str, ...]) -> None:
    for key in keys:
        new.pop(key, None)


def _number(said: Said, name: str) -> float:
    number = fields.number_or_none(said.get(name, ""), name)
    if number is None:
        raise InputError(_("Something is missing: drag both ends of the ruler, or tap the model."))
    return number
