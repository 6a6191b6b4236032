"""Lines, vehicles and trains as a person meets them: entered, made up, swapped, printed."""

import io

import pypdf
import pytest
from bs4 import BeautifulSoup
from django.test import Client

from outshop.formation.kinds import kinds
from outshop.pages.formation.kind_names import NAMES
from outshop.records.models import Formation, Line, Measurement, Piece, ShelfVehicle
from outshop.records.queries import formations as queries
from outshop.records.services import add_piece
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
    # 20 per mille of grade and 8128 / 437 of curve (the modeller's rule), together 38.6
    assert "section 2 asks 39 ‰" in shown.get_text()
    assert len(shown.select("svg .ring.stop")) == 2


def made_up(client: Client, train: Formation, aim: str = "believable") -> BeautifulSoup:
    """Ask for the trains to choose from, as a browser without scripts does."""
    return page(client, f"/train/{train.pk}/choices/?aim={aim}&now=1")


def keep_first(client: Client, train: Formation, aim: str = "believable") -> None:
    order = made_up(client, train, aim).select_one("button[name=order]")["value"]
    assert client.post(f"/train/{train.pk}/put/", {"order": order}).status_code == 302


def test_trains_are_offered_one_is_kept_drawn_and_explained(client, train):
    offered = made_up(client, train)
    assert "No train from this shelf is better than the first" in offered.get_text()
    orders = [b["value"] for b in offered.select("button[name=order]")]
    assert len(orders) == len(set(orders)) >= 2
    sets = [set(order.split("-")) for order in orders]
    for n, one in enumerate(sets):  # each differs in a fifth of its vehicles or more
        assert all(5 * len(other - one) >= len(other) for other in sets[:n])
    keep_first(client, train)
    shown = page(client, f"/train/{train.pk}/")
    names = [a.get_text() for a in shown.select("ol.rows a.name")]
    assert len(names) == 4
    assert "luggage" in names[0] + names[-1]
    assert not any("open" in name for name in names)
    drawn = shown.select("figure.drawing svg.train a")
    assert [a["href"] for a in drawn] == [f"/train/{train.pk}/place/{n}/" for n in (1, 2, 3, 4)]
    assert "It hauls" in shown.get_text()
    assert "Third class was abolished" in shown.get_text()
    assert "This one stands now" in made_up(client, train).get_text()


def test_trains_are_made_up_only_when_the_page_is_there(client, train):
    first = page(client, f"/train/{train.pk}/choices/")
    assert first.select_one("#found[hx-trigger=load]")
    assert not first.select("button[name=order]")
    answer = client.get(f"/train/{train.pk}/choices/?aim=longest", headers={"HX-Request": "true"})
    assert b"<html" not in answer.content
    assert b"Keep this one" in answer.content


def test_impossible_train_says_why_and_what_would_help(client, train):
    services.change_formation(formation=train, pull_g=2.0)
    text = made_up(client, train, "longest").get_text()
    assert "cannot climb section 2 alone" in text
    assert "Ease the grade" in text


def test_clashing_demands_are_told_and_one_is_lifted_by_a_tap(client, train):
    services.change_line(line=train.line, loop_mm=250.0)
    fixed = list(ShelfVehicle.objects.filter(kind="coach-2"))
    services.set_demands(formation=train, demands={v.pk: "fixed" for v in fixed})
    shown = made_up(client, train)
    why = shown.select_one("ul.why").get_text()
    assert "loops take 250 mm" in why
    assert all(f"'{v.name}' is fixed" in why for v in fixed)
    # the engine and both coaches end to end: 120 + 120 + 122
    assert "A loop of 362 mm" in shown.select_one("ol.fixes").get_text()
    answer = client.post(f"/train/{train.pk}/free/", {"vehicle": str(fixed[0].pk)})
    assert answer.status_code == 302
    assert queries.demands_of(train) == {fixed[1].pk: "fixed"}


@pytest.mark.parametrize("order", ["nonsense", "1-", "99999", "1--2", "t"])
def test_an_order_that_is_none_is_refused_and_the_train_stays(client, train, order):
    services.set_train(formation=train, vehicles=list(ShelfVehicle.objects.all()[:2]))
    before = order_of(train)
    assert client.post(f"/train/{train.pk}/put/", {"order": order}).status_code == 400
    assert order_of(train) == before
    page(client, f"/train/{train.pk}/?before={order}")  # an old address with a vehicle gone


