"""Segment-to-segment readings of an armature: coils with intervals, and which one is bad."""

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any, Literal

import numpy as np
from numpy.typing import NDArray

from outshop.bench.electrics.armature import (
    ring_readings,
    solve_ring,
    solve_star,
    star_readings,
)
from outshop.bench.readings import check_same_units, last_digit, quantity
from outshop.errors import InputError
from outshop.estimate import Estimate, NotMeasurable, Reading

Array = NDArray[np.float64]
Connection = Literal["delta", "star"]
Verdict = Literal["even", "uneven", "open", "shorted"]

SEGMENTS = (3, 13)
EVEN_PERCENT = 5.0  # healthy readings, and coils, agree within about 5 % (common practice)
SHORTED_SHARE = 0.15  # of the median coil: a dead coil with the leads' remainder; our own limit
DEAD_SHARE = 0.08  # of the neighbours' reading; above it a ring of three can be solved in full
OPEN_RATIO = 10.0  # times the median: a broken joint, not a winding; our own limit
IMPOSSIBLE_RATIO = 1.25  # largest reading over the sum of the others; beyond a contact's error
METER_PERCENT = 1.0  # usual ohm range of a hand meter (common practice)
COPPER_PER_K = 0.00393  # annealed copper at 20 C, IEC 60028
INSULATION_OHM = 1e6  # segment to shaft, healthy (common practice)


@dataclass(frozen=True, slots=True)
class WindingBench:
    """What readings between segments tell.

    Parameters
    ----------
    coils : tuple of Reading
        Ohm, coil 1 first; not measurable where open or not to be told apart.
    coils_at_20c : tuple of Reading
        The same at 20 C; equal to ``coils`` when no temperature was given.
    spread_percent : float or None
        Largest minus smallest over the mean of the coils that could be measured.
    verdict : str
        ``even``, ``uneven``, ``open`` or ``shorted``.
    suspect : tuple of int
        Coil numbers from 1.
    insulation : str
        ``good``, ``leaking``, ``bad`` or ``not measured``: segments against shaft.
    connection : str
        ``delta`` or ``star``.
    warnings : tuple of str
        What a careful reader should know.
    """

    coils: tuple[Reading, ...]
    coils_at_20c: tuple[Reading, ...]
    spread_percent: float | None
    verdict: Verdict
    suspect: tuple[int, ...]
    insulation: str
    connection: Connection
    warnings: tuple[str, ...]

    def as_json(self) -> dict[str, Any]:
        """Give the contract's JSON shape."""
        return {
            "coils": [c.as_json() for c in self.coils],
            "coils_at_20c": [c.as_json() for c in self.coils_at_20c],
            "spread_percent": self.spread_percent,
            "verdict": self.verdict,
            "suspect": list(self.suspect),
            "insulation": self.insulation,
            "connection": self.connection,
            "warnings": list(self.warnings),
        }


def read_ohms(texts: Sequence[str], what: str = "readings") -> tuple[list[float], float]:
    """Read typed resistances; ``OL`` is infinite.

    Returns
    -------
    values, step : list of float, float
        Ohm, and the finest last digit typed; 0 where all are whole numbers, because
        trailing zeros are often left out.

    Raises
    ------
    InputError
        One is no resistance, is negative, or units are mixed.
    """
    pairs = [quantity(t, "ohm") for t in texts]
    finite = [(t, u) for t, (v, u) in zip(texts, pairs, strict=True) if math.isfinite(v)]
    check_same_units([u for _, u in finite], what)
    for text, (value, _) in zip(texts, pairs, strict=True):
        if value < 0:
            message = f"a resistance cannot be negative; got {text}: zero the meter, read again"
            raise InputError(message)
    steps = [last_digit(t, "ohm") for t, _ in finite if any(c in t for c in ".,") or _]
    return [v for v, _ in pairs], min(steps, default=0.0)


