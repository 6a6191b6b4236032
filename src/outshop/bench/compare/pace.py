"""Whether both recordings ran at the same speed: a faster machine is louder by itself."""

from dataclasses import dataclass
from math import log10

from outshop.bench.sound import SoundBench
from outshop.bench.sound.result import CONFIDENT
from outshop.estimate import Estimate

# level of machinery goes as 20 to 60 lg of its speed (gears at the low end, fans at the high end);
# common practice, no source. The upper end, so that the speed is not mistaken for a fault
MOST_DB_PER_DECADE = 60.0
SAME_SHARE = 0.02  # speeds closer than this are one; the 2 % of the sound bench
ORDERS_SHARE = 0.1  # a tone that moves further may have come upon a resonance; ours


@dataclass(frozen=True, slots=True)
class Pace:
    """How the motor's speed after compares with that before.

    Parameters
    ----------
    share : float
        Relative change of the speed; 0 if it is the same, or not known.
    warnings : tuple of str
        That it is not known.
    """

    share: float = 0.0
    warnings: tuple[str, ...] = ()

    @classmethod
    def between(cls, before: SoundBench, after: SoundBench) -> "Pace":
        """Compare the speeds of two recordings."""
        one, other = before.motor_speed, after.motor_speed
        sure = before.motor_speed_status == after.motor_speed_status == CONFIDENT
        if not (sure and isinstance(one, Estimate) and isinstance(other, Estimate)):
            note = "whether both ran at the same speed is not known: a faster run is a louder one"
            return cls(warnings=(note,))
        share = other.value / one.value - 1
        return cls(share if abs(share) > SAME_SHARE else 0.0)

    @property
    def allowance_db(self) -> float:
        """The most that the change of speed alone may change a level, with its sign."""
        return MOST_DB_PER_DECADE * log10(1 + self.share)

    def may_explain(self, change: Estimate, margin_db: float) -> bool:
        """Whether a change of level (dB) may come from the speed, give or take a margin."""
        low = min(0.0, self.allowance_db) - margin_db
        high = max(0.0, self.allowance_db) + margin_db
        return self.share != 0 and change.low <= high and change.high >= low

    @property
    def explanation(self) -> str:
        """Say what the speed may do to levels."""
        way = "faster" if self.share > 0 else "slower"
        return (
            f"the motor turned {abs(self.share):.0%} {way} after: that alone may change a level by "
            f"{self.allowance_db:+.1f} dB; record both at the same speed"
        )

    @property
    def moves_orders(self) -> str:
        """Why the levels of tones cannot be compared; empty if they can."""
        if abs(self.share) < ORDERS_SHARE:
            return ""
        way = "faster" if self.share > 0 else "slower"
        return (
            f"the motor turned {abs(self.share):.0%} {way} after: its tones lie elsewhere, where "
            "shell and baseboard ring more or less; record both at the same speed"
        )
