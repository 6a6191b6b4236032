"""The moment of the command: clicks in the clip's own sound, a lamp in the picture, a mark.

Clips and sounds are made here with known times; nothing is shared with the bench.
"""

from fractions import Fraction

import av
import numpy as np
import pytest

from outshop.bench.motion.clicks import onsets
from outshop.bench.motion.footage import Footage
from outshop.bench.motion.lamp import Region, find_lamps
from outshop.bench.motion.measure import Setup, measure_clip, setup_from_table
from outshop.bench.motion.moments import moment_from_json
from outshop.errors import InputError

from .film import Scene, render

RATE = 44_100
SMALL = {"width": 480, "height": 270, "field_mm": 420.0, "rate": 24.0}
START_S, SECONDS = 1.3, 2.8


def place(t):
    """Rest, then 400 mm/s2 up to 150 mm/s."""
    t = max(0.0, t - START_S)
    up = 150 / 400
    return -120 + (200 * t * t if t < up else 200 * up * up + 150 * (t - up))


def room(seconds, rng, rate=RATE):
    """Quiet room: brown noise and mains hum."""
    n = int(seconds * rate)
    brown = np.cumsum(rng.normal(0, 1, n))
    brown -= np.convolve(brown, np.ones(801) / 801, "same")
    return 0.01 * brown / brown.std() + 0.005 * np.sin(2 * np.pi * 50 * np.arange(n) / rate)