def measure(
    readings: Sequence[float],
    *,
    connection: Connection = "delta",
    lead: float = 0.0,
    meter_percent: float = METER_PERCENT,
    step: float = 0.0,
    temperature_c: float | None = None,
    to_shaft: Sequence[float] = (),
) -> WindingBench:
    """Find the coils behind readings between neighbouring segments, in order around.

    Parameters
    ----------
    readings : sequence of float, shape (n,)
        Ohm; infinite for an open reading. Reading k lies between segments k and k+1.
    connection : str
        ``delta`` (coil k joins segments k and k+1) or ``star`` (coil k belongs to segment k).
    lead : float
        What the meter shows with its tips together, ohm.
    meter_percent, step : float
        The meter's tolerance: percent of reading, common to all, and the last digit (ohm).
    temperature_c : float, optional
        Temperature of the winding.
    to_shaft : sequence of float
        Readings from segments to the shaft, ohm.

    Raises
    ------
    InputError
        Wrong number of readings, a negative one, or readings that no such network gives.
    """
    values = _checked(readings, connection, lead)
    digit = _digit(values, step)
    warnings: list[str] = []
    if np.isinf(values).any():
        coils, open_coils = _with_open_readings(values, connection, warnings)
        errors = np.where(np.isfinite(coils), np.hypot(meter_percent / 100 * coils, digit), np.nan)
    else:
        solve = solve_ring if connection == "delta" else solve_star
        coils, errors, open_coils = _solved(values, solve, digit, meter_percent, warnings)
    verdict, suspect = _judge(values, coils, open_coils)
    if verdict == "uneven" and _is_doubtful(coils, errors, meter_percent):
        verdict, suspect = "even", ()
        warnings.append("coils differ, but within the meter's last digits: read finer to be sure")
    if verdict in ("open", "shorted") and values.size == 3:
        _other_meaning(verdict, connection, warnings)
    found = tuple(
        _coil(k, value, error, connection)
        for k, (value, error) in enumerate(zip(coils, errors, strict=True), start=1)
    )
    return WindingBench(
        found,
        tuple(_at_20c(c, temperature_c) for c in found),
        _spread(coils),
        verdict,
        suspect,
        _insulation(to_shaft),
        connection,
        tuple(warnings),
    )


def _checked(readings: Sequence[float], connection: str, lead: float) -> Array:
    least, most = SEGMENTS
    if connection not in ("delta", "star"):
        message = f"connection must be delta or star; got {connection!r}"
        raise InputError(message)
    if not least <= len(readings) <= most:
        message = (
            f"{len(readings)} readings: an armature has {least} to {most} segments, "
            "and each neighbouring pair is read once around"
        )
        raise InputError(message)
    values = np.asarray(readings, dtype=float)
    if np.isnan(values).any() or (values < 0).any():
        message = f"a resistance cannot be negative; got {min(readings):g} ohm: zero the meter"
        raise InputError(message)
    if not (math.isfinite(lead) and lead >= 0):
        message = f"the lead resistance must be 0 ohm or more; got {lead:g}"
        raise InputError(message)
    finite = values[np.isfinite(values)]
    usual = float(np.median(finite)) if finite.size else 0.0
    slack = max(0.05, 0.1 * lead)  # leads move and warm: a shorted coil may read below them
    if finite.size and float(finite.min()) < lead - slack:
        message = (
            f"a reading of {finite.min():g} ohm is below the lead resistance of {lead:g} ohm: "
            "touch the tips together and read the leads again"
        )
        raise InputError(message)
    if lead and usual <= lead:
        message = f"the readings ({usual:g} ohm) are no larger than the leads ({lead:g} ohm)"
        raise InputError(message)
    return np.maximum(0.0, values - lead)


def _digit(values: Array, step: float) -> float:
    """Last digit of the meter; a hundredth of the reading where it is not known."""
    finite = values[np.isfinite(values)]
    usual = float(np.median(finite)) if finite.size else 0.0
    return min(step, 0.02 * usual) if step > 0 else 0.01 * usual


