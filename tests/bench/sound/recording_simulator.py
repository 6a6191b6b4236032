"""An independent simulated recording of a model on the bench; shares no code with Outshop.

Everything is additive synthesis over an exact motor angle: the truth is known to the digit.
"""

from dataclasses import dataclass, field, replace

import numpy as np
from scipy import signal


@dataclass(frozen=True)
class Model:
    """A drive in plain numbers: teeth as (driver, driven) from the motor outwards."""

    poles: int
    teeth: tuple[tuple[int, int], ...]
    wheel_mm: float
    scale: float

    @property
    def ratio(self):
        out = 1.0
        for a, b in self.teeth:
            out *= b / a
        return out

    def motor_rate(self, kmh):
        metres_per_s = kmh / 3.6 / self.scale
        return metres_per_s / (np.pi * self.wheel_mm / 1000) * self.ratio

    def toml(self):
        lines = [
            f"scale = {self.scale}",
            f"wheel_diameter_mm = {self.wheel_mm}",
            f"armature_poles = {self.poles}",
        ]
        for a, b in self.teeth:
            lines += ["[[stages]]", f"driver_teeth = {a}", f"driven_teeth = {b}"]
        return "\n".join(lines)


@dataclass(frozen=True)
class Scene:
    """How the recording is made."""

    model: Model
    kmh: float = 50.0
    rate: int = 44100
    quiet_s: float = 3.0
    run_s: float = 15.0
    ramp_s: float = 0.4
    snr_db: float = 20.0
    drift: float = 0.0  # peak to peak share of the speed
    swing: float = 0.0  # peak to peak share within a wheel turn
    wheel_am: float = 0.3  # modulation depth once per wheel turn
    hum_hz: float = 0.0
    hum_db: float = -20.0
    resonances: int = 3
    echo_s: float = 0.0
    highpass_hz: float = 0.0
    lap_s: float = 0.0
    lap_db: float = 8.0
    gain: float = 0.05
    mesh: float = 1.0  # loudness of the gears against the motor
    roughness: float = 0.3  # broadband share of the machine
    drop: float = 0.0  # chance that a tone of the drive is missing
    strays: int = 0  # tones at orders that the drive does not explain
    tail_s: float = 2.0
    noise_colour: float = 0.5  # 0 white, 1 pink
    seed: int = 0
    take: int = 0  # takes 1, 2, ... of one seed: the same machine and room, recorded anew


@dataclass(frozen=True)
class Take:
    """Samples and truth."""

    scene: Scene
    samples: np.ndarray
    start_s: float
    stop_s: float
    motor_rate: float  # mean over the steady part
    machine: np.ndarray = field(repr=False)
    noise: np.ndarray = field(repr=False)
    speed: np.ndarray = field(repr=False)
    rings: tuple[tuple[float, float, float], ...] = ()  # Hz, quality, boost of each resonance


def random_model(rng):
    while True:
        poles = int(rng.choice([3, 5, 7]))
        scale = float(rng.choice([32, 45, 64, 87, 120, 160, 220]))
        wheel = float(np.clip(rng.uniform(800, 1900) / scale, 5, 30))
        count = int(rng.integers(1, 5))
        teeth = []
        worm = rng.random() < 0.5
        if worm:
            teeth.append((int(rng.choice([1, 1, 1, 2, 3])), int(rng.integers(14, 41))))
            count = min(count, 3)
        while len(teeth) < count:
            a = int(rng.integers(8, 22))
            low = 0.9 if worm else 1.5
            b = int(np.clip(round(a * rng.uniform(low, 2.2 if worm else 5.0)), 8, 72))
            teeth.append((a, b))
        model = Model(poles, tuple(teeth), round(wheel, 1), scale)
        kmh = rng.uniform(20, 90)
        if 20 <= model.motor_rate(kmh) <= 700:
            return model, float(kmh)


def random_scene(seed, **fixed):
    rng = np.random.default_rng(seed)
    model, kmh = random_model(rng)

    def ratio(p):
        return rng.random() < p

    scene = Scene(
        model,
        kmh,
        rate=int(rng.choice([44100, 48000])),
        quiet_s=float(rng.uniform(2, 5)),
        run_s=float(rng.uniform(10, 25)),
        ramp_s=float(rng.uniform(0.1, 0.8)),
        snr_db=float(rng.uniform(10, 30)),
        drift=float(rng.uniform(0, 0.2)),
        swing=float(rng.uniform(0.03, 0.15)) if ratio(0.5) else 0.0,
        wheel_am=float(rng.uniform(0, 0.5)),
        hum_hz=float(rng.choice([0, 50, 60, 100, 120])),
        hum_db=float(rng.uniform(-30, -5)),
        resonances=int(rng.integers(0, 6)),
        echo_s=float(rng.choice([0, rng.uniform(0.1, 0.5)])),
        highpass_hz=float(rng.choice([0, rng.uniform(80, 220)])),
        lap_s=float(rng.uniform(3, 9)) if ratio(0.3) else 0.0,
        lap_db=float(rng.uniform(3, 10)),
        gain=float(10 ** rng.uniform(-2, -0.7)),
        mesh=float(10 ** rng.uniform(-0.6, 0.6)),
        roughness=float(10 ** rng.uniform(-1, 0.1)),
        drop=float(rng.choice([0, 0.15, 0.3])),
        strays=int(rng.integers(0, 4)),
        noise_colour=float(rng.uniform(0, 1)),
        seed=seed,
    )
    return replace(scene, **fixed)


