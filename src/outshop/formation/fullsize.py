"""What the full-size train would have been, and how far the model compresses it.

Tonnage by the handbook: pull = mass x (rolling resistance of Launhardt for the whole train +
ruling grade + Roeckl's curve). See :mod:`outshop.railway.resistance` for the formulas.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any

from outshop.errors import InputError
from outshop.formation.kinds import axles
from outshop.formation.recipes import Recipe
from outshop.formation.scene import Prototype, Scene, Vehicle, Wish
from outshop.railway.resistance import launhardt_permille, roeckl_permille

KM_H_PER_M_S = 3.6  # exact
KGF_PER_KN = 1000 / 9.80665  # standard gravity, exact


@dataclass(frozen=True, slots=True)
class Compression:
    """Axles of the model train against the most that the real one was allowed, and lengths."""

    axles: int
    allowed_axles: int | None
    real_length_m: float
    trailing_t: float | None = None
    train_t: float | None = None

    @property
    def tonnes_percent(self) -> float | None:
        """Mass of the vehicles behind the engine as a share of what the real one took."""
        if not self.trailing_t or self.train_t is None:
            return None
        return 100 * self.train_t / self.trailing_t

    def as_json(self) -> dict[str, Any]:
        """Give a plain mapping."""
        return {
            "axles": self.axles,
            "allowed_axles": self.allowed_axles,
            "axles_percent": self.percent,
            "real_length_m": self.real_length_m,
            "trailing_t": self.trailing_t,
            "train_t": self.train_t,
            "tonnes_percent": self.tonnes_percent,
        }

    @property
    def percent(self) -> float | None:
        """Model axles as a share of the real train's limit, per cent."""
        return None if not self.allowed_axles else 100 * self.axles / self.allowed_axles


def resistance_permille(task: Prototype) -> float:
    """Give kg of pull for each ton of train (per mille of its weight)."""
    curve = roeckl_permille(task.radius_m) if task.radius_m else 0.0
    return launhardt_permille(task.speed_km_h / KM_H_PER_M_S) + task.grade_permille + curve


def trailing_tonnes(task: Prototype) -> float:
    """Give the mass that the engine takes besides itself, metric tons; 0 if it takes none.

    Raises
    ------
    InputError
        The pull or the mass is not above zero, or the curve is too tight for the formula.
    """
    if task.effort_kn <= 0 or task.engine_t <= 0:
        message = "the full-size engine needs a pull (kN) and a mass (t) above zero"
        raise InputError(message)
    try:
        resistance = resistance_permille(task)
    except ValueError as problem:
        raise InputError(str(problem)) from problem
    if resistance <= 0:
        message = "downhill the train runs by itself: give the steepest climb as the grade"
        raise InputError(message)
    return max(0.0, task.effort_kn * KGF_PER_KN / resistance - task.engine_t)


def compression(
    train: Sequence[Vehicle], recipe: Recipe | None, wish: Wish, scale: float
) -> Compression:
    """Hold the model's axles against the axles allowed to the real train.

    Parameters
    ----------
    train : sequence of Vehicle
        The model train.
    recipe : Recipe or None
        Its rules of axles that apply give the real limit; the lowest counts.
    wish : Wish
        Year, line and speed.
    scale : float
        Such as 87.
    """
    limits = [r.args["max"] for r in recipe.rules_for(wish) if r.test == "axles"] if recipe else []
    length = sum(v.length_mm for v in train) * scale / 1000
    return Compression(sum(axles(v) for v in train), min(limits, default=None), length)


def full_size(scene: Scene, train: Sequence[Vehicle], recipe: Recipe | None) -> Compression:
    """Hold a model train against the real one: axles, length, and tonnage where known.

    Parameters
    ----------
    scene : Scene
        Its ``prototype`` gives the real pull; without one ``trailing_t`` is None.
    train : sequence of Vehicle
        From the engine backwards; ``train_t`` is the sum of ``real_tonnes``, None unless
        each vehicle has one.
    recipe : Recipe or None
        Its limits of axles.
    """
    found = compression(train, recipe, scene.wish, scene.scale)
    masses = [v.real_tonnes for v in train if v.real_tonnes is not None]
    return replace(
        found,
        trailing_t=trailing_tonnes(scene.prototype) if scene.prototype else None,
        train_t=sum(masses) if train and len(masses) == len(train) else None,
    )
