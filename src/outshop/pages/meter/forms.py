"""What the meter page asks for, one form a topic; every field may stay empty."""

from typing import Any

from django import forms
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from outshop.bench.readings import number_list, quantity
from outshop.errors import InputError
from outshop.pages.fields import NumberField

MOTOR_ROWS = (
    ("light", gettext_lazy("Light, full voltage")),
    ("half", gettext_lazy("Light, half voltage")),
    ("back", gettext_lazy("Light, the other way")),
    ("loaded", gettext_lazy("Loaded")),
    ("held1", gettext_lazy("Held, any angle")),
    ("held2", gettext_lazy("Held, a third of a turn on")),
    ("held3", gettext_lazy("Held, two thirds on")),
)
LOG_BYTES = 200_000_000  # five million rows are about 110 MB


class ReadingsField(forms.CharField):
    """One or several readings in a line; cleans to a list of numbers."""

    def __init__(self, unit: str, **options: Any) -> None:
        super().__init__(required=False, max_length=200, **options)
        self.unit = unit

    def clean(self, value: Any) -> list[float]:
        """Read the line."""
        text = super().clean(value)
        try:
            return number_list(text, self.unit) if text.strip() else []
        except InputError as problem:
            raise forms.ValidationError(str(problem)) from problem

    def widget_attrs(self, widget: forms.Widget) -> dict[str, Any]:
        """Ask for the number pad."""
        return super().widget_attrs(widget) | {"inputmode": "decimal", "autocomplete": "off"}


class OhmField(forms.CharField):
    """A resistance, or ``OL``; cleans to the text, so that its last digit is known."""

    def clean(self, value: Any) -> str:
        """Check that it can be read."""
        text: str = super().clean(value).strip()
        try:
            if text:
                quantity(text, "ohm")
        except InputError as problem:
            raise forms.ValidationError(str(problem)) from problem
        return text


def _number(label: Any, help_text: Any = "") -> NumberField:
    return NumberField(label=label, required=False, help_text=help_text)


def _choice(label: Any, choices: Any) -> forms.ChoiceField:
    return forms.ChoiceField(label=label, choices=choices, required=False)


class MotorForm(forms.Form):
    """Volts, amps and speed, light, loaded and held."""

    kind = _choice(
        gettext_lazy("Motor"),
        (
            ("permanent-magnet", gettext_lazy("permanent magnet")),
            ("field-coil", gettext_lazy("field coil")),
        ),
    )
    speed_unit = _choice(
        gettext_lazy("Speed in"),
        (("1/s", gettext_lazy("turns a second")), ("rpm", gettext_lazy("turns a minute"))),
    )

    def __init__(self, *args: Any, **options: Any) -> None:
        super().__init__(*args, **options)
        for key, name in MOTOR_ROWS:
            self.fields[f"{key}_v"] = _number(f"{name}: V")
            self.fields[f"{key}_a"] = _number(f"{name}: A")
            if not key.startswith("held"):
                self.fields[f"{key}_n"] = _number(f"{name}: {_('turns')}")

        for field_name, field in self.fields.items():
            if field_name.rpartition("_")[2] in ("v", "a", "n"):
                field.widget.attrs["aria-label"] = field.label  # the table heads are not enough

    def rows(self) -> list[dict[str, Any]]:
        """Give the table's lines: name and three fields."""
        return [
            {
                "name": name,
                "volts": self[f"{key}_v"],
                "amps": self[f"{key}_a"],
                "turns": None if key.startswith("held") else self[f"{key}_n"],
            }
            for key, name in MOTOR_ROWS
        ]

    def clean(self) -> dict[str, Any]:
        """Ask for whole lines: half a point says nothing."""
        cleaned = super().clean() or {}
        for key, name in MOTOR_ROWS:
            wanted = [f"{key}_{c}" for c in ("va" if key.startswith("held") else "van")]
            given = [w for w in wanted if cleaned.get(w) is not None]
            if given and len(given) < len(wanted) and not any(w in self.errors for w in wanted):
                message = _("%(name)s: fill in the whole line, or leave it empty.")
                raise forms.ValidationError(message % {"name": name})
        return cleaned


class WindingForm(forms.Form):
    """Ohms between neighbouring segments."""

    connection = _choice(
        gettext_lazy("Coils"),
        (("delta", gettext_lazy("closed ring (delta)")), ("star", gettext_lazy("star"))),
    )
    lead = OhmField(label=gettext_lazy("Tips together, ohm"), required=False)
    temperature_c = _number(gettext_lazy("Winding at, degrees Celsius"))
    shaft = OhmField(label=gettext_lazy("Segment to shaft, ohm"), required=False)

    def __init__(self, *args: Any, segments: int = 3, **options: Any) -> None:
        super().__init__(*args, **options)
        self.segments = segments
        for k in range(1, segments + 1):
            self.fields[f"r{k}"] = OhmField(
                label=_("%(a)d to %(b)d, ohm") % {"a": k, "b": k % segments + 1},
                required=False,
                widget=forms.TextInput(attrs={"inputmode": "text", "autocomplete": "off"}),
            )

    def reading_fields(self) -> list[Any]:
        """Give the fields around the commutator."""
        return [self[f"r{k}"] for k in range(1, self.segments + 1)]


