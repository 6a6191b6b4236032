"""Whether two recordings stand on the same footing: clipping, room, gain, distance."""

from dataclasses import dataclass

import numpy as np

from outshop.bench.sound import SoundBench
from outshop.bench.sound.weighting import FloatArray
from outshop.estimate import Estimate

CLIPPED = 1e-3  # share of samples; more bends levels and makes false tones; ours
ROOM_DB = 3.0  # a room that differs by more is another room or another gain; ours
SAME_SHAPE_DB = 1.0  # spectra this alike in shape (rms) differ by a gain only; ours
GAIN_DB = 2.0  # a smaller change of gain or distance cannot be told; ours
DISTANCE_DB = 3.0  # a quarter more or less of the usual distance makes 2 dB; ours
ALIKE_DB = 0.7  # all bands changing alike within this (rms) point to the distance; ours
LEAST_BANDS = 8  # bands needed to speak of a shape; ours
ABOVE_ROOM_DB = 6.0  # bands nearer to the room than this tell nothing of the machine; ours
RECOVERY_DB = 2.5  # a room that grows so much after the run shows automatic gain; ours


@dataclass(frozen=True, slots=True)
class Footing:
    """Reasons why something cannot be compared; empty where it can.

    Parameters
    ----------
    tones, levels : str
        Reason why tones and impulses, and why absolute levels cannot be compared.
    warnings : tuple of str
        What could not be checked.
    """

    tones: str = ""
    levels: str = ""
    warnings: tuple[str, ...] = ()


def find_footing(before: SoundBench, after: SoundBench) -> Footing:
    """Compare the circumstances of two recordings.

    * Clipping: the share of samples at full scale.
    * Gain: the still time has the same spectrum, shifted as a whole.
    * Room: the still time differs in level or shape.
    * Automatic gain: the room seems to grow louder after the run.
    * Distance: the room is the same, and all bands of the machine have shifted alike.

    Parameters
    ----------
    before, after : SoundBench
        Results of the sound bench.
    """
    for name, bench in (("before", before), ("after", after)):
        if bench.clipped_share > CLIPPED:
            reason = f"the recording {name} is clipped ({bench.clipped_share:.1%} of its samples)"
            return Footing(reason, reason)
    warnings: tuple[str, ...] = ()
    if not _has_room(before) or not _has_room(after):
        warnings = ("without still time in both recordings room and gain cannot be checked",)
    reason = _other_scale(before, after) or _automatic_gain(before, after)
    reason = reason or _other_room(before, after)
    return Footing(levels=reason or _other_distance(before, after), warnings=warnings)


def _has_room(bench: SoundBench) -> bool:
    return isinstance(bench.background, Estimate)


def _other_scale(before: SoundBench, after: SoundBench) -> str:
    if before.full_scale_db == after.full_scale_db:
        return ""
    return "the two levels refer to different full scales"


def _automatic_gain(before: SoundBench, after: SoundBench) -> str:
    for name, bench in (("before", before), ("after", after)):
        change = bench.room_change
        if isinstance(change, Estimate) and change.low > 0 and change.value > RECOVERY_DB:
            return (
                f"in the recording {name} the room is {change.value:.1f} dB louder after the run "
                "than ahead of it: automatic gain, or somebody came in"
            )
    return ""


def _other_room(before: SoundBench, after: SoundBench) -> str:
    if not (isinstance(before.background, Estimate) and isinstance(after.background, Estimate)):
        return ""
    change = after.background - before.background
    shift, shape, count = _shift(_bands(before, "still_db"), _bands(after, "still_db"))
    if count >= LEAST_BANDS and abs(shift) > GAIN_DB and shape < SAME_SHAPE_DB:
        return (
            f"the room's spectrum is the same but {shift:+.1f} dB: the recording gain has changed"
        )
    if abs(change.value) > ROOM_DB and not change.low <= 0 <= change.high:
        return f"the background differs by {change.value:+.1f} dB: another room, or another gain"
    return ""


def _other_distance(before: SoundBench, after: SoundBench) -> str:
    shift, shape, count = _shift(_machine(before), _machine(after))
    if count < LEAST_BANDS or not _has_room(before) or not _has_room(after):
        return ""
    if abs(shift) < DISTANCE_DB or shape > ALIKE_DB:
        return ""
    where = "further from" if shift < 0 else "nearer to"
    return (
        f"all {count} bands of the machine changed alike by {shift:+.1f} dB while the room stayed: "
        f"the phone was probably {where} it; record again at the same distance"
    )


def _bands(bench: SoundBench, key: str) -> FloatArray:
    return np.array([np.nan if b[key] is None else b[key] for b in bench.bands], float)


def _machine(bench: SoundBench) -> FloatArray:
    """Levels of the bands that stand clear of the room, the room taken off; NaN elsewhere."""
    running, still = _bands(bench, "running_db"), _bands(bench, "still_db")
    clear = running - still > ABOVE_ROOM_DB
    net = 10 ** (running / 10) - 10 ** (still / 10)
    return np.where(clear, 10 * np.log10(np.maximum(net, 1e-20)), np.nan)


def _shift(before: FloatArray, after: FloatArray) -> tuple[float, float, int]:
    """Median shift of the bands both have, rms of the rest, and how many bands there are."""
    if before.shape != after.shape:
        return 0.0, np.inf, 0
    change = after - before
    change = change[np.isfinite(change)]
    if not change.size:
        return 0.0, np.inf, 0
    shift = float(np.median(change))
    return shift, float(np.sqrt(np.mean((change - shift) ** 2))), int(change.size)