def test_a_swap_tells_what_it_changed_and_is_put_back(client, train):
    shelf = {v.kind: v for v in ShelfVehicle.objects.all()}
    services.set_train(formation=train, vehicles=[shelf["luggage"], shelf["coach-1"]])
    before = order_of(train)
    done = client.post(f"/train/{train.pk}/place/2/", {"vehicle": str(shelf["open"].pk)})
    shown = page(client, done.headers["Location"])
    rows = {r.th.get_text(): [c.get_text() for c in r.select("td")]
            for r in shown.select(".changed tbody tr")}  # fmt: skip
    assert rows["Against the rules"] == ["0", "2", "worse"]  # no coach, and an open wagon
    assert rows["Length"][2] == ""
    assert "the kind open does not run in" in shown.get_text()
    assert len(shown.select("svg .was")) == 1
    client.post(f"/train/{train.pk}/put/", {"order": shown.select_one("#undo")["value"]})
    assert order_of(train) == before


def test_a_swap_by_htmx_answers_with_the_train_and_the_place_still_at_work(client, train):
    shelf = list(ShelfVehicle.objects.order_by("pk"))
    services.set_train(formation=train, vehicles=shelf[:2])
    answer = client.post(f"/train/{train.pk}/place/1/", {"vehicle": str(shelf[4].pk)},
                         headers={"HX-Request": "true"})  # fmt: skip
    shown = BeautifulSoup(answer.content, "html.parser")
    assert not shown.select("html")
    assert shown.select_one(".at-work h3").get_text() == f"1 · {shelf[4].name}"
    assert shown.select_one("svg.train a[aria-current]")["href"].endswith("/place/1/")


def test_vehicle_is_turned_and_one_that_no_longer_couples_does_not_fit(client, train):
    shelf = list(ShelfVehicle.objects.order_by("pk"))
    services.change_vehicle(vehicle=shelf[1], front="hook", rear="loop")
    services.set_train(formation=train, vehicles=shelf[:2])
    assert list(queries.turned_of(train)) == [False, True]  # turned, because only so it couples
    assert "stands turned round" in page(client, f"/train/{train.pk}/").get_text()
    client.post(f"/train/{train.pk}/place/2/", {"what": "turn"})
    text = page(client, f"/train/{train.pk}/").get_text()
    assert "Luggage 1 does not couple" in text
    client.post(f"/train/{train.pk}/place/1/", {"what": "turn"})
    assert list(queries.turned_of(train)) == [True, False]


def test_vehicles_change_places_and_stay_within_the_train(client, train):
    a, b, c = ShelfVehicle.objects.order_by("pk")[:3]
    services.set_train(formation=train, vehicles=[a, b, c])
    client.post(f"/train/{train.pk}/place/3/", {"what": "forward"})
    assert order_of(train) == [a.pk, c.pk, b.pk]
    client.post(f"/train/{train.pk}/place/3/", {"what": "back"})
    assert order_of(train) == [a.pk, c.pk, b.pk]
    assert client.post(f"/train/{train.pk}/place/4/", {"what": "back"}).status_code == 404
    assert client.post(f"/train/{train.pk}/place/1/", {"what": "fly"}).status_code == 400


def test_vehicle_is_fixed_forbidden_and_let_be_where_it_stands(client, train):
    vehicle = ShelfVehicle.objects.first()
    services.set_train(formation=train, vehicles=[vehicle])
    for what, kept in (("fixed", "fixed"), ("forbidden", "forbidden"), ("free", None)):
        client.post(f"/train/{train.pk}/place/1/", {"what": what})
        assert queries.demands_of(train).get(vehicle.pk) == kept


def test_vehicle_is_swapped_dropped_and_added_by_tap(client, train):
    shelf = list(ShelfVehicle.objects.order_by("pk"))
    services.set_train(formation=train, vehicles=shelf[:2])
    choices = page(client, f"/train/{train.pk}/place/1/").select("button[name=vehicle]")
    assert {b["value"] for b in choices} == {str(v.pk) for v in shelf[2:]}
    client.post(f"/train/{train.pk}/place/1/", {"vehicle": str(shelf[4].pk)})
    assert order_of(train) == [shelf[4].pk, shelf[1].pk]
    client.post(f"/train/{train.pk}/place/2/", {"vehicle": "none"})
    assert order_of(train) == [shelf[4].pk]
    client.post(f"/train/{train.pk}/place/2/", {"vehicle": str(shelf[0].pk)})
    assert order_of(train) == [shelf[4].pk, shelf[0].pk]