class WheelsForm(forms.Form):
    """One wheel set."""

    axle = forms.CharField(required=False, max_length=8, widget=forms.HiddenInput)
    standard = _choice(
        gettext_lazy("Judged by"),
        (
            ("NEM310", "NEM 310 (2009)"),
            ("NEM310:1977", gettext_lazy("NEM 310 (1977), older stock")),
            ("S-4.2", "NMRA S-4.2"),
            ("RP-25", "NMRA RP-25"),
        ),
    )
    gauge_mm = _number(gettext_lazy("Track gauge, mm"))
    back_to_back = ReadingsField(
        "mm",
        label=gettext_lazy("Back-to-back, mm"),
        help_text=gettext_lazy("At three angles of the axle: 14.4 14.5 14.4"),
    )
    check_gauge = ReadingsField("mm", label=gettext_lazy("Check gauge, mm"))
    flange_height = ReadingsField("mm", label=gettext_lazy("Flange height, mm"))
    flange_thickness = ReadingsField("mm", label=gettext_lazy("Flange thickness, mm"))
    tyre_width = ReadingsField("mm", label=gettext_lazy("Tyre width, mm"))
    run_out_mm = _number(gettext_lazy("Run-out on a dial, mm"))


class RollingForm(forms.Form):
    """A tilting board or a ramp."""

    tilt_deg = ReadingsField(
        "deg",
        label=gettext_lazy("Tilt at which it just rolls, degrees"),
        help_text=gettext_lazy("Three tries or more, turned round between them: 1.2 1.3 1.1"),
    )
    heights_mm = ReadingsField("mm", label=gettext_lazy("Or height of the board's end, mm"))
    base_mm = _number(gettext_lazy("Base of the board, mm"))
    distances_mm = ReadingsField("mm", label=gettext_lazy("Or rolled on the level, mm"))
    ramp_height_mm = _number(gettext_lazy("Height of the ramp, mm"))
    ramp_mm = _number(gettext_lazy("Length of the ramp, mm"))
    speeds_m_s = ReadingsField("m/s", label=gettext_lazy("Or speed when power went off, m/s"))
    coasted_mm = ReadingsField("mm", label=gettext_lazy("and coasted to rest, mm"))


class PullForm(forms.Form):
    """String and weights, spring scale, letter scale."""

    weights_g = ReadingsField("g", label=gettext_lazy("Largest weights lifted, g"))
    step_g = _number(gettext_lazy("Smallest weight, g"))
    spring_n = ReadingsField("N", label=gettext_lazy("Or spring scale, N"))
    rest_g = _number(gettext_lazy("Or letter scale: weight at rest, g"))
    pulled_g = ReadingsField("g", label=gettext_lazy("and while pulled, g"))
    mass_g = _number(gettext_lazy("Mass of the engine, g"))
    driven_mass_g = _number(gettext_lazy("On the driven wheels, g"))
    limit = _choice(
        gettext_lazy("What ended it"),
        (
            ("unknown", gettext_lazy("not noted")),
            ("slips", gettext_lazy("wheels slip")),
            ("stalls", gettext_lazy("motor stalls")),
        ),
    )
    tyres = _choice(
        gettext_lazy("Traction tyres"),
        (("", gettext_lazy("not noted")), ("yes", gettext_lazy("yes")), ("no", gettext_lazy("no"))),
    )


class ReversingForm(forms.Form):
    """The reversing unit of an alternating-current engine."""

    throws = _choice(
        gettext_lazy("At the full pulse it"),
        (
            ("", gettext_lazy("not tried")),
            ("yes", gettext_lazy("throws")),
            ("no", gettext_lazy("does not throw")),
        ),
    )
    pull_in_v = _number(gettext_lazy("Throws at, V rms"))
    release_v = _number(gettext_lazy("Falls back at, V rms"))
    delay_s = _number(gettext_lazy("Throws after, s"))
    supply_pulse_v = _number(gettext_lazy("Pulse of the supply under load, V rms"))


class SizeForm(forms.Form):
    """Mass and main dimensions."""

    wagon_mass_g = _number(gettext_lazy("Mass, g"), gettext_lazy("The rules are for wagons."))
    length_mm = _number(gettext_lazy("Length over buffers, mm"))
    full_length_mm = _number(gettext_lazy("Full-size length, mm"))
    height_mm = _number(gettext_lazy("Height, mm"))
    full_height_mm = _number(gettext_lazy("Full-size height, mm"))
    wheel_diameter_mm = _number(gettext_lazy("Wheel diameter, mm"))
    full_wheel_diameter_mm = _number(gettext_lazy("Full-size wheel diameter, mm"))
    wheelbase_mm = _number(gettext_lazy("Wheelbase, mm"))
    full_wheelbase_mm = _number(gettext_lazy("Full-size wheelbase, mm"))


class CurrentForm(forms.Form):
    """A logger's file."""

    log = forms.FileField(
        label=gettext_lazy("Log with time and current, CSV"), required=False, max_length=400
    )
    supply = _choice(
        gettext_lazy("Supply"),
        (
            ("", gettext_lazy("direct, or seen from the log")),
            ("full-wave", gettext_lazy("full-wave rectified")),
            ("half-wave", gettext_lazy("half-wave rectified")),
            ("ac", gettext_lazy("alternating")),
            ("pwm", gettext_lazy("pulse width")),
        ),
    )
    duty = _number(gettext_lazy("On-time of the pulses, 0 to 1"))

    def clean_log(self) -> Any:
        """Refuse what is no log by its size."""
        log = self.cleaned_data["log"]
        if log and log.size > LOG_BYTES:
            raise forms.ValidationError(_("This file is too large for a log: cut it in parts."))
        return log


FORMS: dict[str, type[forms.Form]] = {
    "motor": MotorForm,
    "winding": WindingForm,
    "wheels": WheelsForm,
    "rolling": RollingForm,
    "pull": PullForm,
    "reversing": ReversingForm,
    "size": SizeForm,
    "current": CurrentForm,
}
