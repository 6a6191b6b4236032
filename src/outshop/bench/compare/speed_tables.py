"""Two speed tables of one model, before and after the work."""

from collections.abc import Mapping
from dataclasses import dataclass

from outshop.bench.compare.rows import BETTER, NO_CHANGE, NOT_COMPARABLE, WORSE, Comparison, Row
from outshop.bench.motion.speed_table import SpeedTable
from outshop.estimate import Estimate, NotMeasurable, Reading


@dataclass(frozen=True, slots=True)
class Judged:
    """How a figure is judged.

    Parameters
    ----------
    less_is_better : bool or None
        None where a change is neither better nor worse.
    margin : float
        Change that two takes of an unchanged model may show: in the figure's unit, or as a share
        of it where ``relative``. All ours.
    relative : bool
        Whether ``margin`` is a share.
    size_only : bool
        Whether the distance from 0 counts and not the sign.
    """

    less_is_better: bool | None
    margin: float
    relative: bool = False
    size_only: bool = False


FIGURES: Mapping[str, Judged] = {
    "start": Judged(True, 0.05, relative=True),
    "drop_out": Judged(True, 0.05, relative=True),
    "start_over_drop_out": Judged(True, 0.2),
    "creep": Judged(True, 0.1, relative=True),
    "top": Judged(None, 0.03, relative=True),
    "bow": Judged(True, 3.0, size_only=True),
    "unevenness": Judged(True, 0.5),
    "lag": Judged(True, 2.0, size_only=True),
    "forward_over_reverse": Judged(True, 2.0, size_only=True),
}
WAYS = ("_forward", "_reverse")


def compare_tables(before: SpeedTable, after: SpeedTable) -> Comparison:
    """Compare two speed tables figure by figure.

    A verdict needs a change whose interval leaves out 0 and whose nearest end is beyond the
    margin of two takes. Of bow, lag and forward over reverse the distance from 0 is compared.

    Returns
    -------
    Comparison
        A row for each figure that one table has; the greater number of better and worse decides.
    """
    if before.rows.unit != after.rows.unit:
        reason = (
            f"before was run in {before.rows.unit}, after in {after.rows.unit}: the same throttle "
            "is needed for both"
        )
        return Comparison((), NOT_COMPARABLE, reason)
    one, other = before.readings(), after.readings()
    rows = []
    for key in dict.fromkeys((*one, *other)):
        name = _figure(key)
        if name not in FIGURES:
            continue
        missing = NotMeasurable("no run in this direction", "")
        row = _row(key, one.get(key, missing), other.get(key, missing), FIGURES[name])
        if row is not None:
            rows.append(row)
    return Comparison(tuple(rows), *_together(rows))


def _figure(key: str) -> str:
    for way in WAYS:
        if key.endswith(way):
            return key.removesuffix(way)
    return key


def _row(key: str, before: Reading, after: Reading, judged: Judged) -> Row | None:
    """Give a row; None where neither side has the figure."""
    if not isinstance(before, Estimate) and not isinstance(after, Estimate):
        return None
    for which, reading in (("before", before), ("after", after)):
        if not isinstance(reading, Estimate):
            reason = f"not measurable {which}: {reading.reason}"
            unit = before.unit or after.unit
            return Row(key, before, after, NotMeasurable(reason, unit), NOT_COMPARABLE, reason)
    assert isinstance(before, Estimate)
    assert isinstance(after, Estimate)
    change = after - before
    judging = _size(after) - _size(before) if judged.size_only else change
    margin = judged.margin * (before.value if judged.relative else 1.0)
    verdict, reason, neutral = _judge(judging, margin, judged.less_is_better)
    return Row(key, before, after, change, verdict, reason, neutral)


def _size(reading: Estimate) -> Estimate:
    """Give the distance from 0 with its interval."""
    ends = sorted((abs(reading.low), abs(reading.high)))
    low = 0.0 if reading.low <= 0 <= reading.high else ends[0]
    return Estimate(abs(reading.value), low, ends[1], reading.unit, reading.confidence)


def _judge(
    change: Estimate, margin: float, less_is_better: bool | None
) -> tuple[str, str, bool]:  # fmt: skip
    span = f"{change.low:.2g} to {change.high:.2g} {change.unit}"
    if change.low <= 0 <= change.high:
        return NO_CHANGE, f"the interval of the change, {span}, holds 0", False
    if min(abs(change.low), abs(change.high)) < margin:
        said = f"the change, {span}, may be no more than two takes differ by ({margin:.2g})"
        return NO_CHANGE, said, False
    if less_is_better is None:
        said = f"the change, {span}, is proven, but by itself neither better nor worse"
        return NOT_COMPARABLE, said, True
    verdict = BETTER if (change.value < 0) == less_is_better else WORSE
    said = f"the change, {span}, is more than two takes differ by ({margin:.2g})"
    return verdict, said, False


def _together(rows: list[Row]) -> tuple[str, str]:
    better = [r.quantity for r in rows if r.verdict == BETTER]
    worse = [r.quantity for r in rows if r.verdict == WORSE]
    if len(better) != len(worse):
        names = ", ".join(better + worse).replace("_", " ")
        return (BETTER if len(better) > len(worse) else WORSE), f"changed: {names}"
    if better:
        return NO_CHANGE, "as much changed for the better as for the worse"
    if not any(r.verdict == NO_CHANGE for r in rows):
        return NOT_COMPARABLE, "no figure could be found in both tables"
    return NO_CHANGE, "no change is proven"
