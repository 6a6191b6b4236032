"""Mass against the rules for wagons, and lengths against the full-size vehicle."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, Literal

from outshop.bench.readings import positive
from outshop.estimate import Estimate
from outshop.railway.masses import MassRule, wagon_masses
from outshop.railway.scales import Scale

RULER_MM = 0.1  # 95 % error of a length taken with caliper or rule (common practice)
TO_SCALE_PERCENT = 2.0  # our own limit of "to scale"
# short lengths chosen on purpose, as shares of the scale's length (common practice):
# 1:93.5 and 1:100 bodies on 1:87 stock
COMPROMISES = {"1:93.5": 87 / 93.5, "1:100": 87 / 100}
COMPROMISE_PERCENT = 1.2  # how near to one of them
HANDLING_REASONS = {
    "wheel_diameter": "small wheels make room for deep flanges",
    "wheelbase": "a short wheelbase passes sharp curves",
}

Meaning = Literal["to scale", "deliberate compromise", "off scale"]


@dataclass(frozen=True, slots=True)
class MassCheck:
    """A mass beside one rule."""

    rule: MassRule
    mass_g: float
    verdict: str

    def as_json(self) -> dict[str, Any]:
        """Give the JSON shape."""
        return {
            "rule": self.rule.rule,
            "scale": self.rule.scale,
            "wanted_g": self.rule.mass_g,
            "mass_g": self.mass_g,
            "difference_g": self.mass_g - self.rule.mass_g,
            "verdict": self.verdict,
            "source": self.rule.source,
        }


def check_mass(mass_g: float, length_mm: float, scale_name: str) -> list[MassCheck]:
    """Compare a wagon's mass with NEM 302 (a minimum) and RP-20.1 (an aim).

    Raises
    ------
    InputError
        Mass or length is not positive.
    """
    positive(mass_g, "the mass", "g")
    rules = wagon_masses(scale_name, length_mm)
    return [MassCheck(rule, mass_g, _mass_verdict(rule, mass_g)) for rule in rules]


def _mass_verdict(rule: MassRule, mass_g: float) -> str:
    aim = rule.rule == "RP-20.1"
    if mass_g < 0.98 * rule.mass_g:  # a letter scale's error
        return "lighter than recommended" if aim else "too light"
    return "heavier than recommended" if aim and mass_g > 1.1 * rule.mass_g else "meets it"


@dataclass(frozen=True, slots=True)
class Proportion:
    """One dimension beside the full-size one.

    Parameters
    ----------
    name : str
        ``length``, ``height``, ``wheel_diameter``, ``wheelbase`` or another.
    model_mm, wanted_mm : float
        As measured, and the full size over the scale's ratio.
    error_mm, error_percent, effective_ratio : Estimate
        Difference in mm and in percent, and the ratio that this dimension has.
    meaning : str
        ``to scale``, ``deliberate compromise`` or ``off scale``.
    why : str
        One sentence.
    """

    name: str
    model_mm: float
    wanted_mm: float
    error_mm: Estimate
    error_percent: Estimate
    effective_ratio: Estimate
    meaning: Meaning
    why: str

    def as_json(self) -> dict[str, Any]:
        """Give the JSON shape."""
        return {
            "name": self.name,
            "model_mm": self.model_mm,
            "wanted_mm": self.wanted_mm,
            "error_mm": self.error_mm.as_json(),
            "error_percent": self.error_percent.as_json(),
            "effective_ratio": self.effective_ratio.as_json(),
            "meaning": self.meaning,
            "why": self.why,
        }


def check_proportions(
    pairs: Mapping[str, tuple[float, float]], of: Scale, *, error_mm: float = RULER_MM
) -> list[Proportion]:
    """Compare dimensions of model and full size.

    Parameters
    ----------
    pairs : mapping of str to (float, float)
        Name to model length and full-size length, both mm.
    of : Scale
        The scale that the model claims.
    error_mm : float
        95 % error of a model length.

    Raises
    ------
    InputError
        A length is not positive.
    """
    for name, (model, full) in pairs.items():
        positive(model, f"the model's {name}", "mm")
        positive(full, f"the full-size {name}", "mm")
    errors = {n: 100 * (m * of.ratio / f - 1) for n, (m, f) in pairs.items()}
    across = [abs(e) for n, e in errors.items() if n not in ("length", "wheelbase")]
    others_fit = bool(across) and max(across) < 2 * TO_SCALE_PERCENT
    found = []
    for name, (model, full) in pairs.items():
        size = Estimate.plus_minus(model, error_mm, "mm", method="caliper or rule")
        wanted = of.model_mm(full)
        meaning, why = _meaning(name, model / wanted, error_mm / wanted, others_fit=others_fit)
        found.append(
            Proportion(
                name,
                model,
                wanted,
                size - wanted,
                size.map(lambda x, w=wanted: 100 * (x / w - 1), "percent"),  # type: ignore[misc]
                size.map(lambda x, f=full: f / x, "1"),  # type: ignore[misc]
                meaning,
                why,
            )
        )
    return found


def _meaning(name: str, share: float, slack: float, *, others_fit: bool) -> tuple[Meaning, str]:
    percent = 100 * (share - 1)
    if abs(percent) <= max(TO_SCALE_PERCENT, 100 * slack):
        return "to scale", f"within {TO_SCALE_PERCENT:g} % of the scale"
    if name in ("length", "wheelbase"):
        for label, chosen in COMPROMISES.items():
            near = abs(100 * (share / chosen - 1)) <= COMPROMISE_PERCENT
            if near and (others_fit or name == "length"):
                rest = "; the other sizes are to scale" if others_fit else ""
                return (
                    "deliberate compromise",
                    f"short as in the length scale {label} on 1:87 stock{rest}",
                )
    if name in HANDLING_REASONS and -8 < percent < 0:  # our own limit for such trims
        return "deliberate compromise", HANDLING_REASONS[name]
    return "off scale", f"{percent:+.1f} % off: a wrong part, another prototype, or a free design"
