"""Form fields and what views need to read a form."""

from dataclasses import dataclass
from typing import Any, BinaryIO, cast

from django import forms
from django.http import HttpRequest
from django.utils.translation import gettext as _

from outshop.errors import InputError

LONGEST_KEY = 19  # digits; a database key is smaller


class NumberField(forms.FloatField):
    """A number typed with a point or a comma, on a phone's number pad."""

    widget = forms.TextInput

    def to_python(self, value: Any) -> float | None:  # type: ignore[override]  # as FloatField itself
        """Take ``16,1`` as well as ``16.1``."""
        if isinstance(value, str):
            value = value.strip().replace(",", ".").replace("−", "-")
        return super().to_python(value)

    def widget_attrs(self, widget: forms.Widget) -> dict[str, Any]:
        """Ask for the number pad."""
        return super().widget_attrs(widget) | {"inputmode": "decimal", "autocomplete": "off"}


def form_token(request: HttpRequest) -> str:
    """Give the token of the form that was sent; it makes sending twice harmless."""
    return request.POST.get("form_token", "")[:64]


@dataclass(frozen=True, slots=True)
class Upload:
    """A file that was sent, and the name that it came with."""

    source: BinaryIO
    name: str


def uploaded(request: HttpRequest, name: str = "file") -> Upload:
    """Give the file that was sent.

    Raises
    ------
    InputError
        None was sent.
    """
    file = request.FILES.get(name)
    if file is None:
        raise InputError(_("No file was sent: choose one, or take one now."))
    return Upload(cast(BinaryIO, file), file.name or "")


def chosen_keys(request: HttpRequest, name: str = "kept") -> tuple[int, ...]:
    """Give the keys that a form names, parted by commas; what is no key is left out."""
    given = request.POST.get(name, "").split(",")
    return tuple(int(one) for one in given if one.isdecimal() and len(one) < LONGEST_KEY)


def wants_part(request: HttpRequest) -> bool:
    """Tell whether htmx asks for a part of the page and not for the whole."""
    htmx = request.htmx  # type: ignore[attr-defined]  # set by the htmx middleware
    return bool(htmx) and not htmx.history_restore_request


def number_or_none(text: str, name: str) -> float | None:
    """Read an optional number.

    Raises
    ------
    InputError
        Something was typed that is no number.
    """
    if not text.strip():
        return None
    try:
        number: float = NumberField(label=name).clean(text)
    except forms.ValidationError as problem:
        message = _("%(name)s: “%(text)s” is not a number.") % {"name": name, "text": text[:40]}
        raise InputError(message) from problem
    return number
