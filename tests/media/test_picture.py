"""Pictures come out upright and small copies carry no metadata; bombs do not go off."""

import io
from datetime import UTC, datetime

import numpy as np
import pillow_heif
import pytest
from PIL import Image

from outshop.errors import MediaError, MediaLimitError
from outshop.media.limits import Limits
from outshop.media.picture import read_picture, thumbnail, thumbnails, without_position
from outshop.media.sniff import sniff

ORIENTATION, EXIF, GPS = 0x0112, 0x8769, 0x8825  # Exif 2.32


def two_halves():
    image = np.zeros((120, 200, 3), np.uint8)
    image[:, :100] = (200, 30, 30)
    image[:, 100:] = (30, 30, 200)
    return Image.fromarray(image)


def phone_picture(path, orientation=1):
    picture = two_halves()
    exif = picture.getexif()
    exif[ORIENTATION] = orientation
    exif.get_ifd(EXIF)[0x9003] = "2024:05:06 07:08:09"
    exif.get_ifd(GPS)[1] = "N"
    exif.get_ifd(GPS)[2] = (47.0, 22.0, 0.0)
    picture.save(path, exif=exif, comment=b"secret", quality=95)
    return path


@pytest.mark.parametrize(
    ("orientation", "shape", "red_at"),
    [(1, (120, 200), (60, 50)), (3, (120, 200), (60, 150)), (6, (200, 120), (50, 60)),
     (8, (200, 120), (150, 60))],
)  # fmt: skip
def test_orientation_is_applied(tmp_path, orientation, shape, red_at):
    """Exif 2.32, 4.6.4 A: 3 is a half turn, 6 and 8 are quarter turns."""
    picture = read_picture(phone_picture(tmp_path / "p.jpg", orientation))
    assert picture.image.shape == (*shape, 3)
    assert picture.image[red_at][0] > 150


def test_the_cameras_clock_is_read(tmp_path):
    taken = read_picture(phone_picture(tmp_path / "p.jpg")).taken
    assert taken == datetime(2024, 5, 6, 7, 8, 9, tzinfo=UTC)


@pytest.mark.parametrize("make", [without_position, thumbnail])
def test_no_copy_carries_position_camera_or_comment(tmp_path, make):
    source = phone_picture(tmp_path / "p.jpg", 6)
    with Image.open(source) as original:
        assert dict(original.getexif().get_ifd(GPS))
    copy = make(source)
    opened = Image.open(io.BytesIO(copy.data))
    assert not dict(opened.getexif())
    assert b"secret" not in copy.data
    assert opened.size == (copy.width, copy.height)
    assert opened.height > opened.width


def test_thumbnails_fit_their_square_and_keep_the_shape(tmp_path):
    small, tiny = thumbnails(phone_picture(tmp_path / "p.jpg"), [100, 10], "WEBP")
    assert (small.width, small.height) == (100, 60)
    assert (tiny.width, tiny.height) == (10, 6)
    assert small.media_type == "image/webp"
    assert Image.open(io.BytesIO(small.data)).format == "WEBP"


@pytest.mark.parametrize("form", ["PNG", "WEBP", "TIFF", "GIF", "HEIF"])
def test_other_kinds_open(tmp_path, form):
    path = tmp_path / "any.name"
    if form == "HEIF":
        pillow_heif.from_pillow(two_halves()).save(path)
    else:
        two_halves().save(path, form)
    picture = read_picture(path)
    assert picture.form == form
    assert sniff(path).kind == "picture"
    assert picture.image[60, 50, 0] > 180


def test_a_picture_bomb_does_not_go_off(tmp_path):
    Image.new("1", (20_000, 20_000)).save(tmp_path / "bomb.png")
    assert (tmp_path / "bomb.png").stat().st_size < 100_000
    with pytest.raises(MediaLimitError, match=r"bomb\.png has more than 130 million pixels"):
        thumbnail(tmp_path / "bomb.png")


def test_the_pixel_limit_is_exact(tmp_path):
    two_halves().save(tmp_path / "p.png")
    assert read_picture(tmp_path / "p.png", Limits(pixels=24_000)).image.size == 72_000
    with pytest.raises(MediaLimitError):
        read_picture(tmp_path / "p.png", Limits(pixels=23_999))


def test_a_cut_off_picture_is_a_sentence(tmp_path):
    data = phone_picture(tmp_path / "p.jpg").read_bytes()
    (tmp_path / "cut.jpg").write_bytes(data[: len(data) // 2])
    with pytest.raises(MediaError, match=r"cut\.jpg is damaged"):
        read_picture(tmp_path / "cut.jpg")
