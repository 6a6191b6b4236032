"""Before and after: two benches of the same programme become differences and verdicts."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, cast

from outshop.bench.sound import SoundBench
from outshop.estimate import Estimate, NotMeasurable, Reading

BETTER, WORSE = "better", "worse"
NO_CHANGE, NOT_COMPARABLE = "no_provable_change", "not_comparable"


@dataclass(frozen=True, slots=True)
class Row:
    """One quantity before and after.

    Parameters
    ----------
    quantity : str
        Its key in the sound bench.
    before, after, change : Reading
        Two readings and after − before.
    verdict : str
        ``better``, ``no_provable_change``, ``worse`` or ``not_comparable``.
    reason : str
        Why, in one sentence.
    """

    quantity: str
    before: Reading
    after: Reading
    change: Reading
    verdict: str
    reason: str

    def as_json(self) -> dict[str, Any]:
        """Give the contract's JSON shape."""
        return {
            "quantity": self.quantity,
            "before": self.before.as_json(),
            "after": self.after.as_json(),
            "change": self.change.as_json(),
            "verdict": self.verdict,
            "reason": self.reason,
        }


@dataclass(frozen=True, slots=True)
class Comparison:
    """All rows and what they say together."""

    rows: tuple[Row, ...]
    verdict: str
    warnings: tuple[str, ...] = ()

    def as_json(self) -> dict[str, Any]:
        """Give the contract's JSON shape."""
        return {
            "rows": [row.as_json() for row in self.rows],
            "verdict": self.verdict,
            "warnings": list(self.warnings),
        }


# quantity -> whether less is better
QUANTITIES: Mapping[str, bool] = {
    "level": True,
    "motor_speed": False,
    "wheel_turn_modulation": True,
    "speed_swing": True,
    "squeal": True,
    "crackle": True,
    "start_time": True,
}


def compare(before: SoundBench, after: SoundBench) -> Comparison:
    """Compare two recordings of the same programme at the same place.

    Parameters
    ----------
    before, after : SoundBench
        Results of the sound bench.

    Returns
    -------
    Comparison
        A row for each quantity that at least one recording has, and an overall verdict.
    """
    rows = tuple(
        _row(name, getattr(before, name), getattr(after, name), less_is_better)
        for name, less_is_better in QUANTITIES.items()
    )
    return Comparison(rows, _together([row.verdict for row in rows]))


def _row(quantity: str, before: Reading, after: Reading, less_is_better: bool) -> Row:
    for which, reading in (("before", before), ("after", after)):
        if isinstance(reading, NotMeasurable):
            reason = f"not measurable {which}: {reading.reason}"
            change = NotMeasurable(reason, reading.unit)
            return Row(quantity, before, after, change, NOT_COMPARABLE, reason)
    difference = cast(Estimate, after) - cast(Estimate, before)
    verdict = _verdict(difference, less_is_better)
    return Row(quantity, before, after, difference, verdict, _because(difference, verdict))


def _verdict(change: Estimate, less_is_better: bool) -> str:
    if change.low <= 0 <= change.high:
        return NO_CHANGE
    return BETTER if (change.value < 0) == less_is_better else WORSE


def _because(change: Estimate, verdict: str) -> str:
    if verdict == NO_CHANGE:
        return f"the interval of the change, {change.low:.2g} to {change.high:.2g}, holds 0"
    return f"the interval of the change, {change.low:.2g} to {change.high:.2g}, excludes 0"


def _together(verdicts: list[str]) -> str:
    if BETTER in verdicts and WORSE not in verdicts:
        return BETTER
    if WORSE in verdicts and BETTER not in verdicts:
        return WORSE
    if NO_CHANGE in verdicts or BETTER in verdicts:
        return NO_CHANGE
    return NOT_COMPARABLE