def _solved(
    values: Array,
    solve: Callable[[Array], Array | None],
    digit: float,
    meter_percent: float,
    warnings: list[str],
) -> tuple[Array, Array, list[int]]:
    """Solve and propagate: gain error common to all, last digits independent (first order)."""
    if solve is solve_ring and (pair := _two_behind_a_short(values)) is not None:
        warnings.append(
            "beside a shorted coil the two others lie in parallel: they are taken as equal"
        )
        return pair, np.hypot(meter_percent / 100 * pair, 2 * digit), []
    _refuse_impossible(values, star=solve is solve_star)
    coils = solve(values)
    if coils is None:
        warnings.append("an even number of segments in star: coils cannot be told one by one")
        nothing = np.full(values.size, np.nan)
        return nothing, nothing, []
    open_coils = _open_in_ring(values, coils) if solve is solve_ring else []
    for k in open_coils:
        coils = np.where(np.arange(values.size) == k, np.inf, values)
    if solve is solve_star:
        coils = np.maximum(coils, 0.0)
    error = np.zeros(values.size)
    nudge = max(digit, 1e-6 * float(values.max()), 1e-12) / 100
    for k in range(values.size):
        if open_coils:
            error[k] = digit**2 / 3
            continue
        moved = values.copy()
        moved[k] += nudge
        there = solve(moved)
        slope = np.zeros(values.size) if there is None else (there - coils) / nudge
        slope = np.where(np.isfinite(slope), slope, 0.0)
        error += slope**2 * digit**2 / 3  # one digit to each side, uniform
    gain = meter_percent / 100 * np.where(np.isfinite(coils), coils, 0.0)
    half = np.hypot(gain, 1.96 * np.sqrt(error))
    return coils, half, open_coils


def _two_behind_a_short(values: Array) -> Array | None:
    """Solve a ring of three with one coil dead; only the parallel value of the others shows."""
    if values.size != 3:
        return None
    low = int(np.argmin(values))
    others = np.delete(values, low)
    if (
        values[low] > DEAD_SHARE * others.min()
        or np.ptp(others) > 2 * values[low] + 0.1 * others.max()
    ):
        return None
    coils = np.full(3, 2 * float(others.mean()))
    coils[low] = values[low]
    return coils


def _refuse_impossible(values: Array, *, star: bool) -> None:
    top = int(np.argmax(values))
    rest = float(np.delete(values, top).sum())
    largest = float(values[top])
    if largest > 0 and largest > IMPOSSIBLE_RATIO * rest:
        kind = "star" if star else "ring"
        message = (
            f"reading {top + 1} of {largest:g} ohm is more than all others together "
            f"({rest:g} ohm): no {kind} gives that; clean the segments and measure in order"
        )
        raise InputError(message)
    coils = solve_star(values) if star else None
    if coils is not None and float(coils.min()) < -0.1 * float(np.median(np.abs(coils))):
        worst = int(np.argmin(coils)) + 1
        message = (
            f"no star gives these readings: coil {worst} would be {coils.min():.3g} ohm; "
            "read neighbouring segments in order around"
        )
        raise InputError(message)


def _open_in_ring(values: Array, coils: Array) -> list[int]:
    """Give the coil that is open or so high that it is as good as open."""
    top = int(np.argmax(values))
    others = float(np.median(np.delete(coils, top)))
    return [top] if coils[top] > OPEN_RATIO * others and values[top] > 0 else []


def _with_open_readings(
    values: Array, connection: str, warnings: list[str]
) -> tuple[Array, list[int]]:
    """Treat readings of ``OL``: they name the coils that cannot be intact."""
    opened = [int(k) for k in np.flatnonzero(np.isinf(values))]
    n = values.size
    if len(opened) == 1:
        message = (
            f"only reading {opened[0] + 1} is open: any armature would carry that current another "
            "way round; press the tips on clean copper and measure again"
        )
        raise InputError(message)
    if connection == "delta":
        if any((k + 1) % n in opened for k in opened) and len(opened) == 2:
            first = opened[0] if (opened[0] + 1) % n == opened[1] else opened[1]
            warnings.append(
                f"both readings at segment {(first + 1) % n + 1} are open: look at its joint first"
            )
        return values.copy(), opened
    intact = {k for k in range(n) if math.isfinite(values[k])}
    intact |= {(k + 1) % n for k in intact}
    return np.array([np.nan if k in intact else np.inf for k in range(n)]), sorted(
        set(range(n)) - intact
    )


