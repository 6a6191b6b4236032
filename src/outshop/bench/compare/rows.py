"""The rows of a before/after sheet and their verdicts."""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from math import log10
from typing import Any

from outshop.bench.compare.footing import Footing, find_footing
from outshop.bench.compare.pace import Pace
from outshop.bench.sound import SoundBench
from outshop.bench.sound.result import CONFIDENT
from outshop.estimate import Estimate, NotMeasurable, Reading

BETTER, WORSE = "better", "worse"
NO_CHANGE, NOT_COMPARABLE = "no_provable_change", "not_comparable"
CHANGED = "changed"  # the word for a proven change that is neither; its verdict is not_comparable
LEVELS, TONES, TIMES = "levels", "tones", "times"


@dataclass(frozen=True, slots=True)
class Quantity:
    """How one quantity is judged.

    Parameters
    ----------
    less_is_better : bool or None
        Direction of a gain; None if neither direction is one.
    margin : float
        Change that two takes of an unchanged model may show, in the quantity's unit, or as a
        share for speeds; a verdict needs more. Ours, but for levels: ISO 3744 (from memory)
        takes about 1 dB for repeating a measurement at the same place.
    kind : str
        What makes it incomparable: ``levels``, ``tones`` or ``times``.
    """

    less_is_better: bool | None
    margin: float
    kind: str


QUANTITIES: Mapping[str, Quantity] = {
    "level": Quantity(True, 1.0, LEVELS),
    # how fast the motor turned is up to the throttle as much as to the model
    "motor_speed": Quantity(None, 0.02, TIMES),
    "wheel_turn_modulation": Quantity(True, 5.0, TONES),
    "speed_swing": Quantity(True, 1.0, TIMES),
    "squeal": Quantity(True, 3.0, TONES),
    "crackle": Quantity(True, 0.3, TONES),
    "start_time": Quantity(True, 0.15, TIMES),
}
ORDER = Quantity(True, 3.0, LEVELS)
BAND = Quantity(True, 2.0, LEVELS)
RESTS_ON_SPEED = ("motor_speed", "wheel_turn_modulation", "speed_swing", "squeal", "start_time")
OCTAVES_HZ = (250.0, 500.0, 1000.0, 2000.0, 4000.0, 8000.0)
# standard error by which two takes of one machine differ beyond what either of them shows: a slow
# wander meets other resonances; from simulated pairs, see docs/methods/compare.md
BETWEEN_TAKES_DB = 0.15
ABOVE_ROOM_DB = 3.0  # as for the level: nearer to the room a band cannot be corrected


@dataclass(frozen=True, slots=True)
class Row:
    """One quantity before and after.

    Parameters
    ----------
    quantity : str
        Its key in the sound bench, ``order: ...`` or ``band: ...``.
    before, after, change : Reading
        Two readings and after − before.
    verdict : str
        ``better``, ``no_provable_change``, ``worse`` or ``not_comparable``.
    reason : str
        Why, in one sentence.
    neutral : bool
        Whether a change is proven that is neither better nor worse; ``not_comparable`` then.
    """

    quantity: str
    before: Reading
    after: Reading
    change: Reading
    verdict: str
    reason: str
    neutral: bool = False

    @property
    def told(self) -> bool:
        """Whether the two readings may stand side by side."""
        return self.verdict != NOT_COMPARABLE or self.neutral

    @property
    def word(self) -> str:
        """The verdict, or ``changed`` if a proven change is neither better nor worse."""
        return CHANGED if self.neutral else self.verdict

    def as_json(self) -> dict[str, Any]:
        """Give the contract's JSON shape."""
        return {
            "quantity": self.quantity,
            "before": self.before.as_json(),
            "after": self.after.as_json(),
            "change": self.change.as_json(),
            "verdict": self.verdict,
            "reason": self.reason,
            "neutral": self.neutral,
        }