def test_vehicle_cannot_stand_in_a_train_twice(client, train):
    shelf = list(ShelfVehicle.objects.order_by("pk"))
    services.set_train(formation=train, vehicles=shelf[:2])
    answer = client.post(f"/train/{train.pk}/place/2/", {"vehicle": str(shelf[0].pk)})
    assert answer.status_code == 400
    assert order_of(train) == [shelf[0].pk, shelf[1].pk]


def test_missing_luggage_van_is_told(client, train):
    ShelfVehicle.objects.filter(kind="luggage").delete()
    listed = page(client, f"/train/{train.pk}/missing/").select("ol.rows .name")
    assert listed[0].get_text() == "luggage van"


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


def test_consist_card_of_a_dozen_vehicles_is_one_sheet(client, train):
    for n in range(7):
        services.add_vehicle(name=f"Long named wagon of the works, No. {n}", kind="open",
                             length_mm=100, mass_g=50, front="loop", rear="loop")  # fmt: skip
    services.change_formation(formation=train, recipe="mixed")
    services.set_train(formation=train, vehicles=list(ShelfVehicle.objects.order_by("pk")))
    answer = client.get(f"/train/{train.pk}/card.pdf")
    assert len(pypdf.PdfReader(io.BytesIO(answer.content)).pages) == 1


def test_steam_electric_and_diesel_engines_are_drawn_apart(client, train):
    drawn = set()
    for kind in ("steam", "electric", "diesel", "railcar"):
        piece = add_piece(name="No. 7", kind=kind)
        services.change_formation(formation=train, piece=piece)
        drawn.add(
            str(page(client, f"/train/{train.pk}/").select_one("svg.train path.ink:not(.rail)"))
        )
    assert len(drawn) == 4


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


def test_what_must_be_in_a_train_is_and_what_must_not_is_not(client, train):
    first, second = ShelfVehicle.objects.filter(kind="coach-2").order_by("pk")
    sent = {f"v{first.pk}": "forbidden", f"v{second.pk}": "fixed"}
    assert client.post(f"/train/{train.pk}/demands/", sent).status_code == 302
    assert queries.demands_of(train) == {first.pk: "forbidden", second.pk: "fixed"}
    keep_first(client, train, "longest")
    assert second.pk in order_of(train)
    assert first.pk not in order_of(train)
    chosen = page(client, f"/train/{train.pk}/demands/").select("option[selected]")
    assert sorted(o["value"] for o in chosen if o["value"]) == ["fixed", "forbidden"]
    client.post(f"/train/{train.pk}/demands/", {f"v{first.pk}": "nonsense"})
    assert queries.demands_of(train) == {}


def test_missing_kind_goes_on_the_wish_list_by_one_tap_and_only_once(client, train):
    ShelfVehicle.objects.filter(kind="luggage").delete()
    shown = page(client, f"/train/{train.pk}/missing/")
    token = shown.select_one("form input[name=form_token]")["value"]
    sent = {"kind": shown.select_one("button[name=kind]")["value"], "form_token": token}
    answers = [client.post(f"/train/{train.pk}/missing/", sent) for _ in range(2)]
    wanted = Piece.objects.get(state="wanted")
    assert [a.headers["Location"] for a in answers] == [f"/piece/{wanted.pk}/"] * 2
    assert wanted.name == "Luggage van for Evening <local>"
    assert (wanted.kind, wanted.shows) == ("wagon", "1958")
    assert client.post(f"/train/{train.pk}/missing/", {"kind": "airship"}).status_code == 400


def test_evenings_timetable_gives_each_train_its_own_vehicles(client, line, train):
    services.add_vehicle(name="second van", kind="luggage", length_mm=120, mass_g=60,
                         rolling_permille=20, front="loop", rear="loop")  # fmt: skip
    other = services.add_formation(
        name="Late goods", line=line, engine_length_mm=110, engine_mass_g=250, pull_g=30, year=1958,
        recipe="branch-passenger", country="D",
    )  # fmt: skip
    sent = {"train": [str(train.pk), str(other.pk)], "aim": "believable"}
    assert client.post("/trains/timetable/", sent).status_code == 302
    assert order_of(train)
    assert order_of(other)
    assert not set(order_of(train)) & set(order_of(other))
    assert "stands in several" not in page(client, "/trains/timetable/").get_text()
    services.set_train(formation=other, vehicles=queries.train_of(train))
    assert "stands in several" in page(client, "/trains/timetable/").get_text()


