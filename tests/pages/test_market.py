"""Offers, prices, values and papers in the browser: the way through, and each slip."""

import io
from datetime import timedelta
from decimal import Decimal

import pytest
from bs4 import BeautifulSoup
from django.core.files.uploadedfile import SimpleUploadedFile
from django.utils import timezone
from PIL import Image
from pypdf import PdfReader

from outshop.records import services
from outshop.records.models import Lot, Piece, Sale, Valuation

pytestmark = pytest.mark.django_db

LOT = {
    "title": "Tank engine, boxed",
    "state": "watched",
    "purpose": "runner",
    "currency": "EUR",
    "listing": "Serviced, runs well. Original box.",
    "premium": "25 %",
    "carriage": "12",
    "grades": "runner; 60; 200; 20\nneeds work; 40; 90; 30",
    "repairs": "split gear; 30; 40; 60",
}
PRICES = "date,price,currency,edition,condition,box,papers,working,source\n"


def text_of(response):
    return " ".join(BeautifulSoup(response.content, "html.parser").get_text(" ").split())


def pdf_text(response):
    assert response["Content-Type"] == "application/pdf"
    pages = PdfReader(io.BytesIO(response.content)).pages
    return " ".join(" ".join(page.extract_text() for page in pages).replace("\u200b", "").split())


@pytest.fixture(name="lot")
def _lot(client) -> Lot:
    assert client.post("/offers/new/", LOT).status_code == 302
    return Lot.objects.get()


def test_a_lot_says_how_far_to_bid_what_it_lands_at_and_what_to_ask(client, lot):
    page = text_of(client.get(f"/offers/{lot.pk}/"))
    assert "Bid up to" in page
    assert "Ask first" in page
    assert "Which condition" in page
    assert "carriage 12.00" in page


def test_another_hammer_price_is_worked_out_exactly(client, lot):
    """100, 25 % premium, 12 carriage."""
    assert "137.00 EUR" in text_of(client.get(f"/offers/{lot.pk}/", {"hammer": "100"}))


@pytest.mark.parametrize(
    ("field", "typed", "sentence"),
    [
        ("premium", "120 %", "between 0 and 100 percent"),
        ("premium", "25 % to 1000; 20 % to 500", "steps overlap"),
        ("premium", "a quarter", "write it like 25 %"),
        ("carriage", "-3", "cannot be negative"),
        ("currency", "EUX", "no currency code"),
        ("grades", "runner; 60; 200", "write name; chance in percent; value; spread percent"),
        ("repairs", "gear; many; 1; 1", "is not a number"),
        ("bids", "100", "write from which price"),
        ("accepted_regret", "nan", "is out of range"),
        ("duty_percent", "101", "ustoms duty must lie between 0 and 100 percent"),
        ("home_currency", "USD", "write both or neither"),
    ],
)
def test_slips_are_told_beside_the_form(client, field, typed, sentence):
    response = client.post("/offers/new/", {**LOT, field: typed})
    assert response.status_code == 400
    assert sentence in text_of(response)
    assert not Lot.objects.exists()


def test_a_forty_page_listing_is_kept_and_read(client):
    listing = "A long story of a fine engine. " * 4000 + "Complete."
    client.post("/offers/new/", {**LOT, "listing": listing})
    assert "“Complete”" in text_of(client.get(f"/offers/{Lot.objects.get().pk}/"))


def test_a_lot_is_bought_once_and_becomes_a_piece_with_its_price(client, lot):
    client.post(f"/offers/{lot.pk}/buy/", {"hammer": "100"})
    piece = Piece.objects.get()
    assert piece.valuations.get().amount == Decimal("137")
    assert piece.valuations.get().basis == Valuation.Basis.PAID
    assert client.post(f"/offers/{lot.pk}/buy/", {"hammer": "90"}).status_code == 409
    assert Piece.objects.count() == 1


def test_claims_are_held_against_the_findings_on_the_piece(client, lot):
    client.post(f"/offers/{lot.pk}/buy/", {"hammer": "100"})
    inspection = services.add_inspection(piece=Piece.objects.get())
    services.set_findings(
        inspection=inspection,
        findings={("axle", "1"): "seized", ("part", "box"): "good"},
    )
    page = BeautifulSoup(client.get(f"/offers/{lot.pk}/").content, "html.parser")
    verdicts = [e.get_text() for e in page.select(".state.stop, .state.good")]
    assert verdicts == ["contradicted", "contradicted", "upheld"]
    report = pdf_text(client.get(f"/offers/{lot.pk}/claims.pdf"))
    assert "contradicted" in report
    assert "seized" in report