def coloured(rng, n, colour):
    spectrum = np.fft.rfft(rng.standard_normal(n))
    f = np.maximum(np.arange(spectrum.size), 20 * n / 44100)
    out = np.fft.irfft(spectrum * f ** (-colour / 2), n)
    return out / out.std()


def chance_of(scene, rng, stage):
    """What differs from take to take; the machine itself is drawn from ``rng``."""
    return np.random.default_rng([scene.seed, scene.take, stage]) if scene.take else rng


def motor_angle(scene, rng, n):
    """Turns of the motor, its speed in turns/s, at each sample of the running time."""
    t = np.arange(n) / scene.rate
    base = scene.model.motor_rate(scene.kmh)
    slow = np.interp(t, np.linspace(0, t[-1], 7), chance_of(scene, rng, 1).uniform(-1, 1, 7))
    slow = signal.sosfiltfilt(signal.butter(2, 0.3, fs=scene.rate, output="sos"), slow)
    slow = (slow - slow.min()) / max(np.ptp(slow), 1e-9) - 0.5
    pace = base * (1 + scene.drift * slow)
    if scene.ramp_s:
        pace = pace * np.clip(t / scene.ramp_s, 0.02, 1)
        pace = pace * np.clip((t[-1] - t) / scene.ramp_s, 0.02, 1)
    drive = np.cumsum(pace) / scene.rate
    if not scene.swing:
        return drive, pace
    theta = np.linspace(0, drive[-1] * 1.2 + 1, 20 * int(drive[-1] + 10))
    sharp = rng.uniform(1, 4)
    bind = ((1 + np.cos(2 * np.pi * theta / scene.model.ratio)) / 2) ** sharp
    shape = 1 + scene.swing * (0.5 - bind)
    clock = np.concatenate([[0], np.cumsum(np.diff(theta) / ((shape[1:] + shape[:-1]) / 2))])
    angle = np.interp(drive, clock, theta)
    return angle, np.gradient(angle) * scene.rate


