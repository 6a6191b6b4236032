"""The page of years: evidence in, dated years out, each form and each slip."""

import pytest
from bs4 import BeautifulSoup
from django.core.files.uploadedfile import SimpleUploadedFile

from outshop.records import services
from outshop.records.models import Evidence, Piece

pytestmark = pytest.mark.django_db

GOOD = {
    "about": "edition",
    "what": "black wheels",
    "window": "1958/1963",
    "trust": "98",
    "part": "model",
}


@pytest.fixture(name="piece")
def _piece() -> Piece:
    edition = services.add_edition(maker="invented", name="Tank")
    return services.add_piece(name="Tank engine", edition=edition)


def text_of(response):
    return " ".join(BeautifulSoup(response.content, "html.parser").get_text(" ").split())


def url(piece, tail=""):
    return f"/piece/{piece.pk}/years/{tail}"


def csv_file(text, name="table.csv"):
    return SimpleUploadedFile(name, text.encode())


def test_without_evidence_the_page_says_what_to_do_first(client, piece):
    assert "No evidence yet" in text_of(client.get(url(piece)))


def test_evidence_is_kept_and_dates_the_piece(client, piece):
    assert client.post(url(piece, "evidence/"), GOOD).status_code == 302
    page = text_of(client.get(url(piece)))
    # six years weigh 0.98 each, about 190 weigh 0.02: five of the six are half of all
    assert "Most likely 1958 to 1962" in page
    assert "All evidence agrees" in page
    assert "Made 1" in text_of(client.get(f"/piece/{piece.pk}/"))


def test_the_same_form_sent_twice_is_kept_once(client, piece):
    for _ in range(2):
        client.post(url(piece, "evidence/"), {**GOOD, "form_token": "abc"})
    assert piece.evidence.count() == 1


@pytest.mark.parametrize(
    ("field", "typed", "sentence"),
    [
        ("window", "1963/1958", "ends before it begins"),
        ("window", "soon", "is not a date"),
        ("trust", "100", "less than or equal to 99"),
        ("trust", "0", "greater than or equal to 1"),
        ("what", "", "required"),
    ],
)
def test_a_slip_is_shown_beside_what_was_typed(client, piece, field, typed, sentence):
    response = client.post(url(piece, "evidence/"), {**GOOD, field: typed})
    assert response.status_code == 400
    page = BeautifulSoup(response.content, "html.parser")
    assert sentence in page.get_text()
    assert page.find("input", {"name": "window"})["value"] == (
        typed if field == "window" else GOOD["window"]
    )
    assert not piece.evidence.exists()


def test_a_misfit_is_named_and_set_aside(client, piece):
    for what, window, part in (
        ("wheels", "1958/1963", "model"),
        ("lamps", "1957/1960", "model"),
        ("box lid", "1966/1970", "box"),
    ):
        sent = {**GOOD, "what": what, "window": window, "part": part}
        client.post(url(piece, "evidence/"), sent)
    page = BeautifulSoup(client.get(url(piece)).content, "html.parser")
    assert "Not all evidence can be right" in page.get_text()
    assert "Because of box lid." in page.get_text()
    assert [t.get_text() for t in page.select("svg .label.stop")] == ["box lid"]
    assert "something does not fit" in text_of(client.get(f"/piece/{piece.pk}/"))


def test_a_change_that_another_window_made_is_not_overwritten(client, piece):
    client.post(url(piece, "evidence/"), GOOD)
    evidence = Evidence.objects.get()
    services.change_evidence(evidence=evidence, what="grey wheels")
    response = client.post(f"/evidence/{evidence.pk}/", {**GOOD, "version": "1", "what": "mine"})
    assert response.status_code == 409
    assert Evidence.objects.get().what == "grey wheels"


def test_evidence_can_be_taken_back(client, piece):
    client.post(url(piece, "evidence/"), GOOD)
    evidence = Evidence.objects.get()
    client.post(f"/evidence/{evidence.pk}/remove/")
    assert not Evidence.objects.exists()


FEATURES = """edition,part,feature,variant,window,trust,source
first,model,coupling,hook,1955/1958,0.9,=own notes
second,model,coupling,loop,1959/1963,0.9,own notes
"""


def test_the_feature_table_ranks_versions_and_names_the_next_look(client, piece):
    client.post(url(piece, "features/"), {"file": csv_file(FEATURES)})
    page = text_of(client.get(url(piece)))
    assert "Look at this next coupling" in page
    client.post(url(piece, "seen/"), {"feature": "coupling", "variant": "loop"})
    page = text_of(client.get(url(piece)))
    assert "second 90 %" in page
    assert "coupling: loop" in page


def test_the_feature_table_is_shared_without_live_formulas(client, piece):
    client.post(url(piece, "features/"), {"file": csv_file(FEATURES)})
    shared = client.get(url(piece, "features.csv"))
    assert "'=own notes" in shared.content.decode()
    assert (
        client.post(
            url(piece, "features/"), {"file": csv_file(shared.content.decode())}
        ).status_code
        == 302
    )


@pytest.mark.parametrize(
    ("text", "sentence"),
    [
        ("what,window\nx,1958", "trust is missing"),
        ("what,window,trust\nx,1958,high", "ine 2: trust must be a number"),
        ("what,window,trust\nx,1958,0.9\ny,1963/1958,0.9", "ends before it begins"),
        ("what,window,trust\nx,1700/1710,0.9", "entirely outside the years"),
    ],
)
def test_a_table_with_a_wrong_line_is_refused_whole(client, piece, text, sentence):
    response = client.post(url(piece, "table/"), {"file": csv_file(text)})
    assert response.status_code == 400
    assert sentence in text_of(response)
    assert not piece.evidence.exists()


