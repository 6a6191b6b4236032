"""Sound files of every kind come out as the same mono samples; bad ones as a sentence."""

import os
import struct
import subprocess
import sys
import time
from pathlib import Path

import numpy as np
import pytest
import soundfile
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from outshop.errors import MediaError, MediaLimitError
from outshop.media.limits import Limits
from outshop.media.sound import open_sound, read_sound

from .clips import encode_clip, encode_sound, pcm, tone, wav_bytes

SHARED = Path(__file__).parents[3] / "shared" / "data"


def put(folder, name, data):
    path = folder / name
    path.write_bytes(data)
    return path


@pytest.mark.parametrize("bits", [8, 16, 24, 32])
def test_integer_wav_decodes_to_what_was_written(tmp_path, bits):
    wanted = tone(1.0)
    sound = read_sound(put(tmp_path, "a.wav", wav_bytes(pcm(wanted, bits), bits=bits)))
    assert sound.sample_rate_hz == 48_000
    assert sound.samples.dtype == np.float32
    np.testing.assert_allclose(sound.samples, wanted, atol=1.5 / 2 ** (bits - 1) + 1e-6)


@pytest.mark.parametrize("subtype", ["FLOAT", "DOUBLE", "PCM_24", "PCM_U8", "ULAW"])
def test_decoding_agrees_with_libsndfile(tmp_path, subtype):
    """libsndfile (through the soundfile package) is the independent reader."""
    path = tmp_path / "a.wav"
    soundfile.write(path, tone(0.5), 44_100, subtype=subtype)
    theirs, rate = soundfile.read(path, dtype="float32")
    ours = read_sound(path)
    assert ours.sample_rate_hz == rate
    np.testing.assert_allclose(ours.samples, theirs, atol=2e-7)


@pytest.mark.parametrize(
    ("name", "codec"),
    [("a.m4a", "aac"), ("a.opus", "libopus"), ("a.flac", "flac"), ("a.mkv", "flac"),
     ("a.mov", "pcm_s16le"), ("a.aif", "pcm_s16be"), ("a.caf", "pcm_s16le"), ("a.aac", "aac")],
)  # fmt: skip
def test_each_container_gives_the_tone_back(tmp_path, name, codec):
    encode_sound(tmp_path / name, codec, tone(2.0))
    _is_the_tone(read_sound(tmp_path / name))


@pytest.mark.parametrize("name", ["a.ogg", "a.mp3"])
def test_ogg_and_mp3_of_libsndfile_give_the_tone_back(tmp_path, name):
    soundfile.write(tmp_path / name, tone(2.0), 48_000)
    _is_the_tone(read_sound(tmp_path / name))


def _is_the_tone(sound):
    """A sine of peak 0.5 has rms 0.5/sqrt 2 and its spectrum's peak at 440 Hz."""
    assert sound.duration_s == pytest.approx(2.0, abs=0.06)
    middle = sound.samples[24_000:72_000]
    assert np.sqrt(np.mean(middle**2)) == pytest.approx(0.5 / np.sqrt(2), rel=0.03)
    spectrum = np.abs(np.fft.rfft(middle))
    assert np.argmax(spectrum) == 440


def test_the_sound_track_of_a_clip_is_decoded(tmp_path):
    frames = [np.full((64, 64), 90, np.uint8)] * 3
    path = encode_clip(tmp_path / "c.mp4", frames, [0, 1 / 30, 2 / 30], sound=tone(2.0))
    _is_the_tone(read_sound(path))


@pytest.mark.parametrize("channels", [2, 7, 8, 32, 100])
def test_many_channels_are_averaged(tmp_path, channels):
    rng = np.random.default_rng(channels)
    each = rng.uniform(-0.5, 0.5, (4000, channels))
    sound = read_sound(put(tmp_path, "n.wav", wav_bytes(pcm(each, 16), channels)))
    np.testing.assert_allclose(sound.samples, each.mean(axis=1), atol=1e-4)


def test_the_name_plays_no_part(tmp_path):
    sound = read_sound(put(tmp_path, "🚂 holiday.jpg.exe", wav_bytes(pcm(tone(0.1), 16))))
    assert len(sound.samples) == 4800


def test_a_relative_name_with_a_colon_is_a_file(tmp_path, monkeypatch):
    put(tmp_path, "concat:a|b.wav", wav_bytes(pcm(tone(0.1), 16)))
    monkeypatch.chdir(tmp_path)
    assert len(read_sound("concat:a|b.wav").samples) == 4800


