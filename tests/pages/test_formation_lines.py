"""A line drawn by taps and typed as a table: the same sections either way."""

import math

import pytest
from bs4 import BeautifulSoup

from outshop.records.models import Line
from outshop.records.queries import formations as queries
from outshop.records.services import formations as services

pytestmark = pytest.mark.django_db

PEN = {"length_mm": "200", "radius_mm": "400", "turn_deg": "30"}
HTMX = {"HX-Request": "true"}


@pytest.fixture(name="line")
def _line() -> Line:
    return services.add_line(name="Attic (invented)")


class Hand:
    """A person at the drawing board: each tap sends the table as the page last showed it."""

    def __init__(self, client, line: Line):
        self.client, self.line = client, line
        self.shown = self.read(client.get(self.address))

    @property
    def address(self) -> str:
        return f"/line/{self.line.pk}/"

    @staticmethod
    def read(answer) -> BeautifulSoup:
        return BeautifulSoup(answer.content, "html.parser")

    def table(self) -> dict[str, str]:
        sent = {}
        for cell in self.shown.select("fieldset input, fieldset select"):
            if cell["name"] == "at":
                if cell.has_attr("checked"):
                    sent["at"] = cell["value"]
            elif cell.name == "select":
                chosen = cell.select_one("option[selected]") or cell.option
                sent[cell["name"]] = chosen["value"]
            else:
                sent[cell["name"]] = cell.get("value", "")
        return sent

    def tap(self, *names: str, **more: str):
        for name in names:
            sent = {**self.table(), **PEN, **more, "tap": name}
            answer = self.client.post(self.address, sent, headers=HTMX)
            self.shown = self.read(answer)
        return answer

    def sections(self) -> list[tuple]:
        rows = self.line.sections.all()
        return [(s.length_mm, s.grade_permille, s.radius_mm, s.side, s.place) for s in rows]


def test_pieces_are_laid_one_behind_the_other_and_go_on_as_steep(client, line):
    hand = Hand(client, line)
    hand.tap("straight", "up", "up", "left", "right")
    arc = round(math.radians(30) * 400, 1)
    assert hand.sections() == [
        (200, 10, 0, "left", ""), (arc, 10, 400, "left", ""), (arc, 10, 400, "right", ""),
    ]  # fmt: skip


def test_the_piece_at_work_is_changed_and_taken_out(client, line):
    hand = Hand(client, line)
    hand.tap("left", "straight", "left", "before", "down", "longer", "platform")
    assert hand.sections()[1] == (250, -5, 0, "left", "platform")
    hand.tap("before", "mirror", "loop", "after", "level", "shorter", "platform")
    first, second, _third = hand.sections()
    assert first[3:] == ("right", "loop")
    assert second == (200, 0, 0, "left", "")
    hand.tap("out")
    assert [s[3] for s in hand.sections()] == ["right", "left"]


def test_a_piece_is_never_shortened_to_nothing_nor_steeper_than_a_line_can_be(client, line):
    hand = Hand(client, line)
    hand.tap("straight", *["shorter"] * 6, *["up"] * 45)
    assert hand.sections() == [(10, 200, 0, "left", "")]


def test_a_tap_keeps_what_was_typed_and_waits_while_a_row_is_wrong(client, line):
    hand = Hand(client, line)
    hand.tap("straight")
    answer = hand.tap("left", **{"s0-length_mm": "321", "s0-name": "yard"})
    assert answer.status_code == 200
    assert hand.sections()[0][0] == 321
    answer = hand.tap("right", **{"s0-radius_mm": "5"})
    assert answer.status_code == 400
    assert "Section 1, Radius mm" in hand.shown.get_text()
    assert "5 mm is no radius a train runs through" in hand.shown.get_text()
    assert len(hand.sections()) == 2


