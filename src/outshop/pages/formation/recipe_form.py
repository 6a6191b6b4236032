"""A simple kind of train from a form; it becomes the same text that others write by hand."""

import json
from collections.abc import Mapping
from typing import Any

from django import forms
from django.utils.text import slugify
from django.utils.translation import gettext_lazy as _

from outshop.formation.kinds import kinds
from outshop.pages.formation.kind_names import kind_name

SOURCE = "your own"


class RecipeForm(forms.Form):
    """What most kinds of trains come down to."""

    name = forms.CharField(label=_("Name"), max_length=100)
    kinds = forms.MultipleChoiceField(
        label=_("What may run in it"), widget=forms.CheckboxSelectMultiple,
        error_messages={"required": _("Tick at least one kind of vehicle.")},
    )  # fmt: skip
    first_year = forms.IntegerField(label=_("From"), required=False, min_value=1825, max_value=2200)
    last_year = forms.IntegerField(label=_("To"), required=False, min_value=1825, max_value=2200)
    must = forms.ChoiceField(label=_("At least one"), required=False)
    first = forms.ChoiceField(label=_("Behind the engine stands"), required=False)
    last = forms.ChoiceField(label=_("At the end stands"), required=False)
    most_axles = forms.IntegerField(label=_("Axles at most"), required=False, min_value=1,
                                    max_value=1000)  # fmt: skip

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        names = [(k, kind_name(k)) for k in kinds()]
        self.fields["kinds"].choices = names  # type: ignore[attr-defined]  # a choice field
        for name in ("must", "first", "last"):
            self.fields[name].choices = [("", _("any")), *names]  # type: ignore[attr-defined]  # a choice field

    def clean(self) -> dict[str, Any]:
        """Hold the years against each other, and what is asked for against what may run."""
        cleaned = super().clean() or {}
        first, last = cleaned.get("first_year"), cleaned.get("last_year")
        if first and last and first > last:
            self.add_error("last_year", _("This year lies before the first."))
        for name in ("must", "first", "last"):
            kind = cleaned.get(name)
            if kind and kind not in cleaned.get("kinds", []):
                self.add_error(name, _("Tick %(kind)s above as well.") % {"kind": kind_name(kind)})
        if not slugify(cleaned.get("name", "x")):
            self.add_error("name", _("Use at least one letter or digit."))
        return cleaned


def as_toml(typed: Mapping[str, Any]) -> str:
    """Write the form's answers as a recipe."""
    lines = [f"id = {_quoted(slugify(typed['name']))}", f"name = {_quoted(typed['name'])}"]
    if typed["first_year"]:
        lines.append(f"from = {typed['first_year']}")
    if typed["last_year"]:
        lines.append(f"to = {typed['last_year']}")
    lines += [f"kinds = {json.dumps(typed['kinds'])}", f"source = {_quoted(SOURCE)}"]
    if typed["must"]:
        name = kind_name(typed["must"])
        lines += _rule("at-least-one", "count", "forbidden", f"at least one {name} runs in it",
                       select=[typed["must"]], min=1)  # fmt: skip
    for key, at, words in (
        ("first", "first", "stands behind the engine"), ("last", "last", "stands at the end")
    ):  # fmt: skip
        if typed[key]:
            lines += _rule(f"{key}-place", "place", "unusual", f"{kind_name(typed[key])} {words}",
                           select=[typed[key]], at=at)  # fmt: skip
    if typed["most_axles"]:
        most = typed["most_axles"]
        lines += _rule("axles", "axles", "forbidden", f"at most {most} axles run in it", max=most)
    return "\n".join(lines) + "\n"


def _rule(name: str, test: str, strength: str, why: str, **args: Any) -> list[str]:
    plain = {"id": name, "test": test, **args, "strength": strength, "why": why, "source": SOURCE}
    return ["", "[[rule]]", *(f"{key} = {json.dumps(value)}" for key, value in plain.items())]


def _quoted(text: str) -> str:
    return json.dumps(text, ensure_ascii=False)
