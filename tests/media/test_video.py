"""Clips come out as upright frames with the container's own times; bad ones as a sentence."""

import av
import numpy as np
import pytest

from outshop.errors import MediaError, MediaLimitError
from outshop.media.limits import Limits
from outshop.media.video import open_video

from .clips import encode_clip, encode_sound, tone


def quarters(height=96, width=160):
    """A picture whose four quarters differ: 40, 90 above 150, 220."""
    image = np.empty((height, width, 3), np.uint8)
    image[: height // 2, : width // 2] = 40
    image[: height // 2, width // 2 :] = 90
    image[height // 2 :, : width // 2] = 150
    image[height // 2 :, width // 2 :] = 220
    return image


def read(path, **how):
    with open_video(path, **how) as stream:
        frames = list(stream)
    return stream, frames


def corners(image):
    """Brightness in the middle of each quarter, row by row."""
    h, w = image.shape[:2]
    return [int(image[y, x].mean()) for y in (h // 4, 3 * h // 4) for x in (w // 4, 3 * w // 4)]


@pytest.mark.parametrize("name", ["c.mp4", "c.mov", "c.mkv"])
def test_uneven_times_come_from_the_container(tmp_path, name):
    times = [0.0, 0.033, 0.050, 0.200, 0.201, 1.7]
    _, frames = read(encode_clip(tmp_path / name, [quarters()] * 6, times))
    assert [f.t_s for f in frames] == pytest.approx(times, abs=0.0011)  # mkv keeps milliseconds


@pytest.mark.parametrize("codec", ["libx264", "libx265", "libvpx-vp9"])
def test_pictures_come_back_as_rgb_and_grey(tmp_path, codec):
    path = encode_clip(tmp_path / "c.mkv", [quarters()] * 3, [0, 0.1, 0.2], codec)
    stream, colour = read(path)
    assert stream.head.width, stream.head.height == (160, 96)
    assert colour[0].image.shape == (96, 160, 3)
    assert corners(colour[0].image) == pytest.approx([40, 90, 150, 220], abs=4)
    _, grey = read(path, grey=True)
    assert grey[0].image.shape == (96, 160)
    assert grey[0].image.dtype == np.uint8


def test_a_requested_height_scales_down_and_keeps_the_shape(tmp_path):
    path = encode_clip(tmp_path / "c.mp4", [quarters()] * 2, [0, 0.1])
    stream, frames = read(path, max_height=48)
    assert frames[0].image.shape == (48, 80, 3)
    assert (stream.head.source_width, stream.head.source_height) == (160, 96)
    assert corners(frames[0].image) == pytest.approx([40, 90, 150, 220], abs=4)


@pytest.mark.parametrize("width", [130, 158, 162])
@pytest.mark.parametrize("grey", [True, False])
def test_widths_that_the_decoder_pads_come_out_whole(tmp_path, width, grey):
    path = encode_clip(tmp_path / "c.mp4", [quarters(width=width)] * 2, [0, 0.1])
    image = read(path, grey=grey)[1][0].image
    assert image.shape[:2] == (96, width)
    assert corners(image) == pytest.approx([40, 90, 150, 220], abs=4)


def test_a_small_clip_is_never_scaled_up(tmp_path):
    path = encode_clip(tmp_path / "c.mp4", [quarters()] * 2, [0, 0.1])
    assert read(path, max_height=1080)[1][0].image.shape == (96, 160, 3)


@pytest.mark.parametrize(
    ("turn", "seen"),
    [(0, [40, 90, 150, 220]), (90, [90, 220, 40, 150]), (180, [220, 150, 90, 40]),
     (270, [150, 40, 220, 90])],
)  # fmt: skip
def test_the_phones_rotation_is_applied(tmp_path, turn, seen):
    """A display matrix that turns by ``turn`` degrees counter-clockwise (ISO/IEC 14496-12)."""
    path = tmp_path / "c.mp4"
    encode_clip(path, [quarters()] * 2, [0, 0.1])
    _turn_track(path, turn)
    stream, frames = read(path)
    assert frames[0].image.shape == ((160, 96, 3) if turn % 180 else (96, 160, 3))
    assert corners(frames[0].image) == pytest.approx(seen, abs=4)
    assert stream.head.rotation_deg == turn


def _turn_track(path, degrees):
    """Write the matrix into the track header (version 0: 40 bytes after the box's type)."""
    c, s = {0: (1, 0), 90: (0, 1), 180: (-1, 0), 270: (0, -1)}[degrees]
    data = bytearray(path.read_bytes())
    at = data.index(b"tkhd") + 4 + 40
    fixed = [c, -s, s, c]  # rows (a, b), (c, d); the y axis points down
    for place, value in zip((0, 4, 12, 16), fixed, strict=True):
        data[at + place : at + place + 4] = (value * 65536).to_bytes(4, "big", signed=True)
    path.write_bytes(data)


def test_ten_bit_hevc_becomes_eight_bits(tmp_path):
    path = encode_clip(
        tmp_path / "c.mov", [quarters()] * 3, [0, 0.1, 0.2], "libx265", pixel="yuv420p10le"
    )
    assert corners(read(path)[1][0].image) == pytest.approx([40, 90, 150, 220], abs=4)


def test_of_interlaced_frames_one_field_is_used(tmp_path):
    """Top field all dark, bottom field all bright: a mix of both would be grey."""
    image = np.zeros((96, 160, 3), np.uint8)
    image[1::2] = 235
    path = tmp_path / "c.mkv"
    with av.open(str(path), "w") as container:
        stream = container.add_stream("libx264", rate=25)
        stream.width, stream.height, stream.pix_fmt = 160, 96, "yuv420p"
        stream.options = {"x264-params": "tff=1", "crf": "5"}
        for _ in range(2):
            frame = av.VideoFrame.from_ndarray(image, format="rgb24")
            container.mux(stream.encode(frame))
        container.mux(stream.encode(None))
    stream, frames = read(path)
    assert stream.head.interlaced
    assert frames[0].image.std() < 2
    assert frames[0].image.mean() < 10
    assert frames[0].image.shape == (96, 160, 3)


def test_a_sound_file_is_no_clip(tmp_path):
    encode_sound(tmp_path / "a.m4a", "aac", tone(0.5))
    with pytest.raises(MediaError, match=r"a\.m4a holds sound only"):
        open_video(tmp_path / "a.m4a")


def test_a_truncated_clip_says_what_to_do(tmp_path):
    path = encode_clip(tmp_path / "c.mp4", [quarters()] * 9, np.arange(9) / 30)
    whole = path.read_bytes()
    path.write_bytes(whole[: whole.index(b"moov") - 4])  # the index comes last
    with pytest.raises(MediaError, match=r"c\.mp4 has no index"):
        open_video(path)


def test_a_clip_cut_off_in_the_middle_gives_what_is_there(tmp_path):
    rng = np.random.default_rng(5)
    images = [rng.integers(0, 255, (96, 160), dtype=np.uint8) for _ in range(90)]
    path = encode_clip(
        tmp_path / "c.mp4", images, np.arange(90) / 30, container={"movflags": "faststart"}, g="5"
    )
    data = path.read_bytes()
    path.write_bytes(data[: len(data) // 2])
    stream, frames = read(path)
    assert 20 < len(frames) < 60
    assert any("ends early" in w or "damaged" in w for w in stream.warnings)


def test_limits_of_length_and_size_are_kept(tmp_path):
    path = encode_clip(tmp_path / "c.mp4", [quarters()] * 3, [0, 5, 10])
    with open_video(path, Limits(duration_s=6)) as stream, pytest.raises(
        MediaLimitError, match="longer than"
    ):  # fmt: skip
        list(stream)
    with pytest.raises(MediaLimitError, match="160 by 96 pixels"):
        open_video(path, Limits(pixels=1000))


def test_raw_frames_without_times_are_refused(tmp_path):
    path = encode_clip(tmp_path / "c.mp4", [quarters()] * 3, [0, 0.1, 0.2])
    with av.open(str(path)) as container:
        raw = b"".join(bytes(p) for p in container.demux(video=0))
    (tmp_path / "c.264").write_bytes(raw)
    with pytest.raises(MediaError, match="no sound, clip or picture of a kind known"):
        open_video(tmp_path / "c.264")
