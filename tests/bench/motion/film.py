"""A renderer of clips with known truth, for tests only.

A flat model slides along a track in front of a still wall, seen by a pinhole camera with
yaw, pitch and roll, with exposure time, rolling shutter, noise, shake and compression.
Nothing here is shared with the bench or with the simulated locomotive.
"""

from collections.abc import Callable
from dataclasses import dataclass
from fractions import Fraction
from pathlib import Path

import av
import cv2
import numpy as np

TEXEL = 4  # texture pixels for one millimetre


@dataclass(frozen=True)
class Scene:
    """How the clip is taken; lengths in mm, angles in degrees."""

    seed: int = 0
    width: int = 960
    height: int = 540
    rate: float = 30.0
    length_mm: float = 120.0
    field_mm: float = 600.0  # width of the picture at the track
    yaw: float = 0.0
    roll: float = 0.0
    exposure: float = 0.3  # share of the frame's time
    rolling: float = 0.0  # share of the frame's time from the first row to the last
    noise: float = 2.0
    light: float = 1.0
    shake_px: float = 0.0
    shake_turn: float = 0.0
    crf: int = 23
    codec: str = "libx264"
    wall: str = "spots"  # plain, spots, stripes
    post: bool = False  # something thin stands before the track
    shadow: float = 0.0  # strength of the shadow on the ground
    body: float = 60.0  # grey of the model
    jitter: float = 0.0  # share of the frame's time by which frames come early or late
    cars: int = 0
    hand: bool = False
    paint: Callable[[np.ndarray, "Scene"], None] | None = None  # draws on the still wall


class Camera:
    """Pinhole; world x along the track, z up, the plane seen at y = ``depth`` (the track's: 0)."""

    def __init__(self, scene: Scene, depth: float = 0.0):
        distance = scene.field_mm  # lens of about 53 degrees
        focal = scene.width * distance / scene.field_mm
        yaw, roll = np.radians([scene.yaw, scene.roll])
        turn = np.array([[np.cos(yaw), -np.sin(yaw), 0], [np.sin(yaw), np.cos(yaw), 0], [0, 0, 1]])
        look = np.array([[1, 0, 0], [0, 0, -1], [0, 1, 0]]) @ turn
        tilt = np.array(
            [[np.cos(roll), -np.sin(roll), 0], [np.sin(roll), np.cos(roll), 0], [0, 0, 1]]
        )
        inner = np.array([[focal, 0, scene.width / 2], [0, focal, scene.height * 0.55], [0, 0, 1]])
        eye = np.array([0.0, -distance, 25.0])
        rotation = tilt @ look
        origin = np.array([0.0, depth, 0.0])
        plane = np.stack([rotation[:, 0], rotation[:, 2], rotation @ (origin - eye)], axis=1)
        self.to_picture = inner @ plane
        self.to_plane = np.linalg.inv(self.to_picture)

    def pixel(self, x_mm, z_mm):
        """Where a point of the track's plane is seen."""
        p = self.to_picture @ np.array([x_mm, z_mm, 1.0])
        return p[:2] / p[2]