@pytest.mark.parametrize(
    ("cell", "value", "sentence"),
    [("radius_mm", "5", "greater than or equal to 40"), ("turn_deg", "400", "360"),
     ("length_mm", "x", "number")],
)  # fmt: skip
def test_a_pen_that_cannot_draw_says_so_at_its_field(client, line, cell, value, sentence):
    hand = Hand(client, line)
    assert hand.tap("left", **{cell: value}).status_code == 400
    assert sentence in hand.shown.select_one(f"#id_{cell}-wrong").get_text()
    assert hand.sections() == []


@pytest.mark.parametrize(("tap", "sentence"), [("fly", "no button"), ("up", "Lay a piece first")])
def test_a_tap_that_can_do_nothing_says_why(client, line, tap, sentence):
    answer = client.post(f"/line/{line.pk}/", {**PEN, "tap": tap})
    assert answer.status_code == 400
    assert sentence in answer.content.decode()


def test_a_value_typed_is_kept_and_drawn_at_once_and_a_wrong_one_is_not(client, line):
    hand = Hand(client, line)
    hand.tap("straight")
    sent = hand.table() | PEN
    answer = client.post(hand.address, sent | {"s0-grade_permille": "25"}, headers=HTMX)
    assert answer.status_code == 200
    assert b"<html" not in answer.content
    assert "+25 ‰" in answer.content.decode()
    assert hand.sections()[0][1] == 25
    answer = client.post(hand.address, sent | {"s0-grade_permille": "400"}, headers=HTMX)
    assert answer.status_code == 400
    wrong = Hand.read(answer).select_one("#id_s0-grade_permille-wrong")
    assert wrong["hx-swap-oob"] == "true"
    assert "200" in wrong.get_text()
    assert hand.sections()[0][1] == 25


def test_typing_after_a_tap_lays_no_second_piece(client, line):
    hand = Hand(client, line)
    hand.tap("straight")
    sent = hand.table() | PEN | {"s0-length_mm": "300", "tap": "straight"}
    client.post(hand.address, sent, headers=HTMX | {"HX-Trigger": "track"})
    assert hand.sections() == [(300, 0, 0, "left", "")]


def test_a_tap_without_scripts_leads_back_to_the_page(client, line):
    answer = client.post(f"/line/{line.pk}/", {**PEN, "tap": "straight"})
    assert answer.status_code == 302
    assert answer.headers["Location"] == f"/line/{line.pk}/?at=1#sections"


def test_sections_that_stay_the_same_are_not_written_anew(client, line):
    hand = Hand(client, line)
    hand.tap("straight", "left", "right")
    before = list(line.sections.values_list("pk", flat=True))
    hand.tap("before", "up")
    after = list(line.sections.values_list("pk", flat=True))
    assert (after[0], after[2]) == (before[0], before[2])
    assert after[1] != before[1]


def test_marked_loops_and_platforms_tell_what_a_train_may_be_long(line):
    rows = [(500, "loop"), (400, "loop"), (300, ""), (950, "loop"), (640, "platform")]
    services.set_sections(line=line, sections=[{"length_mm": n, "place": p} for n, p in rows])
    train = services.add_formation(
        name="t", line=line, engine_length_mm=100, engine_mass_g=200, pull_g=60
    )
    wish = queries.scene_of(train).wish
    assert (wish.loop_mm, wish.platform_mm) == (900, 640)  # 500 + 400 are one loop
    services.change_line(line=line, loop_mm=700.0)
    train.refresh_from_db()
    assert queries.scene_of(train).wish.loop_mm == 700  # what is typed counts before it


def test_the_plan_is_tapped_to_choose_a_section(client, line):
    hand = Hand(client, line)
    hand.tap("straight", "left", "right")
    links = [a["href"] for a in hand.shown.select("svg.line a")]
    assert links == [f"/line/{line.pk}/?at={n}#sections" for n in (1, 2, 3)] * 2
    part = client.get(links[1].partition("#")[0], headers=HTMX)
    assert "Section 2 is at work" in part.content.decode()
