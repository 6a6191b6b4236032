"""A clip of a run: the model passes a still background, seen from the side."""

from dataclasses import dataclass
from fractions import Fraction
from pathlib import Path

import av
import numpy as np
from numpy.typing import NDArray

from outshop.rig.locomotive import Locomotive
from outshop.rig.programme import Run

_CLOCK = 90_000  # ticks a second of the container's timestamps


@dataclass(frozen=True, slots=True)
class Camera:
    """A phone on a book beside the track.

    Parameters
    ----------
    width, height : int
        Of the clip, in pixels.
    rate_hz : float
        Frames a second.
    pixels_per_mm : float
        Size of the picture of the model's side.
    start_mm : float
        Where the model's middle stands at the start, from the picture's middle.
    noise : float
        Standard deviation of the brightness noise, in steps of 255.
    """

    width: int = 1280
    height: int = 720
    rate_hz: float = 30.0
    pixels_per_mm: float = 1.6
    start_mm: float = -330.0
    noise: float = 2.0


def film(
    run: Run,
    path: Path,
    camera: Camera | None = None,
    seed: int = 0,
    start_s: float = 0.0,
    seconds: float | None = None,
) -> None:
    """Write the run as an H.264 mp4 clip.

    Parameters
    ----------
    run : Run
        What the locomotive did.
    path : Path
        Where the clip goes.
    camera : Camera, optional
        How it is seen.
    seed : int
        Of background and noise.
    start_s, seconds : float
        Which part of the run; all of the rest by default.
    """
    view = camera or Camera()
    rng = np.random.default_rng([seed, 4])
    scene = _background(view, rng)
    engine = _engine(run.locomotive, view)
    noise = rng.normal(0, view.noise, (4, *scene.shape)).astype(np.float32)
    travelled = run.wheel_turns * run.locomotive.wheel_circumference_m * 1000
    length = min(seconds or run.duration_s, run.duration_s - start_s)
    origin = float(np.interp(start_s, run.t_s, travelled))
    with av.open(str(path), "w") as container:
        stream = container.add_stream("libx264", rate=round(view.rate_hz))
        stream.width, stream.height, stream.pix_fmt = view.width, view.height, "yuv420p"
        stream.options = {"preset": "veryfast", "crf": "23"}
        stream.time_base = Fraction(1, _CLOCK)
        for number in range(int(length * view.rate_hz)):
            t = start_s + number / view.rate_hz
            x = float(np.interp(t, run.t_s, travelled)) - origin + view.start_mm
            image = _with_engine(scene, engine, view, x) + noise[number % 4]
            frame = av.VideoFrame.from_ndarray(_rgb(image), format="rgb24")
            frame.pts = round(number / view.rate_hz * _CLOCK)
            frame.time_base = stream.time_base
            container.mux(stream.encode(frame))
        container.mux(stream.encode(None))


def _background(view: Camera, rng: np.random.Generator) -> NDArray[np.float32]:
    """Paint a wall with soft spots above, ballast and rail below."""
    coarse = rng.normal(150, 22, (view.height // 40 + 2, view.width // 40 + 2))
    rows = np.linspace(0, coarse.shape[0] - 1.001, view.height)
    columns = np.linspace(0, coarse.shape[1] - 1.001, view.width)
    smooth = np.stack([np.interp(columns, np.arange(coarse.shape[1]), row) for row in coarse])
    scene = np.stack([np.interp(rows, np.arange(len(smooth)), c) for c in smooth.T], axis=1)
    scene += rng.normal(0, 5, scene.shape)
    rail = _rail_row(view)
    scene[rail:] = rng.normal(105, 25, scene[rail:].shape)
    scene[rail : rail + 4] = 70
    return scene.astype(np.float32)


def _rail_row(view: Camera) -> int:
    return round(0.68 * view.height)


def _engine(loco: Locomotive, view: Camera) -> NDArray[np.float32]:
    """Draw the model from the side: boiler, cab, chimney, wheels; NaN where one sees past it."""
    scale = view.pixels_per_mm
    width, height = round(loco.length_mm * scale), round(0.36 * loco.length_mm * scale)
    side = np.full((height, width), np.nan, np.float32)
    y, x = np.mgrid[0 : 1 : height * 1j, 0 : 1 : width * 1j]
    side[(y > 0.78)] = 45  # frame and buffers reach both ends
    side[(x > 0.08) & (x < 0.92) & (y > 0.35) & (y <= 0.78)] = 60
    side[(x > 0.1) & (x < 0.3) & (y <= 0.4)] = 75
    side[(x > 0.15) & (x < 0.26) & (y > 0.08) & (y < 0.28)] = 190
    side[(x > 0.78) & (x < 0.84) & (y > 0.1) & (y <= 0.4)] = 40
    side[(y > 0.55) & (y < 0.6) & (x > 0.1) & (x < 0.9)] = 170
    radius = loco.wheel_diameter_mm / 2 * scale
    for centre in (0.25, 0.45, 0.65):
        ring = np.hypot(x * width - centre * width, y * height - (height - radius))
        side[ring < radius] = 30
        side[(ring < 0.75 * radius) & (ring > 0.6 * radius)] = 120
    return side


def _with_engine(
    scene: NDArray[np.float32], engine: NDArray[np.float32], view: Camera, x_mm: float
) -> NDArray[np.float32]:
    """Lay the engine over the scene, to a fraction of a pixel."""
    height, width = engine.shape
    left = view.width / 2 + x_mm * view.pixels_per_mm - width / 2
    whole = int(np.floor(left))
    part = np.float32(left - whole)
    seen = np.isfinite(engine).astype(np.float32)
    filled = np.where(seen > 0, engine, 0).astype(np.float32)
    pad = ((0, 0), (0, 1))
    cover = np.pad(seen, pad) * (1 - part) + np.roll(np.pad(seen, pad), 1, 1) * part
    paint = np.pad(filled, pad) * (1 - part) + np.roll(np.pad(filled, pad), 1, 1) * part
    out = scene.copy()
    top = _rail_row(view) - height
    a, b = max(whole, 0), min(whole + width + 1, view.width)
    if a < b:
        window = out[top : top + height, a:b]
        inner = slice(a - whole, b - whole)
        window *= 1 - cover[:, inner]
        window += paint[:, inner]
    return out


def _rgb(image: NDArray[np.float32]) -> NDArray[np.uint8]:
    grey = np.clip(image, 0, 255)
    tint = np.array([1.0, 0.97, 0.9], np.float32)
    return (grey[..., None] * tint).astype(np.uint8)
