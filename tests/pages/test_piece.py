"""Entering, editing and showing a piece."""

import pytest
from django.urls import reverse
from hypothesis import given
from hypothesis import strategies as st

from outshop.pages.piece_form import PieceForm, initial_of, read_stages, write_stages
from outshop.records import services
from outshop.records.models import Edition, Piece

PLAIN = {"name": "Heron tank engine", "kind": "steam", "state": "arrived"}


def test_a_name_is_enough_to_enter_a_piece(client, db):
    answer = client.post(reverse("piece_new"), PLAIN)
    piece = Piece.objects.get()
    assert answer.url == reverse("piece", args=[piece.pk])
    assert client.get(answer.url).status_code == 200


def test_the_same_form_sent_twice_makes_one_piece(client, db):
    form = PLAIN | {"form_token": "0" * 32, "maker": "Oorde", "edition_number": "214"}
    first, second = (client.post(reverse("piece_new"), form) for _ in range(2))
    assert first.url == second.url
    assert Piece.objects.count() == Edition.objects.count() == 1


def test_two_pieces_of_one_edition_share_it(client, db):
    form = PLAIN | {"maker": "Oorde", "edition_name": "first", "edition_number": "214"}
    for name in ("one", "two"):
        client.post(reverse("piece_new"), form | {"name": name})
    assert Edition.objects.count() == 1


def test_a_drive_typed_with_a_piece_serves_every_piece_of_its_edition(client, db):
    form = PLAIN | {"maker": "Oorde", "edition_name": "first", "edition_number": "214"}
    client.post(reverse("piece_new"), form | {"armature_poles": "5", "stages": "12/54"})
    client.post(reverse("piece_new"), form | {"name": "two"})
    first, second = Piece.objects.order_by("pk")
    assert first.drive == second.drive == {}
    assert second.known_drive == first.known_drive
    assert second.known_drive["armature_poles"] == 5

    typed = form | {"name": "two", "armature_poles": "3", "stages": "12/54", "version": "1"}
    client.post(reverse("piece_edit", args=[second.pk]), typed)
    first, second = Piece.objects.order_by("pk")
    assert (first.known_drive["armature_poles"], second.drive) == (3, {})

    # a form that left the drive as it was shown leaves it where it is
    other = typed | {"edition_name": "second", "edition_number": "215"}
    other["version"] = str(second.version)
    client.post(reverse("piece_edit", args=[second.pk]), other)
    second.refresh_from_db()
    assert second.edition.name == "second"
    assert second.known_drive == {}
    assert Piece.objects.earliest("pk").known_drive["armature_poles"] == 3


@pytest.mark.parametrize(("kind", "status"), [("coach", 302), ("wagon", 302), ("steam", 400)])
def test_only_what_is_hauled_may_have_no_driven_axle(client, db, kind, status):
    answer = client.post(reverse("piece_new"), PLAIN | {"kind": kind, "arrangement": "2'2'"})
    assert answer.status_code == status
    if status == 302:
        assert client.get(answer.url).status_code == 200
    else:
        assert "no driven axle" in answer.content.decode()


@pytest.mark.parametrize(
    ("field", "text", "words"),
    [
        ("name", "", "required"),
        ("arrangement", "1'X1'", "X"),
        ("shows", "1990/1989", "1990"),
        ("scale", "huge", "huge"),
        ("stages", "12-54", "12-54"),
        ("stages", "0/54", "0/54"),
        ("mass_g", "heavy", "number"),
        ("mass_g", "nan", "number"),
        ("length_mm", "-3", "greater"),
        ("armature_poles", "1", "greater"),
    ],
)
def test_a_wrong_entry_is_named_and_everything_typed_is_kept(client, db, field, text, words):
    form = PLAIN | {"place": "drawer 4", field: text}
    answer = client.post(reverse("piece_new"), form)
    page = answer.content.decode()
    assert answer.status_code == 400
    assert words in page
    assert "drawer 4" in page
    assert Piece.objects.count() == 0


def test_a_comma_counts_as_a_decimal_point(client, db):
    client.post(reverse("piece_new"), PLAIN | {"mass_g": "312,5", "wheel_diameter_mm": "16,1"})
    piece = Piece.objects.get()
    assert piece.mass_g == 312.5
    assert piece.drive == {"wheel_diameter_mm": 16.1}