def machine_sound(scene, rng, angle, speed):
    model, n = scene.model, angle.size
    out = np.zeros(n)
    chance = chance_of(scene, rng, 2)

    def tone(order, amplitude, modulation=1.0):
        good = order * speed < 0.45 * scene.rate
        phase = chance.uniform(0, 2 * np.pi)
        if rng.random() < scene.drop:
            return
        nonlocal out
        out += amplitude * np.sin(2 * np.pi * order * angle + phase) * modulation * good

    def strength(low=-10, high=0):
        return 10 ** (rng.uniform(low, high) / 20)

    events = model.poles * (2 if model.poles % 2 else 1)
    for k in range(1, 5):
        tone(events * k, strength() / k)
    tone(model.poles, 0.3 * strength())
    tone(1, 0.5 * strength())
    tone(2, 0.3 * strength())
    shaft, wheel = 1.0, 1 / model.ratio
    for a, b in model.teeth:
        mesh = shaft * a
        shaft = shaft * a / b
        # the wheel's own change of loudness is wheel_am alone
        depth = 0.3 * rng.random() if shaft > 1.5 / model.ratio else 0.0
        rocking = 1 + depth * np.cos(2 * np.pi * shaft * angle)
        for k in range(1, 4):
            tone(mesh * k, scene.mesh * strength() / k, rocking)
    for _ in range(scene.strays):
        tone(rng.uniform(1, 60), 0.3 * strength())
    out /= out.std() + 1e-12
    rough = coloured(chance, n, 0.7)
    out = out + scene.roughness * rough
    out *= 1 + scene.wheel_am * np.cos(2 * np.pi * wheel * angle + chance.uniform(0, 6.28))
    slow = np.convolve(speed, np.ones(scene.rate // 2) / (scene.rate // 2), "same")
    edge = np.clip(speed / np.median(speed), 0, 1) if scene.ramp_s else 1.0
    fade = np.where(slow < 0.8 * np.median(speed), edge, 1.0)
    return out * fade


def shell(scene, rng, x):
    rings = []
    for _ in range(scene.resonances):
        f, q, boost = rng.uniform(200, 5000), rng.uniform(3, 40), rng.uniform(1, 6)
        b, a = signal.iirpeak(f, q, fs=scene.rate)
        x = x + boost * signal.lfilter(b, a, x)
        rings.append((f, q, boost))
    return x, tuple(rings)


def room(scene, rng, x):
    if not scene.echo_s:
        return x
    n = int(scene.echo_s * scene.rate)
    tail = rng.standard_normal(n) * 10 ** (-3 * np.arange(n) / n)
    tail *= rng.uniform(0.3, 1.0) / np.sqrt((tail**2).sum())
    return x + signal.fftconvolve(x, tail)[: x.size]


def record(scene):
    rng = np.random.default_rng(scene.seed + 77)
    n = int(scene.run_s * scene.rate)
    angle, speed = motor_angle(scene, rng, n)
    rung, rings = shell(scene, rng, machine_sound(scene, rng, angle, speed))
    run = room(scene, rng, rung)
    run /= run.std()
    chance = chance_of(scene, rng, 3)
    if scene.lap_s:
        t = np.arange(n) / scene.rate
        near = ((1 + np.cos(2 * np.pi * (t / scene.lap_s + chance.random()))) / 2) ** 2
        run *= 10 ** (scene.lap_db * (near - 0.5) / 20)
    before, after = int(scene.quiet_s * scene.rate), int(scene.tail_s * scene.rate)
    machine = np.concatenate([np.zeros(before), run, np.zeros(after)])
    total = machine.size
    noise = coloured(chance, total, scene.noise_colour) * 10 ** (-scene.snr_db / 20)
    if scene.hum_hz:
        t = np.arange(total) / scene.rate
        for k in range(1, 6):
            level = np.sqrt(2) * 10 ** (scene.hum_db / 20) / k
            noise += level * np.sin(2 * np.pi * k * scene.hum_hz * t + chance.uniform(0, 6.28))
    if scene.highpass_hz:
        sos = signal.butter(2, scene.highpass_hz, "high", fs=scene.rate, output="sos")
        machine, noise = signal.sosfilt(sos, machine), signal.sosfilt(sos, noise)
    machine, noise = machine * scene.gain, noise * scene.gain
    edge = int((scene.ramp_s + 0.05) * scene.rate)
    steady = slice(edge, n - edge)
    return Take(
        scene,
        (machine + noise).astype(np.float32),
        before / scene.rate,
        (before + n) / scene.rate,
        float((angle[steady][-1] - angle[steady][0]) / ((len(angle[steady]) - 1) / scene.rate)),
        machine,
        noise,
        speed,
        rings,
    )


def speech(rng, seconds=15.0, rate=44100):
    """Vowel-like voice: glottal pulses with moving pitch through moving formants, pauses."""
    n = int(seconds * rate)
    t = np.arange(n) / rate
    knots = max(4, int(seconds * 2))
    pitch = rng.uniform(90, 220) * np.exp(
        np.interp(t, np.linspace(0, seconds, knots), rng.normal(0, 0.15, knots))
    )
    phase = np.cumsum(pitch) / rate
    pulses = np.diff(np.floor(phase), prepend=0.0) + 0.02 * rng.standard_normal(n)
    out = np.zeros(n)
    step = int(0.18 * rate)
    for i in range(0, n - step, step):
        if rng.random() < 0.2:
            continue
        seg = pulses[i : i + step]
        for f in (rng.uniform(300, 800), rng.uniform(900, 2300), rng.uniform(2300, 3300)):
            b, a = signal.iirpeak(f, f / rng.uniform(60, 140), fs=rate)
            out[i : i + step] += signal.lfilter(b, a, seg) * np.hanning(step)
    out += 0.01 * out.std() * coloured(rng, n, 0.8)
    return (0.1 * out / np.abs(out).max()).astype(np.float32)


def music(rng, seconds=15.0, rate=44100):
    """Chords and a tune of decaying harmonic notes on the tempered scale."""
    n = int(seconds * rate)
    out = np.zeros(n)
    beat = rng.uniform(0.25, 0.6)
    scale = np.array([0, 2, 4, 5, 7, 9, 11])
    key = 220 * 2 ** (rng.integers(-5, 6) / 12)
    for i in range(int(seconds / beat)):
        start = int(i * beat * rate)
        notes = [rng.choice(scale) + 12]
        if i % 4 == 0:
            root = int(rng.integers(0, 7))
            notes += [scale[(root + j) % 7] for j in (0, 2, 4)]
        for note in notes:
            length = int(min(beat * rng.choice([1, 2, 4]) * rate, n - start))
            t = np.arange(length) / rate
            f = key * 2 ** (note / 12)
            for k in range(1, 7):
                out[start : start + length] += (
                    np.exp(-3 * t) * np.sin(2 * np.pi * k * f * t) / k**1.3
                )
    out += 0.003 * coloured(rng, n, 1)
    return (0.1 * out / np.abs(out).max()).astype(np.float32)


def hum_only(rng, seconds=15.0, rate=44100):
    """Mains hum with harmonics in room noise."""
    n = int(seconds * rate)
    t = np.arange(n) / rate
    base = rng.choice([50.0, 60.0, 100.0, 120.0])
    out = 10 ** (rng.uniform(-30, 0) / 20) * coloured(rng, n, rng.uniform(0, 1))
    for k in range(1, 9):
        out += np.sin(2 * np.pi * k * base * t + rng.uniform(0, 6)) / k ** rng.uniform(0.5, 1.5)
    return (0.05 * out / out.std()).astype(np.float32)
