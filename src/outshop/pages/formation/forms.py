"""Forms of the formation pages."""

from typing import Any

from django import forms
from django.utils.dates import MONTHS
from django.utils.translation import gettext_lazy as _

from outshop.formation.checks import SMALLEST_RADIUS_MM, STEEPEST_PERMILLE
from outshop.formation.kinds import kinds
from outshop.formation.recipes import shipped
from outshop.pages.fields import NumberField
from outshop.pages.formation.kind_names import kind_name
from outshop.records.models import Line, LineSection, Piece
from outshop.records.queries.formations import own_recipes

MOST = 1_000_000


def number(label: Any, *, required: bool = False, least: float = 0, **more: Any) -> NumberField:
    """Give a number field with the limits of a model railway."""
    return NumberField(label=label, required=required, min_value=least, max_value=MOST, **more)


def tell(label: Any) -> forms.TypedChoiceField:
    """Give a field for yes, no or not known."""
    choices = [("", _("not known")), ("True", _("yes")), ("False", _("no"))]
    return forms.TypedChoiceField(
        label=label, required=False, choices=choices, empty_value=None,
        coerce=lambda sent: {"True": True, "False": False}.get(sent),
    )  # fmt: skip


class LineForm(forms.Form):
    """What holds for a whole line."""

    name = forms.CharField(label=_("Name"), max_length=300)
    loop_mm = number(
        _("Loops take (mm)"), least=0.1, help_text=_("The longest train, engine included.")
    )
    platform_mm = number(
        _("Platforms take (mm)"), least=0.1, help_text=_("The coaches of a passenger train.")
    )
    couplers = forms.CharField(
        label=_("Couplings it can uncouple"), required=False, max_length=300,
        help_text=_("Separated by commas, as: loop, hook. Empty for any."),
    )  # fmt: skip
    supply_a = number(_("Supply gives (A)"))
    curve_constant = number(
        _("Curve constant, if measured"),
        help_text=_("Curve resistance in per mille times the radius in mm; 8128 by default."),
    )


class SectionForm(forms.Form):
    """One section of a line."""

    length_mm = number(_("Length mm"), required=True, least=0.1)
    grade_permille = NumberField(
        label=_("Grade ‰"), required=False, min_value=-STEEPEST_PERMILLE,
        max_value=STEEPEST_PERMILLE,
    )  # fmt: skip
    radius_mm = number(_("Radius mm"))
    side = forms.ChoiceField(label=_("Turns"), choices=LineSection.Side, required=False)
    place = forms.ChoiceField(
        label=_("Beside it"),
        required=False,
        choices=[("", _("nothing")), *LineSection.Place.choices],
    )
    name = forms.CharField(label=_("Name"), required=False, max_length=300)

    @property
    def row_number(self) -> int:
        """Number of its row in the table, from 1."""
        return int(str(self.prefix or "s0").rpartition("s")[2]) + 1

    def clean_radius_mm(self) -> float:
        """Refuse a radius that no train runs through; none is straight."""
        radius: float = self.cleaned_data.get("radius_mm") or 0.0
        if 0 < radius < SMALLEST_RADIUS_MM:
            raise forms.ValidationError(
                _("%(radius)g mm is no radius a train runs through; 0 is straight.")
                % {"radius": radius}
            )
        return radius

    def clean_grade_permille(self) -> float:
        """Read an empty grade as level."""
        return self.cleaned_data.get("grade_permille") or 0.0

    def clean_side(self) -> str:
        """Read no side as left."""
        return self.cleaned_data.get("side") or LineSection.Side.LEFT


class PenForm(forms.Form):
    """What the drawing board lays next."""

    length_mm = number(_("Straight mm"), required=True, least=1, initial="200")
    radius_mm = number(_("Radius mm"), required=True, least=SMALLEST_RADIUS_MM, initial="400")
    turn_deg = NumberField(
        label=_("Turn °"), required=True, min_value=1, max_value=360, initial="30"
    )


