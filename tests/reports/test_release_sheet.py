"""The release sheet prints the same each time, says what it should, and bears any text."""

import io
import json

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from PIL import Image
from pypdf import PdfReader

from outshop.errors import InputError, NotationError
from outshop.estimate import Estimate, NotMeasurable
from outshop.reports import Fact, ReleaseSheet, RunInLine, SheetRow, Spectrum, release_sheet

pm = Estimate.plus_minus
ROWS = (
    SheetRow(
        "level", pm(61.3, 0.4, "dB(A)"), pm(57.2, 0.3, "dB(A)"), pm(-4.1, 0.5, "dB(A)"), "better"
    ),
    SheetRow(
        "lap_time",
        NotMeasurable("no joint was heard", "s"),
        pm(12.1, 0.02, "s"),
        NotMeasurable("nothing before", "s"),
        "not_comparable",
    ),
)
SHEET = ReleaseSheet(
    number="R-0007",
    released_on="2026-03-01",
    title="Tarnvik Uplands Railway No. 14",  # invented
    identity=(Fact("Scale", "1:87"), Fact("Arrangement", "1′C1′")),
    verdict="better",
    verdict_sentence="Quieter by 4.1 dB(A).",
    found=("Axle a: seized",),
    done=("Axle a freed",),
    parts_fitted=("Tyres, one pair",),
    rows=ROWS,
    run_in=RunInLine(10, 10, 41.5, 0.21, "Light."),
    cautions=("Old wires.",),
    remarks="Paint as found.",
    signed_by="The fitter",
    spectrum=Spectrum((20.0, 200.0, 2000.0), (40.0, 50.0, 30.0), (38.0, 41.0, 30.0)),
)


def text_of(pdf):
    words = " ".join(page.extract_text() for page in PdfReader(io.BytesIO(pdf)).pages)
    return " ".join(words.replace("\u200b", "").split())


def picture(form="JPEG"):
    pixels = np.random.default_rng(3).integers(0, 255, (40, 60, 3), dtype=np.uint8)
    out = io.BytesIO()
    Image.fromarray(pixels).save(out, form)
    return out.getvalue()


def test_printed_again_from_its_stored_shape_it_is_the_same_file():
    stored = json.loads(json.dumps(SHEET.as_json()))
    again = ReleaseSheet.from_json(stored)
    assert again == SHEET
    assert release_sheet(again, picture()) == release_sheet(SHEET, picture())


def test_it_says_who_what_and_how_much_better():
    text = text_of(release_sheet(SHEET))
    for word in (
        "Tarnvik Uplands Railway No. 14", "R-0007", "1:87", "Better.", "Quieter by 4.1 dB(A)",
        "Axle a: seized", "Axle a freed", "Tyres, one pair", "Running level", "61.3 ±0.4 dB(A)",
        "57.2 ±0.3 dB(A)", "−4.1 ±0.5 dB(A)", "no joint was heard", "not comparable", "41.5 °C",
        "0.21 A", "Old wires.", "Paint as found.", "The fitter", "2026-03-01",
    ):  # fmt: skip
        assert word in text


def test_a_usual_sheet_fills_one_page_and_carries_its_own_date():
    reader = PdfReader(io.BytesIO(release_sheet(SHEET, picture())))
    assert len(reader.pages) == 1
    assert reader.metadata.creation_date_raw.startswith("D:20260301")
    assert reader.metadata.title == SHEET.title


@pytest.mark.parametrize("form", ["JPEG", "PNG"])
def test_the_photo_is_on_the_sheet(form):
    pages = PdfReader(io.BytesIO(release_sheet(SHEET, picture(form)))).pages
    assert sum(len(p.images) for p in pages) == 1


@pytest.mark.parametrize("junk", [b"\xff\xd8\xff" + b"junk" * 9, b"not a picture"])
def test_a_damaged_photo_does_not_keep_the_sheet_from_printing(junk):
    assert "Running level" in text_of(release_sheet(SHEET, junk))


MARKUP = [
    '#panic("x")', "$ x^2 $", "[a] #[b]", "@ref", "*b* _i_", "\\ `raw`", "<label>", "// c /* d",
    "= heading", "- item", "#import \"look.typ\": *", "{1+1}", "~--- ...", "https://a.invalid/#x",
]  # fmt: skip


@pytest.mark.parametrize("words", MARKUP)
def test_the_typesetters_own_signs_are_printed_as_they_are(words):
    sheet = ReleaseSheet("R-1", "2026-01-02", words, found=(words,), remarks=words)
    assert text_of(release_sheet(sheet)).count(" ".join(words.split())) >= 3


@settings(max_examples=25, deadline=None)
@given(st.text(max_size=300))
def test_any_text_in_any_field_prints(words):
    sheet = ReleaseSheet(
        words, "2026-01-02", words, (Fact(words, words),), words, words, (words,), (words,),
        (words,), (SheetRow(words, *(r for r in [ROWS[0].before] * 3), words, words),),
        RunInLine(1, 2, note=words), (words,), words, words,
    )  # fmt: skip
    assert release_sheet(sheet).startswith(b"%PDF")


def test_emptiness_endless_words_and_other_scripts_print():
    empty = ReleaseSheet("", "2026-01-02", "")
    assert "Unnamed piece" in text_of(release_sheet(empty))
    long = ReleaseSheet("R", "2026-01-02", "W" * 300, (Fact("Name", "W" * 300),))
    assert "W" * 300 in text_of(release_sheet(long)).replace(" ", "")
    odd = "Паровоз 日本 🚂 \ud800 \x00 ﷽"
    assert "Паровоз" in text_of(release_sheet(ReleaseSheet("R", "2026-01-02", odd)))


def test_a_wrong_day_and_a_foreign_shape_are_told():
    with pytest.raises(NotationError, match=r"'1\.3\.2026' is not written like 2026-03-01"):
        release_sheet(ReleaseSheet("R", "1.3.2026", "x"))
    with pytest.raises(InputError, match="not a release sheet"):
        ReleaseSheet.from_json({"title": "x"})
    with pytest.raises(InputError, match="not a row"):
        SheetRow.from_json({"quantity": "level"})


def test_keys_of_a_newer_version_are_left_out():
    shape = {**SHEET.as_json(), "colour": "green"}
    assert ReleaseSheet.from_json(shape) == SHEET