def click(sound, t, size=0.5, rate=RATE):
    """A struck piece of metal: two damped tones that begin at once."""
    at = round(t * rate)
    s = np.arange(min(len(sound) - at, rate // 20)) / rate
    ring = np.sin(2 * np.pi * 3100 * s) + np.sin(2 * np.pi * 5300 * s + 1)
    sound[at : at + len(s)] += size * ring * np.exp(-s / 0.004)


def motor(sound, t, rng, size=0.15, rate=RATE):
    """A motor that runs from then on: bright noise that stays."""
    at = round(t * rate)
    hiss = np.diff(rng.normal(0, 1, len(sound) - at + 1))
    sound[at:] += size * hiss * np.minimum(1, np.arange(len(hiss)) / (0.02 * rate))


def with_sound(silent, path, sound, late_s=0.0, rate=RATE):
    """Lay a sound track beside the picture; its first sample plays at ``late_s``."""
    with av.open(str(silent)) as source, av.open(str(path), "w") as target:
        picture = source.streams.video[0]
        copy = target.add_stream_from_template(picture)
        track = target.add_stream("aac", rate=rate)
        track.layout, track.bit_rate = "mono", 128_000
        for packet in source.demux(picture):
            if packet.dts is not None:
                packet.stream = copy
                target.mux(packet)
        for at in range(0, len(sound), 1024):
            block = np.zeros((1, 1024), np.float32)
            part = sound[at : at + 1024]
            block[0, : len(part)] = part
            frame = av.AudioFrame.from_ndarray(block, format="fltp", layout="mono")
            frame.sample_rate = rate
            frame.pts, frame.time_base = at + round(late_s * rate), Fraction(1, rate)
            target.mux(track.encode(frame))
        target.mux(track.encode(None))
    return path


@pytest.fixture(name="silent", scope="module")
def _silent(tmp_path_factory):
    path = tmp_path_factory.mktemp("start") / "silent.mp4"
    render(path, Scene(seed=2, **SMALL), place, SECONDS)
    return path


def measured(path, **setup):
    return measure_clip(path, Setup(length_mm=120, **setup))


def test_the_delay_after_a_click_in_the_clips_own_sound(tmp_path, silent, rng):
    sound = room(SECONDS, rng)
    click(sound, 0.9)
    found = measured(with_sound(silent, tmp_path / "c.mp4", sound))
    (moment,) = found.start_moments
    assert moment.kind == "click"
    assert moment.t_s.value == pytest.approx(0.9, abs=0.01)
    assert moment.t_s.low < 0.9 < moment.t_s.high
    assert found.start_delay.value == pytest.approx(START_S - 0.9, abs=0.04)
    assert found.start_delay.low <= START_S - 0.9 <= found.start_delay.high
    assert "only one found" in found.start_delay.warnings[0]
    assert moment_from_json(moment.as_json()) == moment


def test_a_late_sound_track_goes_by_the_containers_clock(tmp_path, silent, rng):
    sound = room(SECONDS - 0.4, rng)
    click(sound, 0.5)
    found = measured(with_sound(silent, tmp_path / "c.mp4", sound, late_s=0.4))
    assert found.start_moments[0].t_s.value == pytest.approx(0.9, abs=0.015)


def test_two_clicks_are_both_told_and_a_mark_decides(tmp_path, silent, rng):
    sound = room(SECONDS, rng)
    click(sound, 0.5)
    click(sound, 1.0)
    motor(sound, 1.25, rng)
    clip = with_sound(silent, tmp_path / "c.mp4", sound)
    found = measured(clip)
    assert [m.kind for m in found.start_moments] == ["click", "click", "sound_begins"]
    assert [m.t_s.value for m in found.start_moments] == pytest.approx([0.5, 1.0, 1.25], abs=0.015)
    assert "2 moments may have been the command" in found.start_delay.reason
    marked = measured(clip, moment_s=1.0, moment_error_s=0.1).start_delay
    assert marked.value == pytest.approx(0.3, abs=0.04)
    assert marked.half_width == pytest.approx(1.96 * np.hypot(0.1, 1 / 24), rel=0.02)


def test_each_start_of_a_clip_has_its_own_command(tmp_path, rng):
    """Forward, a rest, and back: a click before each; the delays differ."""
    starts, clicks = (0.9, 2.9), (0.6, 2.4)

    def there_and_back(t):
        way = [min(max(0.0, t - s), 1.0) for s in starts]
        return -120 + 230 * (way[0] - way[1])

    render(tmp_path / "s.mp4", Scene(seed=2, **SMALL), there_and_back, 4.4)
    sound = room(4.4, rng)
    for t in clicks:
        click(sound, t)
    clip = with_sound(tmp_path / "s.mp4", tmp_path / "c.mp4", sound)
    found = measured(clip)
    assert found.starts_s == pytest.approx(starts, abs=0.1)
    assert [m.t_s.value for m in found.start_moments] == pytest.approx(clicks, abs=0.015)
    for moment, start, when in zip(found.start_moments, starts, clicks, strict=True):
        assert moment.delay.low <= start - when <= moment.delay.high
    assert found.start_delay == found.start_moments[0].delay.with_note(*found.start_delay.warnings)
    marked = measured(clip, moment_s=2.4).start_delay
    assert marked.value == pytest.approx(0.5, abs=0.1)
    late = measured(clip, moment_s=4.0).start_delay
    assert "not seen to start after the marked moment of 4.00 s" in late.reason


def test_a_lamp_is_found_or_looked_for_where_it_is_said_to_be(tmp_path):
    def lit(picture, t):
        if t >= 0.85:
            picture[60:70, 90:100] = 250  # pixels of the clip

    path = tmp_path / "lamp.mp4"
    shine(path, lit)
    for lamp in ("find", Region(80, 50, 30, 30)):
        found = measured(path, lamp=lamp)
        (moment,) = (m for m in found.start_moments if m.kind == "lamp")
        assert moment.t_s.low <= 0.85 <= moment.t_s.high
        assert found.start_delay.value == pytest.approx(START_S - 0.85, abs=0.05)
        assert found.start_delay.low <= START_S - 0.85 <= found.start_delay.high
    assert moment.at_px == pytest.approx((95, 65), abs=6)
    assert "no lamp was seen" in measured(path, lamp=Region(300, 20, 30, 30)).start_delay.reason


def test_light_that_comes_on_in_the_whole_room_is_no_lamp(tmp_path):
    def lit(picture, t):
        if t >= 0.85:
            picture[:, :240] = np.minimum(250, picture[:, :240] * 1.3)

    shine(tmp_path / "room.mp4", lit)
    with Footage(tmp_path / "room.mp4") as footage:
        assert find_lamps(footage, 0.0, START_S) == []


def shine(path, change):
    """Render the start, then change the pictures one by one."""
    plain = path.with_suffix(".plain.mp4")
    times = render(plain, Scene(seed=2, **SMALL), place, SECONDS)
    with av.open(str(plain)) as source, av.open(str(path), "w") as target:
        stream = target.add_stream("libx264", rate=24)
        stream.width, stream.height, stream.pix_fmt = 480, 270, "yuv420p"
        stream.codec_context.time_base = Fraction(1, 90_000)
        for t, frame in zip(times, source.decode(video=0), strict=True):
            picture = frame.to_ndarray(format="gray").astype(float)
            change(picture, t)
            new = av.VideoFrame.from_ndarray(picture.astype(np.uint8), format="gray")
            new.pts, new.time_base = round(t * 90_000), Fraction(1, 90_000)
            target.mux(stream.encode(new))
        target.mux(stream.encode(None))


def test_silence_noise_and_steady_sound_hold_no_clicks(rng):
    assert onsets(np.zeros(RATE, np.float32), RATE) == []
    assert onsets(rng.normal(0, 0.1, 3 * RATE).astype(np.float32), RATE) == []
    tone = 0.3 * np.sin(2 * np.pi * 2000 * np.arange(2 * RATE) / RATE)
    assert onsets((tone + rng.normal(0, 0.01, len(tone))).astype(np.float32), RATE) == []
    assert onsets(np.zeros(100, np.float32), RATE) == []


@pytest.mark.parametrize("rate", [8_000, 22_050, 44_100, 48_000])
def test_times_of_clicks_at_any_sample_rate(rng, rate):
    sound = room(6.0, rng, rate)
    when = [0.7, 2.345, 5.5]
    for t in when:
        click(sound, t, rate=rate)
    found = onsets(sound.astype(np.float32), rate)
    assert [o.t_s for o in found] == pytest.approx(when, abs=0.004)
    assert not any(o.lasting for o in found)


@pytest.mark.parametrize(
    ("table", "says"),
    [
        ({"moment_s": float("nan")}, "plain number of seconds"),
        ({"moment_error_s": -1}, "error of -1 s of the marked moment cannot be"),
        ({"lamp": [1, 2, 3]}, "setup cannot be used"),
        ({"lamp": [5, 5, 9000, 5]}, "does not lie inside the picture of 480 by 270"),
        ({"lamp": [5, 5, float("nan"), 5]}, "four plain numbers"),
        ({"front": "up"}, "left or right in the picture, not 'up'"),
    ],
)
def test_what_cannot_be_is_told(silent, table, says):
    with pytest.raises(InputError, match=says):
        measure_clip(silent, setup_from_table({"length_mm": 120, **table}))