class VehicleForm(forms.Form):
    """A wagon or coach."""

    piece = forms.ModelChoiceField(
        label=_("Piece of the collection"), queryset=Piece.objects.all(), required=False,
        help_text=_("Its rolling is taken from the bench when it was measured there."),
    )  # fmt: skip
    name = forms.CharField(label=_("Name"), max_length=300)
    kind = forms.ChoiceField(label=_("Kind"))
    years = forms.CharField(
        label=_("Ran in the years"), required=False, max_length=100, help_text=_("As 1950/1968.")
    )
    length_mm = number(_("Length over buffers (mm)"), required=True, least=0.1)
    mass_g = number(_("Mass (g)"), required=True, least=0.1)
    rolling_permille = number(
        _("Rolling resistance (‰)"), help_text=_("Empty if nobody measured it: 20 is taken.")
    )
    rolling_low_permille = number(_("at least (‰)"))
    rolling_high_permille = number(_("at most (‰)"))
    min_radius_mm = number(_("Smallest radius (mm)"))
    front = forms.CharField(label=_("Front coupling"), max_length=60, initial="loop")
    rear = forms.CharField(label=_("Rear coupling"), max_length=60, initial="loop")
    country = forms.CharField(label=_("Country"), required=False, max_length=60)
    current_a = number(_("Lamps draw (A)"))
    dangerous = forms.BooleanField(label=_("Carries dangerous goods"), required=False)
    axles = forms.IntegerField(label=_("Axles"), required=False, min_value=1, max_value=100)
    built = forms.CharField(
        label=_("Built"), required=False, max_length=100, help_text=_("The original, as 1935.")
    )
    real_tonnes = number(_("Full-size mass (t)"), least=0.1)
    length_scale = number(
        _("Length scale, if shortened"), least=0.1, help_text=_("As 100 for a coach of 1:100.")
    )
    braked = tell(_("Has a brake"))
    loaded = tell(_("Loaded"))
    heating = tell(_("Has steam heating"))
    pool = tell(_("Of an international pool"))
    livery = forms.CharField(
        label=_("Livery"),
        required=False,
        max_length=300,
        help_text=_("As green, or blue and cream."),
    )

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["kind"].choices = [(k, kind_name(k)) for k in kinds()]  # type: ignore[attr-defined]  # a choice field

    @property
    def more_wrong(self) -> bool:
        """Tell whether something among the rarer figures is wrong."""
        rarer = ("axles", "built", "real_tonnes", "length_scale", "livery")
        return any(name in self.errors for name in rarer)

    def clean(self) -> dict[str, Any]:
        """Hold the ends of the rolling against the rolling."""
        cleaned = super().clean() or {}
        rolling, low, high = (cleaned.get(f"rolling_{k}permille") for k in ("", "low_", "high_"))
        if rolling is None and (low is not None or high is not None):
            raise forms.ValidationError(_("Give the rolling itself beside its least and most."))
        if (low is not None and low > rolling) or (high is not None and high < rolling):
            raise forms.ValidationError(_("The rolling must lie between its least and its most."))
        return cleaned

    def clean_min_radius_mm(self) -> float:
        """Read an empty radius as any."""
        return self.cleaned_data.get("min_radius_mm") or 0.0


class TrainForm(forms.Form):
    """The engine as measured, the line, and what train is wished."""

    name = forms.CharField(label=_("Name of the train"), max_length=300)
    line = forms.ModelChoiceField(label=_("Line"), queryset=Line.objects.all())
    piece = forms.ModelChoiceField(label=_("Engine"), queryset=Piece.objects.all(), required=False)
    engine_length_mm = number(_("Engine's length (mm)"), required=True, least=0.1)
    engine_mass_g = number(_("Engine's mass (g)"), required=True, least=0.1)
    pull_g = number(_("Pull on the level (g)"), required=True, least=0.1)
    low_g = number(_("at least (g)"))
    high_g = number(_("at most (g)"))
    engine_min_radius_mm = number(_("Engine's smallest radius (mm)"))
    engine_current_a = number(
        _("Engine draws (A)"), help_text=_("Empty for what the bench measured last.")
    )
    rear = forms.CharField(label=_("Coupling at its rear"), max_length=60, initial="loop")
    year = forms.IntegerField(label=_("Year"), required=False, min_value=1825, max_value=2200)
    month = forms.TypedChoiceField(
        label=_("Month"), required=False, coerce=int, empty_value=None,
        help_text=_("In the heating season a mixed train has its coaches behind the engine."),
        choices=[("", _("any")), *((n, MONTHS[n]) for n in range(1, 13))],
    )  # fmt: skip
    recipe = forms.ChoiceField(label=_("Kind of train"), required=False)
    country = forms.CharField(label=_("Country"), required=False, max_length=60)
    real_effort_kn = number(_("Real engine's pull (kN)"), least=0.1)
    real_engine_t = number(_("Real engine's mass (t)"), least=0.1)
    real_speed_km_h = number(_("at (km/h)"))
    real_grade_permille = number(_("up a grade of (‰)"))

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        recipes = [(r.id, r.name) for r in own_recipes().values()]
        recipes += [(r.id, r.name) for r in shipped().values() if r.id != "general"]
        self.fields["recipe"].choices = [("", _("any")), *recipes]  # type: ignore[attr-defined]  # a choice field

    def clean(self) -> dict[str, Any]:
        """Hold the ends of the pull against the pull."""
        cleaned = super().clean() or {}
        pull, low, high = (cleaned.get(k) for k in ("pull_g", "low_g", "high_g"))
        if pull and ((low is not None and low > pull) or (high is not None and high < pull)):
            raise forms.ValidationError(_("The pull must lie between its least and its most."))
        if (cleaned.get("real_effort_kn") is None) != (cleaned.get("real_engine_t") is None):
            raise forms.ValidationError(_("The real engine needs both its pull and its mass."))
        cleaned["engine_min_radius_mm"] = cleaned.get("engine_min_radius_mm") or 0.0
        return cleaned