def test_livery_and_pool_of_a_vehicle_are_entered_and_reach_the_rules(client, train):
    vehicle = ShelfVehicle.objects.get(kind="open")
    form = page(client, f"/vehicle/{vehicle.pk}/").select_one("form:has([name=livery])")
    sent = {i["name"]: i.get("value", "") for i in form.select("input[name]")}
    sent |= {"kind": "open", "piece": "", "livery": "red brown", "pool": "True"}
    sent |= {"braked": "", "loaded": "", "heating": ""}
    sent.pop("dangerous")  # a box that is not ticked
    assert client.post(f"/vehicle/{vehicle.pk}/", sent).status_code == 302
    read = {v.name: v for v in queries.scene_of(train).vehicles}[vehicle.name]
    assert (read.livery, read.pool) == ("red brown", True)
    assert {v.pool for v in queries.scene_of(train).vehicles} == {True, None}


@pytest.mark.parametrize(
    ("month", "rule"), [(1, "In the heating season"), (7, "The coaches run at the end"), (None, "")]
)
def test_month_of_a_mixed_train_tells_where_its_coaches_run(client, train, month, rule):
    # the coaches behind the engine in the heating season, since goods wagons had no steam pipe:
    # encyclopedia on mixed trains
    services.change_formation(formation=train, month=month, recipe="mixed")
    text = page(client, f"/train/{train.pk}/").get_text()
    told = [r for r in ("In the heating season", "The coaches run at the end") if r in text]
    assert told == ([rule] if rule else [])
    chosen = page(client, f"/train/{train.pk}/edit/").select("select[name=month] [selected]")
    assert [o["value"] for o in chosen if o["value"]] == ([str(month)] if month else [])


def test_timetable_of_one_train_is_no_timetable(client, train):
    assert "One train needs no timetable" in page(client, "/trains/timetable/").get_text()
    answer = client.post("/trains/timetable/", {"train": [str(train.pk)]})
    assert answer.status_code == 400
    assert "two to 6 trains" in answer.content.decode()


def test_rolling_measured_at_the_bench_counts_instead_of_what_was_typed(client, train):
    piece = add_piece(name="Coach (invented)", kind="coach")
    vehicle = ShelfVehicle.objects.first()
    services.change_vehicle(vehicle=vehicle, piece=piece, rolling_permille=20.0)
    for day, value in ((1, 30.0), (2, 12.0)):
        Measurement.objects.create(
            piece=piece, kind="rolling", key="rolling", value=value, low=value - 2, high=value + 3,
            confidence=0.95, unit="permille", taken_at=f"2026-03-0{day}T10:00:00Z",
        )  # fmt: skip
    used = next(v for v in queries.scene_of(train).vehicles if v.name == vehicle.name)
    assert (used.rolling.value, used.rolling.low, used.rolling.high) == (12.0, 10.0, 15.0)
    text = page(client, f"/vehicle/{vehicle.pk}/").get_text()
    assert "12 ‰ (10 to 15), measured on 2 Mar 2026" in text


@pytest.mark.parametrize(("low", "high"), [("25", "30"), ("10", "15")])
def test_rolling_outside_its_own_interval_is_refused(client, low, high):
    sent = {"name": "van 1", "kind": "covered", "length_mm": "110", "mass_g": "60",
            "rolling_permille": "20", "rolling_low_permille": low,
            "rolling_high_permille": high, "front": "loop", "rear": "loop"}  # fmt: skip
    assert client.post("/vehicles/", sent).status_code == 400
    ends = {"rolling_low_permille": "15", "rolling_high_permille": "26"}
    assert client.post("/vehicles/", sent | ends).status_code == 302
    kept = queries.rolling_of(ShelfVehicle.objects.get())
    assert (kept.low, kept.high) == (15, 26)


def test_platform_couplers_and_the_full_size_train_stand_on_the_trains_page(client, train):
    services.change_line(line=train.line, platform_mm=100.0, couplers="hook, bar")
    services.change_formation(
        formation=train, real_effort_kn=98.0665, real_engine_t=80.0, real_speed_km_h=0.0,
        real_grade_permille=7.27,
    )  # fmt: skip
    services.set_train(formation=train, vehicles=list(ShelfVehicle.objects.all()))
    text = page(client, f"/train/{train.pk}/").get_text()
    assert "platforms of 100 mm" in text
    assert "The line uncouples hook, bar" in text
    # Launhardt's 2.73 kg/t at rest, 10 000 kgf in all
    assert "920 t (resistance after Launhardt)" in text


def order_of(train: Formation) -> list[int]:
    return [p.vehicle_id for p in train.places.all()]


def test_every_kind_that_a_vehicle_can_be_has_a_name_in_words():
    assert set(NAMES) == set(kinds())
