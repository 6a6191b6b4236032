"""The sound of a run, as a phone beside the track would record it."""

import io
import math
import wave
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray
from scipy import signal

from outshop.rig.locomotive import Microphone
from outshop.rig.programme import Run

_F32 = np.float32
# frequency in Hz, quality, share: the frame and body ring at these (invented)
_RINGS = ((640.0, 6.0, 0.6), (1850.0, 9.0, 0.5), (3900.0, 8.0, 0.3))
_REFLECTIONS = ((0.0031, 0.8), (0.0074, 0.6), (0.0123, 0.45))  # seconds, strength (invented)
_HARMONICS = ((1, 1.0), (2, 0.45), (3, 0.2))
_SQUEAL_HZ = 3300.0  # of a dry plain bearing (invented)


class _Tone(NamedTuple):
    order: float  # cycles in one wheel turn
    loudness: float


@dataclass(frozen=True, slots=True)
class Recording:
    """A made recording.

    Parameters
    ----------
    samples : ndarray [shape=(n,), float32]
        Sound; full scale is 1, louder is cut as a phone would.
    sample_rate_hz : int
        Samples a second.
    """

    samples: NDArray[np.float32]
    sample_rate_hz: int

    def wav(self) -> bytes:
        """Encode as a 16-bit wav file."""
        buffer = io.BytesIO()
        with wave.open(buffer, "wb") as file:
            file.setnchannels(1)
            file.setsampwidth(2)
            file.setframerate(self.sample_rate_hz)
            file.writeframes(np.round(self.samples * 32767).astype("<i2").tobytes())
        return buffer.getvalue()


def record(run: Run, microphone: Microphone | None = None, seed: int = 0) -> Recording:
    """Record a run.

    Parameters
    ----------
    run : Run
        From :func:`outshop.rig.programme.drive`.
    microphone : Microphone, optional
        Where and how it is heard.
    seed : int
        Of all noises.

    Returns
    -------
    Recording
        Mono sound of the run's length.
    """
    mic = microphone or Microphone()
    rng = np.random.default_rng([seed, 2])
    count = round(run.duration_s * mic.sample_rate_hz)
    at = np.arange(count, dtype=np.float64) / mic.sample_rate_hz
    turns = np.interp(at, run.t_s, run.wheel_turns)
    share = np.abs(run.speed_m_s) / run.locomotive.top_speed_m_s
    pace = np.interp(at, run.t_s, share).astype(_F32)
    sound = _tones(run, turns, pace)
    sound += _brushes(run, turns, pace, mic.sample_rate_hz, rng)
    sound *= 1 + _tight(run, turns)
    sound += _squeal(run, turns, pace, at)
    sound = _body(sound, mic.sample_rate_hz)
    for delay, strength in _REFLECTIONS:
        shift = round(delay * mic.sample_rate_hz)
        sound[shift:] += _F32(mic.room * strength) * sound[:-shift]
    sound *= _F32(_amplitude(mic.gain_db))
    sound += _surroundings(mic, at, rng)
    cut = signal.butter(2, mic.high_pass_hz, "highpass", fs=mic.sample_rate_hz, output="sos")
    heard = signal.sosfilt(cut, sound).astype(_F32)
    return Recording(np.clip(heard, -1, 1), mic.sample_rate_hz)


def _orders(run: Run) -> list[_Tone]:
    """All tones locked to the wheel turn: imbalance, commutator, each gear mesh, wheel."""
    loco = run.locomotive
    per_motor = 2 * loco.poles if loco.poles % 2 else loco.poles
    tones = [_Tone(loco.ratio, 0.25), _Tone(2 * loco.ratio, 0.1)]  # imbalance
    tones += [_Tone(loco.poles * loco.ratio, 0.15)]  # the poles pass the magnet
    tones += [_Tone(per_motor * loco.ratio * k, 0.35 * share) for k, share in _HARMONICS]
    shaft = loco.ratio  # turns of the driving shaft for one wheel turn
    rough = 10 ** (loco.faults.rough_mesh / 20)
    for stage in loco.stages:
        mesh = shaft * stage.driver_teeth
        tones += [_Tone(mesh * k, 0.5 * share * rough) for k, share in _HARMONICS]
        if rough > 1:  # one bad tooth: sidebands one turn of the driven wheel away
            shaft_out = mesh / stage.driven_teeth
            tones += [_Tone(mesh + side * shaft_out, 0.15 * rough) for side in (-1, 1)]
        shaft = mesh / stage.driven_teeth
    return tones


