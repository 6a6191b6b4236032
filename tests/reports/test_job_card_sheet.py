"""The printed job card carries every step, its cautions where they belong, and the deference."""

import io

from pypdf import PdfReader

from outshop.reports import Fact, job_card_sheet
from outshop.workshop.cautions import caution, defer
from outshop.workshop.findings import Finding
from outshop.workshop.job_card import JobCard, build

CARD = build([Finding("axle", "seized", "a"), Finding("brushes", "oily"), Finding("lamps", "dead")])


def text_of(pdf):
    words = " ".join(page.extract_text() for page in PdfReader(io.BytesIO(pdf)).pages)
    return " ".join(words.replace("\u200b", "").split())


def test_every_step_is_printed_in_order():
    text = text_of(
        job_card_sheet(CARD, title="No. 7", number="J-1", identity=[Fact("Scale", "1:87")])
    )
    places = [text.index(step.title) for step in CARD.steps if step.title.startswith("Axle a")]
    assert places == sorted(places)
    for step in CARD.steps:
        assert step.title in text
    for sentence in (*CARD.stop_signs, *CARD.unanswered, defer()):
        assert sentence in text


def test_the_full_caution_stands_at_its_first_step_and_its_title_at_later_ones():
    text = text_of(job_card_sheet(CARD, title="No. 7"))
    solvent = caution("solvent")
    steps = sum("solvent" in s.cautions for s in CARD.steps)
    assert steps > 1
    assert text.count(solvent.text) == 1
    assert text.count(solvent.title) == steps


def test_ticks_and_notes_are_printed():
    key = CARD.steps[0].key
    text = text_of(job_card_sheet(CARD, title="x", done={key}, notes={key: "screw lost #1 $"}))
    assert text.count("✓") == 1
    assert "screw lost #1 $" in text


def test_an_empty_card_prints():
    assert job_card_sheet(JobCard((), (), (), (), 0.0), title="").startswith(b"%PDF")
