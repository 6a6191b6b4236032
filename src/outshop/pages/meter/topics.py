"""The topics of the meter page in the order of the bench form."""

from dataclasses import dataclass

from django.utils.functional import Promise
from django.utils.translation import gettext_lazy as _


@dataclass(frozen=True, slots=True)
class Topic:
    """One section: its key, name, what to do, and the caution that belongs to it."""

    key: str
    name: str | Promise
    how: str | Promise
    caution: str | Promise = ""


TOPICS: tuple[Topic, ...] = (
    Topic(
        "motor",
        _("Motor"),
        _(
            "Feed the motor directly. Read volts, amps and speed running light, then hold the "
            "shaft at two or three angles. Leave out what you do not have."
        ),
        _(
            "Before power, turn the motor by hand, look for brittle insulation and check for a "
            "dead short. Hold it 1 to 2 s only, at low voltage: the winding heats within seconds "
            "and stays hot. Keep small magnets away from children and pacemakers."
        ),
    ),
    Topic(
        "winding",
        _("Windings"),
        _(
            "Motor out of circuit, brushes lifted. Read ohms between neighbouring segments, in "
            "order around; OL where the meter shows an open circuit."
        ),
        _("No power on the motor. Old insulation is brittle: touch the segments, not the wires."),
    ),
    Topic(
        "wheels",
        _("Wheel sets"),
        _("Tap an axle, then measure it with a caliper. Turn it a third between readings."),
    ),
    Topic(
        "rolling",
        _("Rolling"),
        _(
            "Tilt a straight board until the vehicle just rolls, or let it roll from a ramp onto "
            "the level. Take the motor or the rods out of an engine first."
        ),
    ),
    Topic(
        "pull",
        _("Pull"),
        _(
            "Let it pull a string over a smooth edge: weights, a spring scale, or a weight that "
            "grows lighter on a letter scale."
        ),
        _("Stop as soon as it stalls: motor and wires get hot."),
    ),
    Topic(
        "reversing",
        _("Reversing unit"),
        _("For engines that reverse by an overvoltage pulse; volts are rms."),
        _(
            "Use a closed and approved transformer only. Its mains side, and any repair of it, is "
            "for licensed persons; local rules come first."
        ),
    ),
    Topic(
        "size",
        _("Mass and size"),
        _("Against the rules for wagon mass, and against the full-size vehicle."),
    ),
    Topic(
        "current",
        _("Current log"),
        _("A file from a meter or logger with time and current; any usual header will do."),
        _("Do not hold the motor for more than 1 to 2 s in a log."),
    ),
)
KEYS = tuple(topic.key for topic in TOPICS)