teeth = st.integers(1, 200)


@given(st.lists(st.tuples(teeth, teeth), max_size=5))
def test_gear_stages_come_back_as_they_were_written(pairs):
    stages = [{"driver_teeth": a, "driven_teeth": b} for a, b in pairs]
    assert read_stages(write_stages(stages)) == stages


def test_saving_an_unchanged_form_changes_nothing(client, db):
    edition = services.add_edition(maker="Oorde", name="second", number="214")
    piece = services.add_piece(
        name="Full of facts",
        edition=edition,
        scale="H0",
        arrangement="1'D1'+2'2'",
        drive={"armature_poles": 3, "stages": [{"driver_teeth": 1, "driven_teeth": 20}]},
        shows="1958/1961",
        mass_g=300.5,
        arrived_on="2026-03-01",
        notes="two\nlines",
    )
    piece.refresh_from_db()
    shown = PieceForm(initial=initial_of(piece))
    form = {name: shown[name].value() for name in shown.fields}
    sent = {name: "" if value is None else value for name, value in form.items()}
    answer = client.post(reverse("piece_edit", args=[piece.pk]), sent | {"version": piece.version})
    assert answer.status_code == 302
    before = piece.version
    piece.refresh_from_db()
    assert piece.version == before


def test_a_second_window_gets_409_with_both_versions_and_overwrites_nothing(client, piece):
    address = reverse("piece_edit", args=[piece.pk])
    form = {"name": piece.name, "kind": "steam", "state": "arrived", "version": piece.version}
    client.post(address, form | {"road_number": "11"})
    answer = client.post(address, form | {"road_number": "12"})
    page = answer.content.decode()
    assert answer.status_code == 409
    assert "11" in page
    assert "12" in page
    piece.refresh_from_db()
    assert piece.road_number == "11"


@pytest.mark.parametrize("version", ["", "seven", "-1"])
def test_a_form_without_its_version_is_refused_in_a_sentence(client, piece, version):
    form = {"name": piece.name, "kind": "steam", "state": "arrived", "version": version}
    answer = client.post(reverse("piece_edit", args=[piece.pk]), form)
    assert answer.status_code == 400
    assert "load the page again" in answer.content.decode()


def test_the_preview_draws_what_can_be_read_and_explains_what_cannot(client, db):
    address = reverse("arrangement_preview")
    assert client.get(address, {"arrangement": "2-8-2"}).content.decode().count("<svg") == 1
    wrong = client.get(address, {"arrangement": "hello"}).content.decode()
    assert "<svg" not in wrong
    assert "notice wrong" in wrong
    assert "<svg" not in client.get(address).content.decode()


def test_what_a_person_wrote_is_never_taken_for_markup(client, db):
    piece = services.add_piece(name="<script>alert(1)</script>", notes="<img src=x>")
    page = client.get(reverse("piece", args=[piece.pk])).content.decode()
    assert "<script>alert" not in page
    assert "<img src=x>" not in page


def test_a_long_page_costs_no_more_queries_for_more_records(
    client, piece, django_assert_max_num_queries
):
    for _ in range(6):
        inspection = services.add_inspection(piece=piece)
        services.set_finding(inspection=inspection, target_kind="axle", target="1", state="free")
        services.write_job_card(piece=piece, title="card", inspection=inspection)
    with django_assert_max_num_queries(60):
        client.get(reverse("piece", args=[piece.pk]))


def test_a_shelf_of_fifty_costs_few_queries(client, db, django_assert_max_num_queries):
    for number in range(55):
        services.add_piece(name=f"Engine {number:02d}")
    with django_assert_max_num_queries(8):
        page = client.get(reverse("shelf")).content.decode()
    assert page.count('class="name"') == 50
    assert "1 to 50 of 55" in page


@pytest.mark.parametrize(
    "query", ["?page=abc", "?page=-1", "?page=99999999999", "?state=none", "?sort=x", "?q=%00"]
)
def test_a_crooked_address_of_the_shelf_shows_the_shelf(client, piece, query):
    assert client.get(reverse("shelf") + query).status_code == 200