def test_clipping_is_counted_per_moment_in_any_channel_before_the_mix(tmp_path):
    both = np.zeros((1000, 2))
    both[100:110, 0] = 1  # the mean never passes 0.5
    both[105:120, 1] = -1.0001
    data = np.clip(both * 32768, -32768, 32767).astype("<i2").tobytes()
    with open_sound(put(tmp_path, "c.wav", wav_bytes(data, 2))) as stream:
        blocks = list(stream)
    assert sum(block.clipped for block in blocks) == 20
    assert max(np.abs(block.samples).max() for block in blocks) < 0.51


def test_a_loud_but_unclipped_sound_counts_nothing(tmp_path):
    sound = read_sound(put(tmp_path, "a.wav", wav_bytes(pcm(tone(1, peak=0.98), 16))))
    assert sound.clipped_share == 0


def test_silence_is_sound(tmp_path):
    sound = read_sound(put(tmp_path, "s.wav", wav_bytes(bytes(96_000))))
    assert sound.duration_s == 1
    assert not sound.samples.any()
    assert sound.warnings == ()


def test_three_milliseconds_are_sound(tmp_path):
    assert len(read_sound(put(tmp_path, "s.wav", wav_bytes(bytes(288)))).samples) == 144


@pytest.mark.parametrize("claim", [4_000_000_000, 0xFFFFFFFF, 0])
def test_a_header_that_lies_about_the_length_is_not_believed(tmp_path, claim):
    sound = read_sound(put(tmp_path, "big.wav", wav_bytes(pcm(tone(1), 16), claim=claim)))
    assert sound.duration_s == pytest.approx(1)
    if claim == 4_000_000_000:
        assert "ends early" in " ".join(sound.warnings)


def test_ten_gigabytes_claimed_by_an_rf64_header(tmp_path):
    """RF64 as EBU Tech 3306 lays it out: sizes in the ds64 chunk."""
    head = b"RF64\xff\xff\xff\xffWAVEds64" + struct.pack("<IQQQI", 28, 10**10, 10**10, 5 * 10**9, 0)
    form = b"fmt " + struct.pack("<IHHIIHH", 16, 1, 1, 48_000, 96_000, 2, 16)
    data = head + form + b"data\xff\xff\xff\xff" + pcm(tone(1), 16)
    sound = read_sound(put(tmp_path, "big.wav", data))
    assert sound.duration_s == pytest.approx(1)
    assert "104166.7 s" in " ".join(sound.warnings)