def test_likely_repairs_are_filled_in_from_the_base_rates(client, lot):
    client.post(f"/offers/{lot.pk}/repairs/", {"system": "dc2", "decade": "1960"})
    lot.refresh_from_db()
    assert len(lot.outlook["repairs"].splitlines()) == 6
    assert client.get(f"/offers/{lot.pk}/").status_code == 200


def upload(text):
    return {"file": SimpleUploadedFile("prices.csv", text.encode())}


def test_prices_come_in_and_go_out_and_no_cell_is_a_live_formula(client):
    line = '2024-05-31,"1.234,50",EUR,=cmd|x,good,yes,no,yes,@note\n'
    client.post("/prices/table/", upload(PRICES + line * 3))
    assert Sale.objects.get().price == Decimal("1234.5")
    exported = client.get("/prices/table.csv").content.decode()
    assert "'=cmd|x" in exported
    assert "'@note" in exported
    client.post("/prices/table/", upload(PRICES + line))
    assert Sale.objects.count() == 1


def test_a_wrong_line_keeps_nothing_of_the_table(client):
    good = "2024-05-31,120,EUR,x,good,yes,no,yes,n\n"
    response = client.post("/prices/table/", upload(PRICES + good + ",5,EUR,x,good,,,,\n"))
    assert response.status_code == 400
    assert "ine 3: the date is missing" in text_of(response)
    assert not Sale.objects.exists()


@pytest.fixture(name="valued")
def _valued(client) -> Piece:
    edition = services.add_edition(name="Tank")
    lines = [f"2024-0{m}-11,{100 + m},EUR,Tank,good,yes,no,yes,n\n" for m in range(1, 7)]
    client.post("/prices/table/", {**upload(PRICES + "".join(lines)), "edition": edition.pk})
    piece = services.add_piece(name="Heron", edition=edition, place="cabinet", state="in_traffic")
    for basis, amount in (("agreed", "1,400.00"), ("market", "90")):
        sent = {"basis": basis, "amount": amount, "currency": "eur"}
        assert client.post(f"/piece/{piece.pk}/value/", sent).status_code == 302
    return piece


def test_sales_value_a_piece_with_an_interval(client, valued):
    page = text_of(client.get(f"/piece/{valued.pk}/value/"))
    assert "From 6 sales" in page
    drawing = BeautifulSoup(client.get(f"/piece/{valued.pk}/value/").content, "html.parser")
    assert len(drawing.select("svg circle")) == 6
    assert "agreed value" in drawing.select_one("svg").get_text()
    assert "1400.00 EUR" in page


def test_schedule_adds_one_basis_only_and_can_hide_values(client, valued):
    assert "1400.00 EUR" in text_of(client.get("/schedule/", {"basis": "agreed"}))
    assert "90.00 EUR" in text_of(client.get("/schedule/", {"basis": "market"}))
    assert "1400.00 EUR" in pdf_text(client.get("/schedule.pdf"))
    private = pdf_text(client.get("/schedule.pdf", {"private": "1"}))
    assert "Heron" in private
    assert "1400" not in private


def test_dossier_card_and_label_print_whatever_is_written(client, valued):
    services.change_piece(
        piece=valued, name="Heron #1 [$x$] <b>番号</b> 🚂", notes="*not* _markup_"
    )
    dossier = pdf_text(client.get(f"/piece/{valued.pk}/dossier.pdf"))
    assert "Heron #1 [$x$] <b>" in dossier
    assert "agreed value 1400" in dossier
    private = pdf_text(client.get(f"/piece/{valued.pk}/dossier.pdf", {"private": "1"}))
    assert "1400" not in private
    assert "cabinet" not in private
    assert "*not* _markup_" in pdf_text(client.get(f"/piece/{valued.pk}/card.pdf"))
    assert "Heron" in pdf_text(client.get("/labels.pdf", {"piece": valued.pk}))