def _tones(run: Run, turns: NDArray[np.float64], pace: NDArray[np.float32]) -> NDArray[np.float32]:
    total = np.zeros(len(turns), _F32)
    for number, tone in enumerate(_orders(run)):
        cycles = turns * tone.order + 0.37 * number
        cycles -= np.floor(cycles)
        total += _F32(tone.loudness) * np.sin(_F32(2 * math.pi) * cycles.astype(_F32))
    total *= pace
    return total


def _tight(run: Run, turns: NDArray[np.float64]) -> NDArray[np.float32]:
    """Extra strain at the tight place, once per wheel turn."""
    depth = run.locomotive.faults.binding_axle
    if not depth:
        return np.zeros(1, _F32)
    angle = (turns - np.floor(turns)).astype(_F32) * _F32(2 * math.pi)
    strain: NDArray[np.float32] = _F32(6 * depth) * np.exp(_F32(1.8) * (np.cos(angle) - 1))
    return strain


def _brushes(
    run: Run,
    turns: NDArray[np.float64],
    pace: NDArray[np.float32],
    rate: int,
    rng: np.random.Generator,
) -> NDArray[np.float32]:
    """Make rolling noise, brush hiss that swells with each commutator bar, and sparks."""
    loco = run.locomotive
    noise = rng.standard_normal(len(turns), dtype=_F32)
    cycles = turns * (loco.ratio * loco.poles)
    swell = 1 + 0.6 * np.sin(_F32(2 * math.pi) * (cycles - np.floor(cycles)).astype(_F32))
    hiss = noise * swell * pace * _F32(0.05 * 10 ** (loco.faults.brush_noise / 20))
    roll = signal.lfilter([0.05], [1, -0.95], noise).astype(_F32) * pace * _F32(0.8)
    total: NDArray[np.float32] = hiss + roll
    if loco.faults.crackle:
        running = np.flatnonzero(pace > 0.05)
        count = rng.poisson(loco.faults.crackle * len(running) / rate)
        if count:
            where = rng.choice(running, count)
            total[where] += rng.normal(0, 3, count).astype(_F32)
    return total


def _squeal(
    run: Run, turns: NDArray[np.float64], pace: NDArray[np.float32], at: NDArray[np.float64]
) -> NDArray[np.float32]:
    loud = run.locomotive.faults.dry_squeal
    if not loud:
        return np.zeros(len(turns), _F32)
    cycles = at * _SQUEAL_HZ
    tone = np.sin(_F32(2 * math.pi) * (cycles - np.floor(cycles)).astype(_F32))
    part = (turns - np.floor(turns)).astype(_F32)
    gate = np.clip(np.cos(_F32(2 * math.pi) * part), 0, 1) * (pace > 0.05)
    squeal: NDArray[np.float32] = _F32(loud) * tone * gate
    return squeal


def _body(sound: NDArray[np.float32], rate: int) -> NDArray[np.float32]:
    """Let frame and body ring along."""
    total = 0.5 * sound
    for frequency, quality, share in _RINGS:
        if frequency < 0.45 * rate:
            b, a = signal.iirpeak(frequency, quality, fs=rate)
            total += _F32(2 * share) * signal.lfilter(b, a, sound).astype(_F32)
    return total


def _surroundings(
    mic: Microphone, at: NDArray[np.float64], rng: np.random.Generator
) -> NDArray[np.float32]:
    # a sine of amplitude 1 has an rms of 1/sqrt(2), which is the 0 dB of the levels
    noise = rng.standard_normal(len(at), dtype=_F32)
    noise *= _F32(_amplitude(mic.noise_floor_db) / math.sqrt(2))
    for multiple, share in ((1, 1.0), (2, 0.5), (3, 0.25)):
        cycles = at * (50.0 * multiple)
        hum = np.sin(_F32(2 * math.pi) * (cycles - np.floor(cycles)).astype(_F32))
        noise += _F32(_amplitude(mic.hum_db) * share) * hum
    return noise


def _amplitude(level_db: float) -> float:
    return float(10 ** (level_db / 20))