@dataclass(frozen=True, slots=True)
class Comparison:
    """All rows and what they say together."""

    rows: tuple[Row, ...]
    verdict: str
    reason: str = ""
    warnings: tuple[str, ...] = ()

    def as_json(self) -> dict[str, Any]:
        """Give the contract's JSON shape."""
        return {
            "rows": [row.as_json() for row in self.rows],
            "verdict": self.verdict,
            "reason": self.reason,
            "warnings": list(self.warnings),
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
    footing = find_footing(before, after)
    pace = Pace.between(before, after)
    rows = [
        _row(name, *_pair(name, before, after), quantity, footing, pace)
        for name, quantity in QUANTITIES.items()
        if _known(getattr(before, name)) or _known(getattr(after, name))
    ]
    rows += [_row(n, b, a, ORDER, footing, pace) for n, b, a in _orders(before, after)]
    rows += [_row(n, b, a, BAND, footing, pace) for n, b, a in _bands(before, after)]
    verdict, reason = _together(rows, footing)
    return Comparison(tuple(rows), verdict, reason, (*footing.warnings, *pace.warnings))


def _known(reading: Reading) -> bool:
    return isinstance(reading, Estimate)


def _pair(name: str, before: SoundBench, after: SoundBench) -> tuple[Reading, Reading]:
    """Read a quantity on both sides, in a form that can be compared."""
    one, other = getattr(before, name), getattr(after, name)
    if name in RESTS_ON_SPEED:
        one = one if before.motor_speed_status == CONFIDENT else _unsure(one)
        other = other if after.motor_speed_status == CONFIDENT else _unsure(other)
    if name == "level" and (_known(before.background) != _known(after.background)):
        # one side has no room to take off: then neither
        return before.level_as_recorded, after.level_as_recorded
    return one, other


def _unsure(reading: Reading) -> Reading:
    if isinstance(reading, NotMeasurable):
        return reading
    return NotMeasurable("the motor speed is not confident", reading.unit)


def _orders(before: SoundBench, after: SoundBench) -> Iterator[tuple[str, Estimate, Estimate]]:
    """Named orders heard in at least one recording; none unless both speeds are sure."""
    if {before.motor_speed_status, after.motor_speed_status} != {CONFIDENT}:
        return
    others = {row["name"]: row for row in after.orders}
    for row in before.orders:
        other = others.get(row["name"])
        if other is not None and (row["heard"] or other["heard"]):
            yield f"order: {row['name']}", _order_level(row), _order_level(other)


def _order_level(row: Mapping[str, Any]) -> Estimate:
    half = 1.96 * float(row["error_db"])
    return Estimate.plus_minus(float(row["level_db"]), half, "dB", method="order spectrum")


def _bands(before: SoundBench, after: SoundBench) -> Iterator[tuple[str, Reading, Reading]]:
    """Octaves, each the sum of three third octaves, the room taken off where it is known."""
    for octave in OCTAVES_HZ:
        pair = _octave(before, octave), _octave(after, octave)
        if any(isinstance(reading, Estimate) for reading in pair):
            yield f"band: {octave:g} Hz octave", *pair


def _octave(bench: SoundBench, octave: float) -> Reading:
    thirds = [b for b in bench.bands if 0.75 < b["midband_hz"] / octave < 1.35]
    if len(thirds) < 3 or any(b["running_db"] is None for b in thirds):
        return NotMeasurable("this band was not measured", "dB")
    power = sum(10 ** (b["running_db"] / 10) for b in thirds)
    room = sum(10 ** (b["still_db"] / 10) for b in thirds if b["still_db"] is not None)
    if room > power * 10 ** (-ABOVE_ROOM_DB / 10):
        return NotMeasurable("the room is as loud as the machine in this band", "dB")
    error = sum((10 ** (b["running_db"] / 10) * b["running_error_db"]) ** 2 for b in thirds)
    net = Estimate.plus_minus(power - room, 1.96 * error**0.5 / 4.343, "")
    value = _decibel(net.value)
    half = min(15.0, 1.96 * error**0.5 / net.value)
    return Estimate.plus_minus(value, half, "dB", method="sum of three third octaves")


def _decibel(power: float) -> float:
    return 10 * log10(max(power, 1e-20))


def _row(
    name: str,
    before: Reading,
    after: Reading,
    quantity: Quantity,
    footing: Footing,
    pace: Pace,
) -> Row:
    for which, reading in (("before", before), ("after", after)):
        if isinstance(reading, NotMeasurable):
            reason = f"not measurable {which}: {reading.reason}"
            change = NotMeasurable(reason, reading.unit)
            return Row(name, before, after, change, NOT_COMPARABLE, reason)
    assert isinstance(before, Estimate)
    assert isinstance(after, Estimate)
    difference = after - before
    if name == "level":
        difference += Estimate.plus_minus(0.0, 1.96 * BETWEEN_TAKES_DB, difference.unit)
    hindrance = {LEVELS: footing.levels, TONES: footing.tones}.get(quantity.kind, "")
    if quantity is ORDER:
        hindrance = hindrance or pace.moves_orders
    if hindrance:
        return Row(name, before, after, difference, NOT_COMPARABLE, hindrance)
    margin = quantity.margin * (before.value if name == "motor_speed" else 1.0)
    verdict, reason = _judge(difference, margin, quantity.less_is_better)
    if (
        quantity.kind == LEVELS
        and verdict in (BETTER, WORSE)
        and pace.may_explain(difference, margin)
    ):
        return Row(name, before, after, difference, NO_CHANGE, pace.explanation)
    neutral = verdict == NOT_COMPARABLE
    return Row(name, before, after, difference, verdict, reason, neutral)


def _judge(change: Estimate, margin: float, less_is_better: bool | None) -> tuple[str, str]:
    span = f"{change.low:.2g} to {change.high:.2g} {change.unit}"
    if change.low <= 0 <= change.high:
        return NO_CHANGE, f"the interval of the change, {span}, holds 0"
    nearest = min(abs(change.low), abs(change.high))
    if nearest < margin:
        return (
            NO_CHANGE,
            f"the change, {span}, may be no more than two takes differ by ({margin:.2g})",
        )
    if less_is_better is None:
        reason = (
            f"the change, {span}, is proven, but faster is neither better nor worse by itself: "
            "the throttle decides it as well as the model"
        )
        return NOT_COMPARABLE, reason
    verdict = BETTER if (change.value < 0) == less_is_better else WORSE
    return verdict, f"the change, {span}, is more than two takes differ by ({margin:.2g})"


def _together(rows: list[Row], footing: Footing) -> tuple[str, str]:
    """One verdict: the main quantities decide, the level first; else orders and bands."""
    main = [r for r in rows if r.quantity in QUANTITIES]
    if footing.tones:
        return NOT_COMPARABLE, footing.tones
    for row in main:
        if row.quantity == "level" and row.verdict in (BETTER, WORSE):
            return row.verdict, f"level: {row.reason}"
    groups = (main,) if footing.levels else (main, rows)
    for group in groups:
        verdicts = [r.verdict for r in group]
        better, worse = verdicts.count(BETTER), verdicts.count(WORSE)
        names = ", ".join(r.quantity for r in group if r.verdict in (BETTER, WORSE))
        if better != worse:
            return (BETTER if better > worse else WORSE), f"changed: {names}"
        if better:
            return NO_CHANGE, f"as much changed for the better as for the worse: {names}"
    if footing.levels:
        return NOT_COMPARABLE, footing.levels
    if not any(r.verdict == NO_CHANGE for r in rows):
        return NOT_COMPARABLE, "nothing could be measured on both sides"
    return NO_CHANGE, "no change is proven"
