"""Lines, vehicles and trains as a person meets them: entered, made up, swapped, printed."""

import io

import pypdf
import pytest
from bs4 import BeautifulSoup
from django.test import Client

from outshop.records.models import Formation, Line, ShelfVehicle
from outshop.records.services import formations as services

pytestmark = pytest.mark.django_db


@pytest.fixture(name="line")
def _line() -> Line:
    line = services.add_line(name="Attic (invented)", loop_mm=900)
    services.set_sections(
        line=line,
        sections=[
            {"length_mm": 1500, "grade_permille": 0, "radius_mm": 0},
            {"length_mm": 1200, "grade_permille": 20, "radius_mm": 437},
        ],
    )
    return line


@pytest.fixture(name="train")
def _train(line: Line) -> Formation:
    for n, kind in enumerate(("coach-2", "luggage", "coach-2", "open", "coach-1")):
        services.add_vehicle(name=f"{kind} {n}", kind=kind, length_mm=120 + n, mass_g=60,
                             rolling_permille=20, front="loop", rear="loop")  # fmt: skip
    return services.add_formation(
        name="Evening <local>", line=line, engine_length_mm=120, engine_mass_g=300, pull_g=30,
        year=1958, recipe="branch-passenger", country="D",
    )  # fmt: skip


def page(client: Client, address: str, status: int = 200) -> BeautifulSoup:
    answer = client.get(address)
    assert answer.status_code == status
    return BeautifulSoup(answer.content, "html.parser")


def test_sections_are_entered_as_a_table_and_an_emptied_row_is_taken_out(client, line):
    sent = {
        "what": "sections",
        "s0-length_mm": "800,5", "s0-grade_permille": "-10", "s0-radius_mm": "", "s0-name": "",
        "s1-length_mm": "", "s1-grade_permille": "", "s1-radius_mm": "", "s1-name": "",
        "s2-length_mm": "600", "s2-grade_permille": "", "s2-radius_mm": "360", "s2-name": "yard",
    }  # fmt: skip
    assert client.post(f"/line/{line.pk}/", sent).status_code == 302
    rows = [(s.length_mm, s.grade_permille, s.radius_mm) for s in line.sections.all()]
    assert rows == [(800.5, -10, 0), (600, 0, 360)]


@pytest.mark.parametrize(
    ("cell", "value"), [("radius_mm", "5"), ("grade_permille", "400"), ("length_mm", "-3")]
)
def test_impossible_section_is_shown_again_with_what_was_typed(client, line, cell, value):
    sent = {"what": "sections", "s0-length_mm": "800", "s0-grade_permille": "", "s0-radius_mm": "",
            "s0-name": "", f"s0-{cell}": value}  # fmt: skip
    answer = client.post(f"/line/{line.pk}/", sent)
    assert answer.status_code == 400
    assert f'value="{value}"' in answer.content.decode()
    assert line.sections.count() == 2


def test_line_shows_plan_profile_and_its_hardest_section(client, line):
    shown = page(client, f"/line/{line.pk}/")
    assert len(shown.select("figure.drawing svg")) == 2
    assert "Section 2 asks most" in shown.get_text()
    assert len(shown.select("svg .ring.stop")) == 2


def test_new_train_is_made_up_drawn_and_explained(client, train):
    done = client.post(f"/train/{train.pk}/make-up/", {"aim": "believable"})
    assert done.status_code == 302
    shown = page(client, f"/train/{train.pk}/")
    names = [a.get_text() for a in shown.select("ol.rows a.name")]
    assert len(names) == 4
    assert "luggage" in names[0] + names[-1]
    assert not any("open" in name for name in names)
    drawn = shown.select("figure.drawing svg a")
    assert [a["href"] for a in drawn] == [f"/train/{train.pk}/place/{n}/" for n in (1, 2, 3, 4)]
    text = shown.get_text()
    assert "It hauls." in text
    assert "No train from this shelf is better" in text
    assert "Third class was abolished" in text


def test_impossible_train_says_why_and_what_would_help(client, train):
    services.change_formation(formation=train, pull_g=2.0)
    client.post(f"/train/{train.pk}/make-up/", {"aim": "longest"})
    text = page(client, f"/train/{train.pk}/").get_text()
    assert "cannot climb section 2 alone" in text
    assert "ease the grade" in text