def test_an_unknown_currency_is_a_sentence(client):
    assert "no currency code" in text_of(client.get("/schedule/", {"currency": "EUX"}))


def test_changes_since_a_day_and_words_for_heirs(client, valued):
    page = text_of(client.get("/schedule/", {"basis": "agreed", "since": "2020-01-01"}))
    assert "Heron – → 1400.00" in page
    heirs = pdf_text(client.get("/heirs.pdf", {"ask": "the neighbour with the garden railway"}))
    assert "There are 1 pieces" in heirs
    assert "the neighbour with the garden railway" in heirs
    assert "Heron: 1400.00 EUR" in heirs


def test_the_collection_shows_owned_wanted_and_what_rests(client, valued):
    services.add_piece(name="Snow plough", state="wanted")
    page = text_of(client.get("/collection/"))
    assert "Wanted 1" in page
    assert "Snow plough" in page
    assert "Has not run for four months Heron" in page


def test_a_foreign_lot_is_told_in_own_money_and_a_budget_gives_the_bid(client):
    """Premium 25 %, carriage 12, a rate of 1.25: 100 lands at 137 or 171.25 at home."""
    client.post("/offers/new/", {**LOT, "currency": "GBP", "home_currency": "EUR", "rate": "1,25"})
    address = f"/offers/{Lot.objects.get().pk}/"
    assert "171.25 EUR" in text_of(client.get(address, {"hammer": "100"}))
    assert "within this budget: 100.00 GBP" in text_of(client.get(address, {"budget": "171.25"}))
    assert "within this budget: 99.99 GBP" in text_of(client.get(address, {"budget": "171.24"}))
    assert "Not even the lowest bid" in text_of(client.get(address, {"budget": "15"}))


@pytest.mark.parametrize("rate", ["0", "-1", "nan", "much", "1e99"])
def test_a_rate_that_is_none_is_told(client, rate):
    response = client.post("/offers/new/", {**LOT, "home_currency": "EUR", "rate": rate})
    assert response.status_code == 400
    assert "he day's rate" in text_of(response)


SALE = {
    "what": "Tank", "sold_on": "2024-05-31", "amount": "1.234,50", "currency": "EUR",
    "condition": "0.7", "box": "on", "source": "own notes",
}  # fmt: skip


def test_one_sale_is_typed_and_kept_once(client):
    for _ in range(2):
        assert client.post("/prices/", SALE).status_code == 302
    sale = Sale.objects.get()
    assert (sale.price, sale.box, sale.working) == (Decimal("1234.5"), True, False)


@pytest.mark.parametrize(
    ("field", "typed", "sentence"),
    [
        ("sold_on", "", "required"),
        ("sold_on", "2999-01-01", "still to come"),
        ("amount", "0", "price above 0"),
        ("amount", "-4", "cannot be negative"),
        ("amount", "=1+1", "looks like a formula"),
        ("currency", "EUX", "no currency code"),
    ],
)
def test_a_slip_in_a_typed_sale_is_told(client, field, typed, sentence):
    response = client.post("/prices/", {**SALE, field: typed})
    assert response.status_code == 400
    assert sentence in text_of(response)
    assert not Sale.objects.exists()


def test_a_value_can_be_taken_back(client, valued):
    value = valued.valuations.first()
    assert f"/value/{value.pk}/remove/" in client.get(f"/piece/{valued.pk}/value/").content.decode()
    client.post(f"/value/{value.pk}/remove/")
    assert not valued.valuations.filter(pk=value.pk).exists()


def test_the_collection_tells_upkeep_with_the_hours_it_served_and_what_trains_lack(client, valued):
    services.log_running(piece=valued, minutes=90)
    for amount in ("12.50", "7.50"):
        sent = {"basis": "upkeep", "amount": amount, "currency": "EUR"}
        client.post(f"/piece/{valued.pk}/value/", sent)
    page = text_of(client.get("/collection/"))
    assert "Heron 20.00 EUR for 1.5 running hours" in page


def a_photo(colour):
    picture = io.BytesIO()
    Image.new("RGB", (60, 40), colour).save(picture, "PNG")
    return picture


def photos_in(response):
    return [
        image for page in PdfReader(io.BytesIO(response.content)).pages for image in page.images
    ]