def test_a_truncated_wav_gives_what_is_there_and_says_so(tmp_path):
    whole = wav_bytes(pcm(tone(2), 16))
    sound = read_sound(put(tmp_path, "cut.wav", whole[: len(whole) // 2]))
    assert sound.duration_s == pytest.approx(1, abs=0.01)
    assert "ends early: 1.0 s of the 2.0 s" in " ".join(sound.warnings)


def test_silent_and_cancelling_channels_are_told(tmp_path):
    both = np.zeros((4800, 2))
    both[:, 0] = tone(0.1)
    one = read_sound(put(tmp_path, "one.wav", wav_bytes(pcm(both, 16), 2)))
    assert "1 of 2 channels is silent" in one.warnings[0]
    assert "6.0 dB low" in one.warnings[0]
    both[:, 1] = -both[:, 0]
    against = read_sound(put(tmp_path, "against.wav", wav_bytes(pcm(both, 16), 2)))
    assert "cancel" in against.warnings[0]


def test_a_truncated_m4a_says_what_to_do(tmp_path):
    encode_sound(tmp_path / "whole.m4a", "aac", tone(2))
    cut = (tmp_path / "whole.m4a").read_bytes()[:5000]
    with pytest.raises(MediaError, match=r"cut\.m4a has no index.*stop the recording properly"):
        read_sound(put(tmp_path, "cut.m4a", cut))


def test_a_video_without_sound_says_so(tmp_path):
    path = encode_clip(tmp_path / "mute.mp4", [np.zeros((64, 64), np.uint8)] * 2, [0, 0.1])
    with pytest.raises(MediaError, match=r"mute\.mp4 is a video without sound"):
        read_sound(path)


@pytest.mark.parametrize(
    ("data", "says"),
    [
        (b"", "is empty"),
        ("This is no sound – just text.\n".encode() * 40, "is plain text"),
        (b"#EXTM3U\n#EXTINF:1,\n/etc/passwd\n", "is plain text"),
        (bytes(range(256)) * 8, "is no sound, clip or picture"),
        (b"RIFF\0\0\0\0WAVE" + bytes(range(256)) * 8, "damaged"),
        (wav_bytes(b""), "damaged|holds no sound"),
        (wav_bytes(bytes(500), channels=0), "holds no sound"),
        (wav_bytes(bytes(500), rate=0), "damaged"),
        (wav_bytes(bytes(500), rate=400_000_000), "400000000 samples a second"),
        (b"\xff\xd8\xff\xe0" + bytes(500), "is a JPEG picture, not a sound"),
        (b"%PDF-1.7\n" + bytes(500), "is a PDF document, not a sound"),
        (b"\0\0\0\x18ftypisom" + bytes(range(255)) * 60, "no index"),
    ],
    ids=["empty", "text", "playlist", "unknown", "riff-garbage", "no-data", "0-channels", "0-hz",
         "400-mhz", "photo", "pdf", "mp4-garbage"],
)  # fmt: skip
def test_what_is_no_recording_gets_a_sentence_with_its_name(tmp_path, data, says):
    with pytest.raises(MediaError, match=rf"odd\.wav .*({says})"):
        read_sound(put(tmp_path, "odd.wav", data))


def test_a_folder_and_a_missing_file_get_a_sentence(tmp_path):
    with pytest.raises(MediaError, match="no file"):
        read_sound(tmp_path)
    with pytest.raises(MediaError, match="cannot be read"):
        read_sound(tmp_path / "gone.wav")


@pytest.mark.parametrize(
    ("limits", "says"),
    [
        (Limits(duration_s=0.5), "longer than"),
        (Limits(file_bytes=1000), "at most"),
        (Limits(wall_s=0.01), "took more than 0.01 s"),
    ],
)
def test_limits_are_kept(tmp_path, limits, says):
    path = put(tmp_path, "long.wav", wav_bytes(pcm(tone(3), 16)))
    with pytest.raises(MediaLimitError, match=says):
        read_sound(path, limits)


@pytest.mark.skipif(sys.platform != "linux", reason="other systems do not hold a process to this")
def test_the_child_is_held_to_memory_and_processor_time(tmp_path):
    path = put(tmp_path, "long.wav", wav_bytes(pcm(tone(3), 16)))
    with pytest.raises(MediaLimitError, match="memory"):
        read_sound(path, Limits(memory_bytes=60_000_000))
    with pytest.raises(MediaLimitError, match="too much time"):
        read_sound(path, Limits(cpu_s=0))


def test_a_slow_caller_is_not_the_files_fault(tmp_path):
    path = put(tmp_path, "long.wav", wav_bytes(pcm(tone(8), 16)))
    with open_sound(path, Limits(stall_s=1.5, wall_s=3)) as stream:
        first = next(iter(stream))
        time.sleep(2.0)
        rest = sum(len(block.samples) for block in stream)
    assert len(first.samples) + rest == 8 * 48_000


def test_leaving_early_ends_the_child(tmp_path):
    path = put(tmp_path, "long.wav", wav_bytes(pcm(tone(20), 16)))
    with open_sound(path) as stream:
        next(iter(stream))
        process = stream._child._process
    assert process.poll() is not None


@settings(
    max_examples=12, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture]
)
@given(junk=st.binary(min_size=1, max_size=400), at=st.integers(0, 2000))
def test_any_damage_ends_in_sound_or_a_sentence(tmp_path, junk, at):
    whole = bytearray(wav_bytes(pcm(tone(0.02), 16)))
    whole[at : at + len(junk)] = junk
    path = put(tmp_path, "x.wav", bytes(whole))
    said, samples = "x.wav", np.zeros(1)
    try:
        samples = read_sound(path).samples
    except MediaError as problem:
        said = str(problem)
    assert "x.wav" in said
    assert np.isfinite(samples).all()


def test_the_child_starts_without_the_heavy_rooms():
    code = (
        "import sys, outshop.media._child, outshop.media._child_sound;"
        "print([m for m in ('django', 'scipy', 'cv2', 'PIL') if m in sys.modules])"
    )
    env = os.environ | {"PYTHONPATH": os.pathsep.join(p for p in sys.path if p)}
    said = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, env=env)
    assert said.stdout.strip() == "[]", said.stderr


@pytest.mark.shared
@pytest.mark.parametrize("name", ["diesel.wav", "mimii_fan_id00_normal_00000000.wav"])
def test_real_recordings_agree_with_libsndfile(name):
    path = SHARED / name
    if not path.exists():
        pytest.skip("no real recordings beside the project")
    theirs, rate = soundfile.read(path, dtype="float32", always_2d=True)
    ours = read_sound(path)
    assert ours.sample_rate_hz == rate
    np.testing.assert_allclose(ours.samples, theirs.mean(axis=1), atol=2e-6)
