"""Every bad file gets a clear sentence on the page, and nothing is lost."""

import io
import subprocess

import numpy as np
import pytest
from PIL import Image
from playwright.sync_api import expect

from . import sounds
from .steps import enter_piece, send_recording, wait_measured


@pytest.fixture(scope="module", name="piece")
def _piece(house, chromium):
    """One piece for all of them."""
    context = chromium.new_context(base_url=house.address)
    address = enter_piece(context.new_page(), "Target of bad files", "B")
    context.close()
    return address


@pytest.mark.parametrize(
    ("name", "data", "words"),
    [
        ("empty.wav", b"", "file is empty"),
        ("letter.wav", b"Dear Sir, this is no sound at all. " * 40, "is plain text"),
        ("page.html", b"<!doctype html><script>alert(1)</script>", "choose the recording itself"),
    ],
    ids=["empty", "text renamed wav", "a web page"],
)
def test_a_file_that_is_no_recording_is_refused_where_it_was_chosen(
    opened, piece, name, data, words
):
    page = opened("phone")
    page.goto(f"{piece}record/?role=before")
    page.get_by_label("Level of a full-scale tone").fill("94,5")
    page.locator("#id_file").set_input_files(
        {"name": name, "mimeType": "audio/wav", "buffer": data}
    )
    page.get_by_role("button", name="Keep and measure").click()
    expect(page.locator("#recording-form .notice.wrong:visible")).to_contain_text(words)
    # what was typed is still there, and the page can be used again at once
    expect(page.get_by_label("Level of a full-scale tone")).to_have_value("94,5")
    expect(page.get_by_role("radio", name="before")).to_be_checked()


def test_a_picture_sent_as_recording_is_refused(opened, piece):
    file = io.BytesIO()
    Image.new("RGB", (40, 30), "navy").save(file, "PNG")
    page = opened()
    send_recording(page, piece, "other", file.getvalue(), "engine.wav")
    expect(page.locator("#recording-form .notice.wrong:visible")).to_contain_text(
        "engine.wav is image/png"
    )


def test_no_file_at_all_is_said_by_the_form(opened, piece):
    page = opened()
    page.goto(f"{piece}record/")
    page.evaluate("document.querySelector('#id_file').required = false")
    page.get_by_role("button", name="Keep and measure").click()
    expect(page.locator("#recording-form .notice.wrong:visible")).to_contain_text(
        "No file was sent"
    )


def m4a(folder) -> bytes:
    """Make a real m4a by PyAV, an independent writer."""
    import av

    path = folder / "whole.m4a"
    with av.open(str(path), "w") as out:
        stream = out.add_stream("aac", rate=sounds.RATE)
        stream.layout = "mono"
        samples = sounds.bench_run(0.1, 4).astype(np.float32)
        for begin in range(0, len(samples) - 1024, 1024):
            frame = av.AudioFrame.from_ndarray(
                samples[None, begin : begin + 1024], format="fltp", layout="mono"
            )
            frame.sample_rate = sounds.RATE
            out.mux(stream.encode(frame))
        out.mux(stream.encode(None))
    return path.read_bytes()


def silent_clip(folder) -> bytes:
    """Make a clip without a sound track."""
    import av

    path = folder / "silent.mp4"
    with av.open(str(path), "w") as out:
        stream = out.add_stream("mpeg4", rate=10)
        stream.width, stream.height = 64, 48
        for _ in range(10):
            frame = av.VideoFrame.from_ndarray(np.zeros((48, 64, 3), np.uint8), format="rgb24")
            out.mux(stream.encode(frame))
        out.mux(stream.encode(None))
    return path.read_bytes()


@pytest.mark.parametrize("kind", ["truncated m4a", "clip without sound", "ten gigabytes", "3 ms"])
def test_a_broken_recording_is_kept_and_the_page_says_why_it_cannot_be_measured(
    opened, piece, tmp_path, kind
):
    make = {
        "truncated m4a": lambda: m4a(tmp_path)[:2500],
        "clip without sound": lambda: silent_clip(tmp_path),
        "ten gigabytes": sounds.claims_ten_gigabytes,
        "3 ms": lambda: sounds.wav(np.full(132, 0.2)),
    }
    page = opened("phone")
    send_recording(page, piece, "other", make[kind](), f"{kind.replace(' ', '-')}.bin")
    page.wait_for_url("**/recording/*/")
    wait_measured(page)
    result = page.locator("#result")
    expect(result).not_to_contain_text("Traceback")
    said = result.inner_text()
    # either a sentence why not, or a result that says what could not be measured
    assert "The file itself is kept." in said or "could not be measured here, and why" in said
    assert page.request.get(page.locator("audio, video").first.get_attribute("src")).ok