def test_vehicle_is_swapped_dropped_and_added_by_tap(client, train):
    shelf = list(ShelfVehicle.objects.order_by("pk"))
    services.set_train(formation=train, vehicles=shelf[:2])
    choices = page(client, f"/train/{train.pk}/place/1/").select("button[name=vehicle]")
    assert {b["value"] for b in choices} == {"none", *(str(v.pk) for v in shelf[2:])}
    client.post(f"/train/{train.pk}/place/1/", {"vehicle": str(shelf[4].pk)})
    assert order(train) == [shelf[4].pk, shelf[1].pk]
    client.post(f"/train/{train.pk}/place/2/", {"vehicle": "none"})
    assert order(train) == [shelf[4].pk]
    client.post(f"/train/{train.pk}/place/2/", {"vehicle": str(shelf[0].pk)})
    assert order(train) == [shelf[4].pk, shelf[0].pk]


def test_vehicle_cannot_stand_in_a_train_twice(client, train):
    shelf = list(ShelfVehicle.objects.order_by("pk"))
    services.set_train(formation=train, vehicles=shelf[:2])
    answer = client.post(f"/train/{train.pk}/place/2/", {"vehicle": str(shelf[0].pk)})
    assert answer.status_code == 400
    assert order(train) == [shelf[0].pk, shelf[1].pk]


def test_missing_luggage_van_is_told(client, train):
    ShelfVehicle.objects.filter(kind="luggage").delete()
    listed = page(client, f"/train/{train.pk}/missing/").select("ol.rows .name")
    assert listed[0].get_text() == "luggage"


def test_place_that_is_not_there_is_not_found(client, train):
    page(client, f"/train/{train.pk}/place/3/", 404)


def test_consist_card_prints_every_vehicle(client, train):
    shelf = list(ShelfVehicle.objects.order_by("pk"))
    services.set_train(formation=train, vehicles=shelf)
    answer = client.get(f"/train/{train.pk}/card.pdf")
    assert answer["Content-Type"] == "application/pdf"
    text = "".join(p.extract_text() for p in pypdf.PdfReader(io.BytesIO(answer.content)).pages)
    assert "Evening <local>" in text
    assert all(v.name in text for v in shelf)


def test_line_with_trains_on_it_is_not_removed(client, train):
    answer = client.post(f"/line/{train.line.pk}/", {"what": "remove"})
    assert answer.status_code == 400
    assert Line.objects.filter(pk=train.line.pk).exists()


def test_vehicle_is_entered_and_one_without_mass_is_refused(client):
    sent = {"name": "van 1", "kind": "covered", "length_mm": "110,5", "mass_g": "60",
            "front": "loop", "rear": "hook"}  # fmt: skip
    assert client.post("/vehicles/", sent).status_code == 302
    kept = ShelfVehicle.objects.get()
    assert (kept.length_mm, kept.rolling_permille, kept.rear) == (110.5, None, "hook")
    assert client.post("/vehicles/", sent | {"name": "van 2", "mass_g": ""}).status_code == 400
    assert client.post("/vehicles/", sent).status_code == 400  # the name is taken


def test_train_form_keeps_the_pull_between_its_ends(client, line):
    sent = {"name": "t", "line": str(line.pk), "engine_length_mm": "120", "engine_mass_g": "300",
            "pull_g": "75", "low_g": "80", "rear": "loop"}  # fmt: skip
    assert client.post("/train/new/", sent).status_code == 400
    assert client.post("/train/new/", sent | {"low_g": "70"}).status_code == 302
    assert Formation.objects.get().low_g == 70


def test_train_on_a_line_without_sections_points_to_the_line(client):
    bare = services.add_line(name="bare")
    train = services.add_formation(
        name="t", line=bare, engine_length_mm=120, engine_mass_g=300, pull_g=30
    )
    assert "no sections yet" in page(client, f"/train/{train.pk}/").get_text()


def order(train: Formation) -> list[int]:
    return [p.vehicle_id for p in train.places.all()]