def render(path: Path, scene: Scene, place: Callable[[float], float], seconds: float) -> np.ndarray:
    """Write the clip; ``place(t)`` is the model's middle in mm. Returns the frames' times."""
    rng = np.random.default_rng(scene.seed)
    camera = Camera(scene)
    wall = _wall(scene, rng)
    if scene.paint:
        scene.paint(wall, scene)
    texture = _model(scene, rng)
    count = int(seconds * scene.rate)
    times = (np.arange(count) + scene.jitter * rng.uniform(-0.5, 0.5, count)) / scene.rate
    times[0] = 0
    shake = _shake(scene, count, rng)
    hand_from = rng.uniform(0.2, 0.6) * seconds
    with av.open(str(path), "w") as container:
        stream = container.add_stream(scene.codec, rate=round(scene.rate))
        stream.width, stream.height, stream.pix_fmt = scene.width, scene.height, "yuv420p"
        stream.options = {
            "preset": "veryfast",
            "crf": str(scene.crf),
            "x265-params": "log-level=none",
        }
        stream.codec_context.time_base = Fraction(1, 90_000)
        for t, moved in zip(times, shake, strict=True):
            picture = _frame(scene, camera, wall, texture, place, t)
            if scene.hand and hand_from < t < hand_from + 1:
                reach = int(0.3 * scene.height * np.sin(np.pi * (t - hand_from)))
                picture[:reach, int(0.7 * scene.width) : int(0.85 * scene.width)] = 170
            if scene.post:
                column = int(0.45 * scene.width)
                picture[:, column : column + max(4, scene.width // 80)] = 95
            if moved.any():
                c, s = np.cos(moved[2]), np.sin(moved[2])
                matrix = np.array([[c, -s, moved[0]], [s, c, moved[1]]])
                size = (scene.width, scene.height)
                picture = cv2.warpAffine(
                    picture, matrix, size, flags=cv2.INTER_CUBIC, borderMode=cv2.BORDER_REFLECT
                )
            picture = picture * scene.light + rng.normal(0, scene.noise, picture.shape)
            grey = np.clip(picture, 0, 255).astype(np.uint8)
            frame = av.VideoFrame.from_ndarray(
                cv2.cvtColor(grey, cv2.COLOR_GRAY2RGB), format="rgb24"
            )
            frame.pts, frame.time_base = round(t * 90_000), Fraction(1, 90_000)
            container.mux(stream.encode(frame))
        container.mux(stream.encode(None))
    return np.round(times * 90_000) / 90_000


def _frame(scene, camera, wall, texture, place, t):
    picture = wall.copy()
    samples = 5 if scene.exposure > 0.05 else 1
    rows, columns = _window(scene, camera, texture, place, t)
    if rows is None:
        return picture
    y, x = np.mgrid[rows[0] : rows[1], columns[0] : columns[1]].astype(np.float64)
    paint, cover = 0.0, 0.0
    late = scene.rolling / scene.rate * (y / scene.height)
    for k in range(samples):
        moment = t + late + scene.exposure / scene.rate * ((k + 0.5) / samples - 0.5)
        for dx, dy in ((-0.25, -0.25), (0.25, -0.25), (-0.25, 0.25), (0.25, 0.25)):
            a, b = _sample(scene, camera, texture, x + dx, y + dy, _at(place, moment))
            paint, cover = paint + a, cover + b
    paint, cover = paint / samples / 4, cover / samples / 4
    part = picture[rows[0] : rows[1], columns[0] : columns[1]]
    part *= 1 - cover
    part += paint
    return picture


def _at(place, moment):
    """Places for each row's moment; all columns of a row share it."""
    rows = moment[:, 0]
    return np.array([place(m) for m in rows])[:, None] if np.ptp(rows) else place(float(rows[0]))


def _sample(scene, camera, texture, x, y, middle):
    m = camera.to_plane
    w = m[2, 0] * x + m[2, 1] * y + m[2, 2]
    along = (m[0, 0] * x + m[0, 1] * y + m[0, 2]) / w - middle
    up = (m[1, 0] * x + m[1, 1] * y + m[1, 2]) / w
    height, width = texture[0].shape
    u = (along * TEXEL + width / 2 - 0.5).astype(np.float32)
    v = (height - 0.5 - (up + 10) * TEXEL).astype(np.float32)
    return tuple(cv2.remap(t, u, v, cv2.INTER_LINEAR, borderValue=0) for t in texture)


def _window(scene, camera, texture, place, t):
    span = 1.2 / scene.rate
    places = [place(t - span), place(t), place(t + span)]
    half = texture[0].shape[1] / TEXEL / 2
    corners = np.array([camera.pixel(x, z) for x in (min(places) - half, max(places) + half)
                        for z in (-12, texture[0].shape[0] / TEXEL)])  # fmt: skip
    low, high = np.floor(corners.min(axis=0)) - 2, np.ceil(corners.max(axis=0)) + 2
    columns = np.clip([low[0], high[0]], 0, scene.width).astype(int)
    rows = np.clip([low[1], high[1]], 0, scene.height).astype(int)
    return (rows, columns) if columns[1] > columns[0] and rows[1] > rows[0] else (None, None)


def _shake(scene, count, rng):
    """Slow wander of shift (px) and turn (radians)."""
    knots = rng.normal(0, 1, (count // 6 + 3, 3))
    at = np.arange(count) / 6
    wander = np.stack([np.interp(at, np.arange(len(knots)), k) for k in knots.T], axis=1)
    wander[0] = 0
    return wander * [scene.shake_px, scene.shake_px, np.radians(scene.shake_turn)]


def _wall(scene, rng):
    h, w = scene.height, scene.width
    if scene.wall == "plain":
        wall = np.full((h, w), 165.0) + np.linspace(-12, 12, w)
    elif scene.wall == "stripes":
        wall = 140 + 45 * np.sign(np.sin(np.arange(w) / w * 60))[None] * np.ones((h, 1))
    else:
        spots = rng.normal(150, 35, (h // 24 + 2, w // 24 + 2)).astype(np.float32)
        wall = cv2.resize(spots, (w, h), interpolation=cv2.INTER_CUBIC).astype(float)
    ground = int(h * 0.66)
    coarse = rng.normal(115, 22, ((h - ground) // 3 + 1, w // 3 + 1)).astype(np.float32)
    wall[ground:] = cv2.resize(coarse, (w, h - ground), interpolation=cv2.INTER_LINEAR)
    return wall.astype(np.float32)


def _model(scene, rng):
    """Premultiplied paint and cover, from 10 mm below the rail's top to 45 mm above."""
    length = scene.length_mm
    wide = round(length * TEXEL) + 160
    grey = np.zeros((55 * TEXEL, wide), np.float32)
    cover = np.zeros_like(grey)
    z = 45 - (np.arange(grey.shape[0]) + 0.5) / TEXEL
    x = (np.arange(wide) + 0.5 - wide / 2) / TEXEL

    def box(x0, x1, z0, z1, value):
        grey[np.ix_((z > z0) & (z < z1), (x > x0) & (x < x1))] = value
        cover[np.ix_((z > z0) & (z < z1), (x > x0) & (x < x1))] = 1

    n = scene.cars + 1
    each = length / n
    for k in range(n):
        a, b = -length / 2 + k * each, -length / 2 + (k + 1) * each
        box(a, b, 9, 13, 0.6 * scene.body)  # buffers reach the ends
        box(a + 0.02 * each, b - 0.02 * each, 5, 15, 0.8 * scene.body)
        box(a + 0.05 * each, b - 0.05 * each, 12, rng.uniform(26, 34), scene.body)
        box(a + 0.1 * each, a + 0.3 * each, 26, rng.uniform(34, 42), 1.2 * scene.body)
        box(a + 0.14 * each, a + 0.24 * each, 30, 33, 190)
        box(a + 0.1 * each, b - 0.1 * each, 20, 21.2, 200)
        for spot in rng.uniform(a + 0.1 * each, b - 0.1 * each, 4):
            box(spot, spot + 2.5, 15, 24, rng.uniform(20, 160))
        for centre in np.linspace(a + 0.2 * each, b - 0.2 * each, 3):
            disc = np.hypot(x[None] - centre, z[:, None] - 7) < 7
            grey[disc], cover[disc] = 35, 1
    if scene.shadow:
        low = (z < 0) & (z > -7)
        cover[np.ix_(low, np.abs(x) < length / 2 + 4)] = scene.shadow
    soft = (0, 0), TEXEL * scene.field_mm / scene.width * 0.35
    return tuple(cv2.GaussianBlur(t, *soft) for t in (grey * (cover >= 1), cover))
