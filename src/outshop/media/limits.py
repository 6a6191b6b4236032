"""How much an untrusted file may ask for."""

from dataclasses import dataclass


@dataclass(frozen=True, slots=True, kw_only=True)
class Limits:
    """Caps on one file; all are our own choice, far above a person's normal recording.

    Parameters
    ----------
    file_bytes : int
        Largest file that is opened at all.
    duration_s : float
        Longest sound or clip that is decoded, in seconds.
    pixels : int
        Largest picture or video frame, width times height.
    wall_s : float
        Longest time spent waiting for the decoder, in seconds; the time the caller
        takes between two blocks does not count.
    stall_s : float
        Longest wait for one block or frame, in seconds.
    cpu_s : int
        Processor seconds of the decoder, where the platform can hold it to that.
    memory_bytes : int
        Address space of the decoder, where the platform can hold it to that.
    """

    file_bytes: int = 4_000_000_000
    duration_s: float = 4 * 3600.0
    pixels: int = 130_000_000
    wall_s: float = 1800.0
    stall_s: float = 60.0
    cpu_s: int = 3600
    memory_bytes: int = 3 * 2**30


DEFAULT = Limits()