def _judge(values: Array, coils: Array, open_coils: list[int]) -> tuple[Verdict, tuple[int, ...]]:
    if open_coils or np.isinf(values).any():
        return "open", tuple(k + 1 for k in open_coils)
    if np.isnan(coils).all():
        return _judge_even_star(values)
    usual = float(np.median(coils))
    # of three coils with one shorted the median is healthy; with more, the largest is
    reference = usual if usual > 0 else float(coils.max())
    shorted = [k + 1 for k in range(coils.size) if coils[k] <= SHORTED_SHARE * reference]
    if shorted:
        return "shorted", tuple(shorted)
    spread = _spread(coils)
    if spread is not None and min(spread, _spread(values) or 0.0) > EVEN_PERCENT:
        away = np.abs(coils / usual - 1)
        limit = max(0.5 * float(away.max()), EVEN_PERCENT / 200)
        return "uneven", tuple(int(k) + 1 for k in np.flatnonzero(away >= limit))
    return "even", ()


def _judge_even_star(values: Array) -> tuple[Verdict, tuple[int, ...]]:
    """Judge by pattern: coil k is in readings k-1 and k alone."""
    usual = float(np.median(values))
    pairs = np.minimum(values, 0) + (values + np.roll(values, 1)) / 2
    if usual <= 0:
        return "shorted", tuple(range(1, values.size + 1))
    low = (values < 0.65 * usual) & (np.roll(values, 1) < 0.65 * usual)
    if low.any():
        return "shorted", tuple(int(k) + 1 for k in np.flatnonzero(low))
    if 100 * float(np.ptp(values)) / float(values.mean()) > EVEN_PERCENT:
        away = np.abs(pairs / usual - 1)
        return "uneven", tuple(int(k) + 1 for k in np.flatnonzero(away >= 0.9 * float(away.max())))
    return "even", ()


def _spread(coils: Array) -> float | None:
    finite = coils[np.isfinite(coils)]
    if finite.size < 2 or float(finite.mean()) <= 0:
        return None
    return 100 * float(np.ptp(finite)) / float(finite.mean())


def _is_doubtful(coils: Array, errors: Array, meter_percent: float) -> bool:
    """Whether the last digits alone could make coils differ so much."""
    if np.isnan(coils).any():
        return False
    digits = np.sqrt(np.maximum(0, errors**2 - (meter_percent / 100 * coils) ** 2))
    # 95 % of the range of n normal draws: 3.3 standard deviations for three, 4.7 for thirteen
    return bool(np.ptp(coils) < (3.3 + 0.14 * (coils.size - 3)) / 1.96 * float(digits.max()))


def _other_meaning(verdict: str, connection: str, warnings: list[str]) -> None:
    """Three segments: one open coil in delta reads like one shorted coil in star."""
    if verdict == "open" and connection == "delta":
        warnings.append("if the coils meet in a star, the coil opposite is shorted instead")
    if verdict == "shorted" and connection == "star":
        warnings.append("if the coils form a ring, the coil opposite is open instead")


def _coil(k: int, value: float, half: float, connection: str) -> Reading:
    if np.isinf(value):
        return NotMeasurable(f"coil {k} is open or its joint is broken", "ohm")
    if np.isnan(value):
        return NotMeasurable("only sums of neighbouring coils can be read", "ohm")
    method = f"{connection} network solved, meter tolerance"
    return Estimate(float(value), max(0.0, value - half), float(value + half), "ohm", method=method)


def _at_20c(coil: Reading, temperature_c: float | None) -> Reading:
    if temperature_c is None or not isinstance(coil, Estimate):
        return coil
    if not -40 <= temperature_c <= 200:
        message = f"a winding at {temperature_c:g} degrees is not believable: give degrees Celsius"
        raise InputError(message)
    return coil / (1 + COPPER_PER_K * (temperature_c - 20))


def _insulation(to_shaft: Sequence[float]) -> str:
    if not to_shaft:
        return "not measured"
    lowest = min(to_shaft)
    if lowest >= INSULATION_OHM:
        return "good"
    return "leaking" if lowest >= INSULATION_OHM / 100 else "bad"


def expected_readings(coils: Sequence[float], connection: Connection) -> Array:
    """Give the readings that known coils would show, for diagrams and checks."""
    network = ring_readings if connection == "delta" else star_readings
    return network(np.asarray(coils, dtype=float))