def test_schedule_and_dossier_show_photos_with_what_they_show(client, valued):
    for caption, colour in (("the red lid", "red"), ("", "blue")):
        services.add_photo(
            piece=valued, source=io.BytesIO(a_photo(colour).getvalue()), name="a.png",
            caption=caption,
        )  # fmt: skip
    assert len(photos_in(client.get("/schedule.pdf"))) == 1
    dossier = client.get(f"/piece/{valued.pk}/dossier.pdf")
    assert len(photos_in(dossier)) == 2
    assert "the red lid" in pdf_text(dossier)


def test_the_listing_is_kept_as_a_picture_or_a_saved_page(client, lot):
    picture = SimpleUploadedFile("a.png", a_photo("red").getvalue())
    page = SimpleUploadedFile("listing.pdf", client.get(f"/offers/{lot.pk}/claims.pdf").content)
    for sent in (picture, page):
        answer = client.post(f"/offers/{lot.pk}/picture/", {"file": sent})
        assert answer.status_code == 302
    assert "listing.pdf" in text_of(client.get(f"/offers/{lot.pk}/"))
    report = client.get(f"/offers/{lot.pk}/claims.pdf")
    assert len(photos_in(report)) == 1
    assert "Shown when it was offered" in pdf_text(report)
    sound = SimpleUploadedFile("a.txt", b"hello")
    assert client.post(f"/offers/{lot.pk}/picture/", {"file": sound}).status_code == 400


def test_a_return_period_that_ends_soon_is_told_on_the_bench(client, lot):
    today = timezone.localdate()
    services.change_lot(lot=lot, ends_on=today + timedelta(days=40))
    assert "Offers and returns" not in text_of(client.get("/"))
    client.post(f"/offers/{lot.pk}/buy/", {"hammer": "100"})
    lot.refresh_from_db()
    services.change_lot(lot=lot, return_by=today + timedelta(days=3))
    assert "Tank engine, boxed 3 days left to return it" in text_of(client.get("/"))
    lot.refresh_from_db()
    services.change_lot(lot=lot, return_by=today - timedelta(days=1))
    assert "Offers and returns" not in text_of(client.get("/"))


def test_the_list_for_others_holds_no_value_place_or_note(client, valued):
    services.change_piece(piece=valued, notes="bought from a neighbour")
    table = client.get("/collection.csv").content.decode()
    assert "Heron" in table
    for private in ("cabinet", "neighbour", "1400", str(valued.uid)):
        assert private not in table


def test_a_condition_part_by_part_goes_out_as_it_came_in(client):
    line = "2024-05-31,90,EUR,Tank,body very good; box poor,yes,no,yes,n\n"
    client.post("/prices/table/", upload(PRICES + line))
    exported = client.get("/prices/table.csv").content.decode()
    assert "body 0.7; box 0.15" in exported
    Sale.objects.all().delete()
    client.post("/prices/table/", upload(exported))
    assert Sale.objects.get().parts == [["body", 0.7], ["box", 0.15]]


@pytest.mark.parametrize("sheet", ["24", "21", "65"])
def test_labels_for_shelves_on_several_sheets(client, valued, sheet):
    assert "cabinet" in pdf_text(client.get("/labels.pdf", {"places": "1", "sheet": sheet}))


def test_an_unknown_label_sheet_is_a_sentence(client, valued):
    assert "choose one of 24, 21, 65" in text_of(client.get("/labels.pdf", {"sheet": "7"}))


def test_the_dossier_draws_what_was_measured_twice_and_names_the_originals(client, valued):
    from datetime import UTC, datetime

    from outshop.estimate import Estimate
    from outshop.records.models import FittedPart

    for year, level in ((2024, 61.0), (2025, 57.0)):
        services.add_measurement(
            piece=valued,
            kind="sound",
            key="level",
            reading=Estimate.plus_minus(level, 0.5, "dB(A)"),
            taken_at=datetime(year, 5, 1, tzinfo=UTC),
        )
    FittedPart.objects.create(
        piece=valued, part="brushes", original=True, removed_on="2025-05-01", kept_in="bag 3"
    )
    dossier = pdf_text(client.get(f"/piece/{valued.pk}/dossier.pdf"))
    assert "Running level" in dossier
    assert "kept in: bag 3" in dossier
