"""Forms of the dating pages."""

from typing import Any

from django import forms
from django.utils.translation import gettext_lazy as _

from outshop.pages.fields import NumberField
from outshop.records.models import Evidence, LifeEvent
from outshop.records.models.checks import check_arrangement, check_edtf

LONG = 300  # characters of one line
WINDOW_HELP = _("1958, 1958/1963, 1958/.. (and later), ../1963 (until), 195X, [1958,1961].")


def _line(label: Any, help_text: Any = "", *, required: bool = False) -> forms.CharField:
    return forms.CharField(label=label, help_text=help_text, required=required, max_length=LONG)


def _years(label: Any) -> forms.CharField:
    return forms.CharField(
        label=label, max_length=100, validators=[check_edtf], help_text=WINDOW_HELP
    )


def _trust() -> NumberField:
    return NumberField(
        label=_("Trust, in percent"),
        initial=98,
        min_value=1,
        max_value=99,
        help_text=_("How often evidence of this kind is right. 50 says nothing at all."),
    )


class EvidenceForm(forms.Form):
    """One feature and the years in which it is at home."""

    about = forms.ChoiceField(label=_("Speaks for"), choices=Evidence.About.choices)
    what = _line(
        _("What you see"), _("Black wheels, box lid in red, road number 14."), required=True
    )
    window = _years(_("At home in the years"))
    trust = _trust()
    part = _line(_("On which part"), _("Model, tender, box, tray, leaflet, lettering ..."))
    source = _line(_("Where the years come from"), _("Book and page, own notes, a dated photo."))

    def plain(self) -> dict[str, Any]:
        """Give the fields of the record."""
        return {**self.cleaned_data, "trust": self.cleaned_data["trust"] / 100}


def initial_of(evidence: Evidence) -> dict[str, Any]:
    """Fill the form from what is kept."""
    names = ("about", "what", "window", "part", "source")
    return {n: getattr(evidence, n) for n in names} | {"trust": round(evidence.trust * 100, 2)}


class PrototypeForm(forms.Form):
    """The full-size engine."""

    name = _line(_("Name or number"), required=True)
    country = _line(
        _("Country"),
        _("Letters as on vehicle plates (D, CH, F) choose the era tables; several with commas."),
    )
    builder = _line(_("Builder"))
    arrangement = forms.CharField(
        label=_("Axles"), max_length=80, required=False, validators=[check_arrangement]
    )


class EventForm(forms.Form):
    """Something that happened to it."""

    kind = forms.ChoiceField(label=_("What happened"), choices=LifeEvent.Kind.choices)
    date = _years(_("When"))
    text = _line(_("Which"), _("The new owner, number, livery or form."))
    source = _line(_("Source"))


class ResearchForm(forms.Form):
    """A question and where it stands."""

    question = _line(_("Question"), required=True)
    source = forms.CharField(label=_("Where you looked"), required=False, widget=forms.Textarea)
    finding = forms.CharField(label=_("What you found"), required=False, widget=forms.Textarea)
    would_settle = _line(_("What would settle it"))
    settled = forms.BooleanField(label=_("Settled"), required=False)
