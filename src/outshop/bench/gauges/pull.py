"""What an engine pulls: string and weights, spring scale or letter scale."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any, Literal

from outshop.bench.readings import positive, repeated
from outshop.errors import InputError
from outshop.estimate import Estimate, NotMeasurable, Reading

GRAMS_FORCE_PER_N = 1000 / 9.80665  # standard gravity, ISO 80000-3
METAL_PERCENT = 25.0  # metal wheels on metal rail: about a quarter of the weight (club reports)
TYRED_PERCENT = (30.0, 50.0)  # with traction tyres (from memory)

Limit = Literal["slips", "stalls", "unknown"]


@dataclass(frozen=True, slots=True)
class Pull:
    """Pull on the level, kept on the piece for train planning.

    Parameters
    ----------
    pull_g : Estimate
        Grams-force, unit ``g``.
    limit : str
        What ended the pull: wheels slip, the motor stalls, or not noted.
    adhesion : Reading
        Pull over weight on the driven wheels, percent.
    share_of_mass : Reading
        Pull over the engine's whole weight, percent.
    tyres : bool or None
        Whether traction tyres were fitted; None if not noted.
    sentences : tuple of str
        What it means.
    """

    pull_g: Estimate
    limit: Limit
    adhesion: Reading
    share_of_mass: Reading
    tyres: bool | None
    sentences: tuple[str, ...]

    def as_json(self) -> dict[str, Any]:
        """Give the JSON shape."""
        return {
            "pull_g": self.pull_g.as_json(),
            "limit": self.limit,
            "adhesion": self.adhesion.as_json(),
            "share_of_mass": self.share_of_mass.as_json(),
            "tyres": self.tyres,
            "verdict": list(self.sentences),
        }


def from_weights(weights_g: Sequence[float], *, step_g: float) -> Estimate:
    """Give the pull from the largest weights just lifted over a pulley, g.

    Raises
    ------
    InputError
        A weight or the step is not positive.
    """
    positive(step_g, "the smallest weight", "g")
    return _positive_mean(weights_g, step_g, "string, pulley and weights")


def from_spring(readings_n: Sequence[float], *, step_n: float = 0.02) -> Estimate:
    """Give the pull from a spring scale in newton, g.

    Raises
    ------
    InputError
        A reading is not positive.
    """
    newton = _positive_mean(readings_n, step_n, "spring scale")
    return newton.map(lambda n: n * GRAMS_FORCE_PER_N, "g").with_note(*newton.warnings)


def from_letter_scale(rest_g: float, pulled_g: Sequence[float], *, step_g: float = 1.0) -> Estimate:
    """Give the pull from how much a weight on a letter scale becomes lighter, g.

    Parameters
    ----------
    rest_g : float
        The weight standing alone.
    pulled_g : sequence of float
        What the scale shows while the engine pulls upwards over a pulley.

    Raises
    ------
    InputError
        A reading is not between 0 and the weight at rest.
    """
    positive(rest_g, "the weight at rest", "g")
    for value in pulled_g:
        if not 0 <= value < rest_g:
            message = (
                f"the scale shows {value:g} g while pulled, which is not below {rest_g:g} g at "
                "rest and above 0: use a heavier weight or check the pulley"
            )
            raise InputError(message)
    # two readings of the scale make one pull
    return repeated(
        [rest_g - v for v in pulled_g], "g", resolution=1.4142 * step_g, method="letter scale"
    )


def judge(
    pull_g: Estimate,
    *,
    mass_g: float | None = None,
    driven_mass_g: float | None = None,
    limit: Limit = "unknown",
    tyres: bool | None = None,
    slip_current: Reading | None = None,
    stall_current: Reading | None = None,
) -> Pull:
    """Put a pull beside the weight that makes it.

    Parameters
    ----------
    pull_g : Estimate
        From one of the functions above.
    mass_g, driven_mass_g : float, optional
        Whole engine, and what a scale shows under the driven wheels alone.
    limit : str
        What ended the pull.
    tyres : bool, optional
        Whether traction tyres were fitted.
    slip_current, stall_current : Reading, optional
        Show how far the motor is from stalling when the wheels slip.

    Raises
    ------
    InputError
        More weight on the driven wheels than in the whole, or a pull above the weight.
    """
    if mass_g and driven_mass_g and driven_mass_g > 1.02 * mass_g:  # two scales may differ
        message = f"{driven_mass_g:g} g on driven wheels is more than the engine's {mass_g:g} g"
        raise InputError(message)
    if mass_g and pull_g.value > 1.2 * mass_g:
        message = (
            f"a pull of {pull_g.value:.0f} g from {mass_g:g} g cannot be by adhesion: "
            "check the reading and its unit"
        )
        raise InputError(message)
    adhesion = _share(pull_g, driven_mass_g, "weight on the driven wheels is not given")
    found = []
    if isinstance(adhesion, Estimate):
        found.append(_adhesion_words(adhesion, limit, tyres=tyres))
    if limit == "stalls":
        found.append("the motor stalls before the wheels slip: the drive, not the weight, limits")
    if isinstance(slip_current, Estimate) and isinstance(stall_current, Estimate):
        share = 100 * slip_current.value / stall_current.value
        found.append(f"slipping takes {share:.0f} % of the stall current")
    return Pull(
        pull_g,
        limit,
        adhesion,
        _share(pull_g, mass_g, "the engine's mass is not given"),
        tyres,
        tuple(found),
    )


def _share(pull_g: Estimate, mass_g: float | None, reason: str) -> Reading:
    if mass_g is None:
        return NotMeasurable(reason, "percent")
    positive(mass_g, "a mass", "g")
    return pull_g.map(lambda p: 100 * p / mass_g, "percent")


def _adhesion_words(adhesion: Estimate, limit: Limit, *, tyres: bool | None) -> str:
    value = adhesion.value
    usual = TYRED_PERCENT[0] if tyres else 0.6 * METAL_PERCENT
    if limit != "stalls" and adhesion.high < usual:
        return f"{value:.0f} % of the driven weight is little: clean wheels and rails"
    if tyres is False and adhesion.low > 1.5 * METAL_PERCENT:
        return f"{value:.0f} % of the driven weight is much for bare metal: check the reading"
    return f"{value:.0f} % of the driven weight is usual"


def _positive_mean(readings: Sequence[float], step: float, method: str) -> Estimate:
    for value in readings:
        positive(value, "a pull", "units of the scale")
    unit = "N" if method == "spring scale" else "g"
    return repeated(readings, unit, resolution=step, method=method)
