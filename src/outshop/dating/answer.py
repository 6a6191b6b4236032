"""One case, answered: years of the edition, years of the prototype, what contradicts what."""

from dataclasses import dataclass
from typing import Any

from outshop.dating.conflicts import Conflicts, find_conflicts
from outshop.dating.evidence import ABOUT, Case, Evidence
from outshop.dating.posterior import Weights, inside, posterior, smallest_years

METHOD = (
    "flat prior over the years; each evidence multiplies a year by its trust inside its window "
    "and by one minus its trust outside"
)


@dataclass(frozen=True, slots=True)
class Answer:
    """Years of one question, edition or prototype.

    Parameters
    ----------
    years : range
        Years considered.
    probability : array of float, shape (len(years),)
        Adds to 1.
    spans : list of [from, to]
        Smallest set of years holding 95 %.
    conflicts : Conflicts
        Indices count over all evidence of the case.
    indices : tuple of int
        Evidence that speaks to this question.
    warnings : tuple of str
    """

    years: range
    probability: Weights
    spans: list[list[int]]
    conflicts: Conflicts
    indices: tuple[int, ...]
    warnings: tuple[str, ...] = ()

    def as_json(self) -> dict[str, Any]:
        """Give the contract's JSON shape."""
        return {
            "posterior": {
                str(y): float(p) for y, p in zip(self.years, self.probability, strict=True)
            },
            "years": self.spans,
            "consistent": self.conflicts.consistent,
            "conflicts": [list(s) for s in self.conflicts.clashes],
            "set_aside": [list(s) for s in self.conflicts.set_aside],
            "conflicts_complete": self.conflicts.complete,
            "confidence": 0.95,
            "method": METHOD,
            "warnings": list(self.warnings),
        }

    def chance(self, first: int, last: int) -> float:
        """Give the probability that the year lies between ``first`` and ``last``, both included."""
        return float(
            sum(p for y, p in zip(self.years, self.probability, strict=True) if first <= y <= last)
        )


def answer(evidence: tuple[Evidence, ...], years: range, about: str) -> Answer:
    """Date one question from the evidence that speaks to it.

    Parameters
    ----------
    evidence : tuple of Evidence
        All of the case; only those of kind ``about`` are used.
    years : range
        Years considered.
    about : str
        ``edition`` or ``prototype``.
    """
    indices = tuple(i for i, item in enumerate(evidence) if item.about == about)
    chosen = [evidence[i] for i in indices]
    probability = posterior(chosen, years)
    local = find_conflicts(inside(chosen, years))
    warnings = []
    if not chosen:
        warnings.append(f"no evidence about the {about}: all years are equally likely")
    if not local.complete and local.proven:
        warnings.append("more contradictory sets exist than are listed")
    if not local.proven:
        warnings.append(
            "the smallest contradictory sets could not all be searched for: one is given of which "
            "no member can be spared"
        )
    return Answer(
        years,
        probability,
        smallest_years(probability, years),
        Conflicts(
            local.consistent,
            _renumber(local.clashes, indices),
            _renumber(local.set_aside, indices),
            _renumber(local.minimal_set_aside, indices),
            local.complete,
            local.proven,
        ),
        indices,
        tuple(warnings),
    )


def answer_case(case: Case) -> dict[str, Answer]:
    """Date the edition and the prototype apart; keys ``edition`` and ``prototype``."""
    return {about: answer(case.evidence, case.years, about) for about in ABOUT}


def _renumber(
    sets: tuple[tuple[int, ...], ...], indices: tuple[int, ...]
) -> tuple[tuple[int, ...], ...]:
    return tuple(tuple(indices[i] for i in members) for members in sets)