@pytest.mark.parametrize(
    ("name", "data", "words"),
    [
        ("silence.wav", sounds.wav(np.zeros(sounds.RATE * 3)), None),
        ("clipped.wav", sounds.wav(np.sign(sounds.bench_run(50, 6))), "clip|full scale|too loud"),
        ("24-bit.wav", sounds.wav(sounds.bench_run(0.1, 8), width=3), None),
        ("8-bit.wav", sounds.wav(sounds.bench_run(0.3, 8), width=1), None),
        ("96-kHz.wav", sounds.wav(sounds.bench_run(0.1, 8), rate=96_000), None),
        ("7-channel.wav", sounds.wav(sounds.bench_run(0.1, 6), channels=7), None),
    ],
    ids=lambda value: value if isinstance(value, str) and value.endswith("wav") else "",
)
def test_an_odd_recording_is_measured_or_says_in_words_what_is_wrong(
    opened, piece, name, data, words
):
    import re

    page = opened()
    send_recording(page, piece, "other", data, name)
    page.wait_for_url("**/recording/*/")
    wait_measured(page)
    result = page.locator("#result")
    if words:
        expect(result).to_contain_text(re.compile(words, re.IGNORECASE))
    else:
        expect(result).to_contain_text(
            re.compile("Level|could not be measured|kept", re.IGNORECASE)
        )


def test_names_with_slashes_emoji_and_300_letters_are_only_words(opened, piece, house):
    page = opened()
    data = sounds.wav(sounds.bench_run(0.1, 5))
    for name in ("../../etc/passwd.wav", "🚂 Lok „Emma“.wav", "x" * 300 + ".wav"):
        send_recording(page, piece, "other", data, name)
        page.wait_for_url("**/recording/*/")
    stray = [p for p in house.home.rglob("*") if "passwd" in p.name or "Emma" in p.name]
    assert stray == []


def test_a_picture_bomb_is_refused_in_a_sentence(opened, piece):
    # 50 000 by 50 000 pixels of one colour: small as a file, 7.5 GB as pixels
    import struct
    import zlib

    def chunk(kind: bytes, body: bytes) -> bytes:
        sum_ = zlib.crc32(kind + body)
        return struct.pack(">I", len(body)) + kind + body + struct.pack(">I", sum_)

    size = 50_000
    rows = zlib.compress(b"\0" * 5_000_000, 9)
    head = struct.pack(">IIBBBBB", size, size, 8, 2, 0, 0, 0)
    bomb = b"\x89PNG\r\n\x1a\n" + chunk(b"IHDR", head) + chunk(b"IDAT", rows) + chunk(b"IEND", b"")
    page = opened()
    page.goto(piece)
    page.get_by_text("Add a photo").click()
    page.locator("#identity input[type=file]").set_input_files(
        {"name": "bomb.png", "mimeType": "image/png", "buffer": bomb}
    )
    page.get_by_role("button", name="Keep the photo").click()
    expect(page.locator("[data-sentence]")).to_be_visible()
    expect(page.locator("[data-sentence]")).not_to_contain_text("inside Outshop")
    page.goto(piece)
    expect(page.locator("#identity .photos img")).to_have_count(0)


def test_a_real_photo_becomes_the_cover(opened):
    page = opened("phone")
    piece = enter_piece(page, "Photographed tank engine", "C")
    file = io.BytesIO()
    Image.new("RGB", (800, 600), "darkgreen").save(file, "JPEG")
    page.get_by_text("Add a photo").click()
    page.locator("#identity input[type=file]").set_input_files(
        {"name": "side.jpg", "mimeType": "image/jpeg", "buffer": file.getvalue()}
    )
    page.get_by_role("button", name="Keep the photo").click()
    cover = page.locator(".title-block img")
    expect(cover).to_be_visible()
    assert cover.evaluate("image => image.decode().then(() => image.naturalWidth)") > 0
    assert page.url.startswith(piece)


def test_the_machine_s_own_recorder_fills_the_form(opened, piece):
    page = opened("phone")
    page.goto(f"{piece}record/?role=other")
    page.get_by_role("button", name="Record with this device").click()
    expect(page.locator("[data-said]")).to_contain_text("Recording.")
    page.wait_for_timeout(1500)
    page.get_by_role("button", name="Stop", exact=True).click()
    expect(page.locator("[data-said]")).to_contain_text("Taken.")
    assert page.locator("#id_file").evaluate("input => input.files[0].size") > 1000
    page.get_by_role("button", name="Keep and measure").click()
    page.wait_for_url("**/recording/*/")
    wait_measured(page)
    expect(page.locator("#result")).not_to_contain_text("holds no sound")


def test_the_programme_walks_through_its_steps(opened, piece):
    page = opened("phone")
    page.goto(f"{piece}record/")
    page.get_by_label("Record with this device at the same time").uncheck()
    page.get_by_role("button", name="Start the clock").click()
    expect(page.locator("[data-programme] .now")).to_contain_text("Done.")
    expect(page.locator(".programme li.over")).to_have_count(7)


def test_too_large_a_file_is_refused_before_it_is_sent(opened, piece):
    page = opened()
    page.goto(f"{piece}record/")
    page.locator("#id_file").evaluate("input => { input.dataset.largest = 1000 }")
    page.locator("#id_file").set_input_files(
        {"name": "long.wav", "mimeType": "audio/wav", "buffer": b"RIFF" + b"\0" * 5000}
    )
    expect(page.locator("[data-too-large]")).to_be_visible()
    assert page.locator("#id_file").evaluate("input => input.files.length") == 0


def test_the_collection_is_sound_after_all_this(house):
    """``outshop check`` finds nothing amiss after every bad file above and below."""
    import os
    import sys

    done = subprocess.run(
        [sys.executable, "-m", "outshop", "check"],
        env=os.environ | {"OUTSHOP_HOME": str(house.home)},
        capture_output=True,
        text=True,
        timeout=120,
        check=False,
    )
    assert done.returncode == 0, done.stdout + done.stderr
