"""The simulated locomotive: its drive, its faults, and the microphone beside it.

All numbers are invented; they are of the size found on small models (our own choice).
"""

import math
from dataclasses import dataclass, field


@dataclass(frozen=True, slots=True)
class Stage:
    """One gear stage; a worm counts its starts as ``driver_teeth``."""

    driver_teeth: int
    driven_teeth: int


@dataclass(frozen=True, slots=True)
class Faults:
    """What is wrong with it; 0 everywhere is a healthy model.

    Parameters
    ----------
    binding_axle : float
        Share of speed lost at the tight place, once per wheel turn, 0 to 0.9.
    rough_mesh : float
        Extra loudness of the gear mesh, in dB.
    brush_noise : float
        Extra loudness of the brush hiss, in dB.
    crackle : float
        Sparks a second heard as clicks.
    dry_squeal : float
        Loudness of a dry bearing's squeal beside a healthy mesh, 0 to about 3.
    sticky_start : float
        Extra seconds before it starts after a change of direction.
    """

    binding_axle: float = 0.0
    rough_mesh: float = 0.0
    brush_noise: float = 0.0
    crackle: float = 0.0
    dry_squeal: float = 0.0
    sticky_start: float = 0.0


@dataclass(frozen=True, slots=True)
class Locomotive:
    """A model with a motor, spur gears and coupled wheels.

    Parameters
    ----------
    poles : int
        Poles of the armature.
    stages : tuple of Stage
        From the motor outwards.
    wheel_diameter_mm, length_mm : float
        Driving wheel on the tread; length over buffers.
    top_speed_m_s : float
        Track speed at full setting.
    start_setting : float
        Lowest setting, 0 to 1, at which it moves.
    time_constant_s : float
        How slowly speed follows the setting.
    start_delay_s : float
        Rest after a change of setting from still.
    faults : Faults
        What is wrong.
    """

    poles: int = 3
    stages: tuple[Stage, ...] = (Stage(12, 54), Stage(14, 42))
    wheel_diameter_mm: float = 16.1
    length_mm: float = 118.0
    top_speed_m_s: float = 0.45
    start_setting: float = 0.12
    time_constant_s: float = 0.35
    start_delay_s: float = 0.15
    faults: Faults = field(default_factory=Faults)

    @property
    def ratio(self) -> float:
        """Motor turns for one wheel turn."""
        return math.prod(stage.driven_teeth / stage.driver_teeth for stage in self.stages)

    @property
    def wheel_circumference_m(self) -> float:
        """Way of one wheel turn, in metres."""
        return math.pi * self.wheel_diameter_mm / 1000


@dataclass(frozen=True, slots=True)
class Microphone:
    """A phone beside the track; levels in dB relative to a full-scale sine.

    Parameters
    ----------
    sample_rate_hz : int
        Samples a second.
    gain_db : float
        Level of a healthy model at full speed.
    noise_floor_db : float
        Hiss of microphone and room.
    hum_db : float
        Mains hum of the power supply at 50 Hz and its multiples.
    high_pass_hz : float
        What the phone cuts away below.
    room : float
        Strength of the room's reflections, 0 to 0.9.
    """

    sample_rate_hz: int = 48_000
    gain_db: float = -18.0
    noise_floor_db: float = -62.0
    hum_db: float = -70.0
    high_pass_hz: float = 80.0
    room: float = 0.3