def test_a_table_of_evidence_is_kept(client, piece):
    text = "what,window,trust,about,part,source\nwheels,1958,0.9,edition,model,\n"
    text += "番号,1950/..,0.8,prototype,,\n"
    client.post(url(piece, "table/"), {"file": csv_file(text)})
    assert list(piece.evidence.values_list("what", "about")) == [
        ("wheels", "edition"),
        ("番号", "prototype"),
    ]


def test_the_prototype_and_its_life(client, piece):
    refused = client.post(url(piece, "event/"), {"kind": "built", "date": "1911"})
    assert "name the prototype first" in text_of(refused).lower()
    client.post(url(piece, "prototype/"), {"name": "No. 14", "country": "D"})
    client.post(url(piece, "event/"), {"kind": "built", "date": "1911"})
    client.post(url(piece, "event/"), {"kind": "withdrawn", "date": "[1959,1960]"})
    assert "In traffic: 1911 – 1960" in text_of(client.get(url(piece))).replace("–", " – ")
    client.post(url(piece, "evidence/"), {**GOOD, "about": "prototype"})
    assert "NEM 806 D" in text_of(client.get(url(piece)))
    client.post(url(piece, "prototype/"), {"name": "No. 14", "country": "D, CH"})
    page = text_of(client.get(url(piece)))
    assert "NEM 806 D" in page
    assert "NEM 804 CH" in page


def test_questions_are_kept_and_settled(client, piece):
    client.post(url(piece, "question/"), {"question": "Red lid?", "would_settle": "a dated list"})
    note = piece.research.get()
    client.post(f"/question/{note.pk}/", {"question": "Red lid?", "settled": "on", "version": "1"})
    assert "Red lid? settled" in text_of(client.get(url(piece)))


def test_what_it_carried_in_the_dated_years_and_whom_it_could_have_met(client, piece):
    client.post(url(piece, "prototype/"), {"name": "No. 14"})
    events = [
        ("built", "1911", ""),
        ("livery", "1911", "green"),
        ("livery", "1938", "black"),
        ("withdrawn", "1959", ""),
    ]
    for kind, date, text in events:
        client.post(url(piece, "event/"), {"kind": kind, "date": date, "text": text})
    client.post(
        url(piece, "evidence/"),
        {**GOOD, "about": "prototype", "window": "1945/1955", "trust": "99"},
    )
    assert "livery black" in text_of(client.get(url(piece)))
    other = services.add_piece(name="Late van")
    client.post(url(other, "prototype/"), {"name": "Van 3"})
    client.post(url(other, "event/"), {"kind": "built", "date": "1965"})
    assert "Never" in text_of(client.get(url(piece), {"met": other.pk}))


def test_evidence_may_carry_a_photo(client, piece):
    import io

    from PIL import Image

    client.post(url(piece, "evidence/"), GOOD)
    evidence = Evidence.objects.get()
    picture = io.BytesIO()
    Image.new("RGB", (60, 40), "white").save(picture, "PNG")
    sent = {"file": SimpleUploadedFile("lid.png", picture.getvalue())}
    assert client.post(f"/evidence/{evidence.pk}/photo/", sent).status_code == 302
    evidence.refresh_from_db()
    assert evidence.photo.piece == piece
    assert "photo" in text_of(client.get(url(piece)))


def test_what_the_model_shows_is_held_against_the_prototypes_life(client, piece):
    """Black from 1938 on; the livery is checked against the years without itself."""
    client.post(url(piece, "prototype/"), {"name": "No. 14"})
    for kind, date, text in (
        ("built", "1911", ""),
        ("livery", "1911", "green"),
        ("livery", "1938", "black"),
        ("withdrawn", "1959", ""),
    ):
        client.post(url(piece, "event/"), {"kind": kind, "date": date, "text": text})
    sent = {**GOOD, "about": "prototype", "window": "1945/1955", "trust": "99"}
    client.post(url(piece, "evidence/"), sent)
    assert (
        client.post(url(piece, "shows/"), {"kind": "livery", "value": "green"}).status_code == 302
    )
    kept = piece.evidence.get(feature="livery")
    assert (kept.about, kept.window) == ("prototype", "1911/1938")
    page = text_of(client.get(url(piece)))
    assert "The model shows green. not in these years" in page
    client.post(f"/evidence/{kept.pk}/remove/")
    client.post(url(piece, "shows/"), {"kind": "livery", "value": "black"})
    assert "Fits with" in text_of(client.get(url(piece)))
    assert client.post(url(piece, "shows/"), {"kind": "livery", "value": "x"}).status_code == 400


def test_evidence_goes_out_and_comes_back_the_same(client, piece):
    client.post(url(piece, "evidence/"), {**GOOD, "what": "=wheels", "window": "[1958,1960]"})
    out = client.get(url(piece, "evidence.csv")).content.decode()
    assert "'=wheels" in out
    other = services.add_piece(name="Sister")
    client.post(url(other, "table/"), {"file": csv_file(out)})
    fields = ("window", "trust", "about", "part", "source")
    assert other.evidence.values(*fields).get() == piece.evidence.values(*fields).get()


def test_a_question_may_carry_a_photo(client, piece):
    import io

    from PIL import Image

    client.post(url(piece, "question/"), {"question": "Red lid?"})
    note = piece.research.get()
    picture = io.BytesIO()
    Image.new("RGB", (60, 40), "white").save(picture, "PNG")
    sent = {"file": SimpleUploadedFile("lid.png", picture.getvalue())}
    assert client.post(f"/question/{note.pk}/photo/", sent).status_code == 302
    assert "photo" in text_of(client.get(url(piece)))
    assert client.get(f"/question/{note.pk}/").status_code == 200
