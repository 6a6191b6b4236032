"""Which three questions to ask before bidding: those whose answers would move the bid most."""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from outshop.market.bid import Grade, Repair, bid_ceiling
from outshop.market.landed import Terms


@dataclass(frozen=True, slots=True)
class Question:
    """Something worth asking.

    Parameters
    ----------
    asks : str
    moves : float
        Standard deviation of the ceiling over the possible answers, in the sale's currency.
    """

    asks: str
    moves: float


def questions_worth_asking(
    grades: Sequence[Grade],
    repairs: Sequence[Repair],
    terms: Terms,
    *,
    accepted_regret: float = 0.2,
    hour_worth: float = 0.0,
    most: int = 3,
) -> list[Question]:
    """Rank what is uncertain by how far its answer would move the ceiling.

    Parameters
    ----------
    grades, repairs, terms, accepted_regret, hour_worth
        As for :func:`outshop.market.bid.bid_ceiling`.
    most : int
        Questions to give.
    """

    def ceiling(some_grades: Sequence[Grade], some_repairs: Sequence[Repair]) -> float:
        found = bid_ceiling(
            some_grades,
            some_repairs,
            terms,
            accepted_regret=accepted_regret,
            hour_worth=hour_worth,
        )
        return float(found.bid)

    questions = []
    if len(grades) > 1:
        answers = [ceiling([g], repairs) for g in grades]
        chances = np.array([g.chance for g in grades])
        names = " or ".join(g.name for g in grades)
        questions.append(Question(f"Which condition: {names}?", _spread(answers, chances)))
    for i, repair in enumerate(repairs):
        if 0 < repair.chance < 1:
            sure = [
                [*repairs[:i], replace(repair, chance=c), *repairs[i + 1 :]] for c in (0.0, 1.0)
            ]
            answers = [ceiling(grades, some) for some in sure]
            moves = _spread(answers, np.array([1 - repair.chance, repair.chance]))
            questions.append(Question(f"{repair.name}: needed or not?", moves))
    return sorted(questions, key=lambda q: -q.moves)[:most]


def _spread(
    answers: Sequence[float], chances: "np.ndarray[tuple[int], np.dtype[np.float64]]"
) -> float:
    weights = chances / chances.sum()
    mean = float(weights @ answers)
    return float((weights @ (np.array(answers) - mean) ** 2) ** 0.5)
