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
    mirror: float = 0.0  # strength of the model's reflection in a polished board
    passer: float = 0.0  # share of light that a person's shadow takes as it goes over the wall
    drift: float = 0.0  # share by which the light changes over the clip
    drop: float = 0.0  # share of frames that the phone leaves out
    interlaced: bool = False
    turn: int = 0  # degrees counter-clockwise that the file asks the player to turn
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
    stage = _Stage(scene, rng)
    count = int(seconds * scene.rate)
    times = (np.arange(count) + scene.jitter * rng.uniform(-0.5, 0.5, count)) / scene.rate
    times[0] = 0
    shake = _shake(scene, count, rng)
    hand_from = rng.uniform(0.2, 0.6) * seconds
    kept = rng.uniform(size=count) >= scene.drop
    with av.open(str(path), "w") as container:
        stream = _coder(container, scene)
        for t, moved in zip(times[kept], shake[kept], strict=True):
            picture = stage.picture(place, t)
            if scene.interlaced:
                picture[1::2] = stage.picture(place, t + 0.5 / scene.rate)[1::2]
            _disturb(picture, scene, t - hand_from, t / seconds)
            if moved.any():
                picture = _shaken(picture, moved)
            light = scene.light * (1 + scene.drift * (t / seconds - 0.5))
            picture = picture * light
            picture += rng.standard_normal(picture.shape, np.float32) * np.float32(scene.noise)
            grey = np.rot90(np.clip(picture, 0, 255).astype(np.uint8), -scene.turn // 90)
            frame = av.VideoFrame.from_ndarray(np.ascontiguousarray(grey), format="gray")
            frame = frame.reformat(format="yuv420p")
            frame.pts, frame.time_base = round(t * 90_000), Fraction(1, 90_000)
            container.mux(stream.encode(frame))
        container.mux(stream.encode(None))
    if scene.turn:
        turn_track(path, scene.turn)
    return np.round(times[kept] * 90_000) / 90_000


def _coder(container, scene):
    stream = container.add_stream(scene.codec, rate=round(scene.rate))
    upright = scene.turn % 180 == 0
    stream.width, stream.height = (
        (scene.width, scene.height) if upright else (scene.height, scene.width)
    )
    stream.pix_fmt = "yuv420p"
    stream.options = {"preset": "veryfast", "crf": str(scene.crf), "x265-params": "log-level=none"}
    if scene.interlaced:
        stream.options |= {"x264-params": "tff=1"}
    stream.codec_context.time_base = Fraction(1, 90_000)
    return stream


def turn_track(path: Path, degrees: int) -> None:
    """Write a turn into the track header's matrix (ISO/IEC 14496-12, version 0)."""
    c, s = {90: (0, 1), 180: (-1, 0), 270: (0, -1)}[degrees]
    data = bytearray(path.read_bytes())
    at = data.index(b"tkhd") + 4 + 40
    for offset, value in zip((0, 4, 12, 16), (c, -s, s, c), strict=True):
        data[at + offset : at + offset + 4] = (value * 65536).to_bytes(4, "big", signed=True)
    path.write_bytes(data)


def _disturb(picture, scene, hand_s, part):
    """A hand from above for a second, a person's soft shadow over the wall, a thin post."""
    h, w = picture.shape
    if scene.hand and 0 < hand_s < 1:
        reach = int(0.3 * h * np.sin(np.pi * hand_s))
        picture[:reach, int(0.7 * w) : int(0.85 * w)] = 170
    if scene.passer:
        off = (np.arange(w) / w - (1.3 - 1.6 * part)) / 0.12
        picture *= (1 - scene.passer * np.exp(-0.5 * off * off)).astype(np.float32)
    if scene.post:
        column = int(0.45 * w)
        picture[:, column : column + max(4, w // 80)] = 95


def _shaken(picture, moved):
    c, s = np.cos(moved[2]), np.sin(moved[2])
    matrix = np.array([[c, -s, moved[0]], [s, c, moved[1]]])
    size = (picture.shape[1], picture.shape[0])
    return cv2.warpAffine(
        picture, matrix, size, flags=cv2.INTER_CUBIC, borderMode=cv2.BORDER_REFLECT
    )


class _Stage:
    """Wall, model, and where each part of each pixel looks at the track's plane."""

    def __init__(self, scene, rng):
        self.scene, self.camera = scene, Camera(scene)
        self.wall = _wall(scene, rng)
        if scene.paint:
            scene.paint(self.wall, scene)
        self.texture = np.dstack(_model(scene, rng))
        self.parts = [
            self._lines(dx, dy)
            for dx, dy in ((-0.25, -0.25), (0.25, -0.25), (-0.25, 0.25), (0.25, 0.25))
        ]

    def _lines(self, dx, dy):
        """Texture column (for a model at 0) and row that each pixel's part sees."""
        y, x = np.mgrid[: self.scene.height, : self.scene.width].astype(np.float64)
        m = self.camera.to_plane
        x, y = x + dx, y + dy
        w = m[2, 0] * x + m[2, 1] * y + m[2, 2]
        along = (m[0, 0] * x + m[0, 1] * y + m[0, 2]) / w
        up = (m[1, 0] * x + m[1, 1] * y + m[1, 2]) / w
        high, wide = self.texture.shape[:2]
        u, v = along * TEXEL + wide / 2 - 0.5, high - 0.5 - (up + 10) * TEXEL
        return u.astype(np.float32), v.astype(np.float32)

    def picture(self, place, t):
        scene, picture = self.scene, self.wall.copy()
        open_s = scene.exposure / scene.rate
        blur_px = abs(place(t + open_s) - place(t)) * scene.width / scene.field_mm
        samples = int(np.clip(np.ceil(2 * blur_px) + 1, 1, 9))
        rows, columns = _window(scene, self.camera, self.texture, place, t)
        if rows is None:
            return picture
        window = slice(*rows), slice(*columns)
        late = scene.rolling / scene.rate * np.arange(*rows) / scene.height
        layers = np.zeros((rows[1] - rows[0], columns[1] - columns[0], 2), np.float32)
        for k in range(samples):
            moment = t + scene.exposure / scene.rate * ((k + 0.5) / samples - 0.5)
            middle = self._middles(place, moment, late)
            for u, v in self.parts:
                layers += self._seen(u[window] - TEXEL * middle, v[window])
        layers /= samples * len(self.parts)
        part = picture[window]
        part *= 1 - layers[..., 1]
        part += layers[..., 0]
        return picture

    def _middles(self, place, moment, late):
        """Places for each row's moment; all columns of a row share it."""
        if not self.scene.rolling:
            return np.float32(place(moment))
        return np.array([place(moment + m) for m in late], np.float32)[:, None]

    def _seen(self, u, v):
        seen = cv2.remap(self.texture, u, v, cv2.INTER_LINEAR, borderValue=0)
        if self.scene.mirror:
            rail = self.texture.shape[0] - 0.5 - 10 * TEXEL
            faint = cv2.remap(self.texture, u, 2 * rail - v, cv2.INTER_LINEAR, borderValue=0)
            seen += self.scene.mirror * faint * (v > rail)[..., None] * (1 - seen[..., 1:])
        return seen


def _window(scene, camera, texture, place, t):
    span = 1.2 / scene.rate
    places = [place(t - span), place(t), place(t + span)]
    half, high = texture.shape[1] / TEXEL / 2, texture.shape[0] / TEXEL
    deep = high if scene.mirror else 12
    corners = np.array([camera.pixel(x, z) for x in (min(places) - half, max(places) + half)
                        for z in (-deep, high)])  # fmt: skip
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
