"""The speed table's page: typed runs or a file become chart and figures, kept with the piece."""

import io
import re

import pytest
from bs4 import BeautifulSoup
from django.urls import reverse

from outshop.records import services
from outshop.records.models import Measurement
from outshop.records.queries.speed_tables import before_and_after_tables, speed_tables

pytestmark = pytest.mark.django_db

# seconds over 1000 mm, raising then lowering, forward
RUNS = {
    "s1": "2", "c1_0": "-", "c1_1": "-",
    "s2": "3", "c2_0": "-", "c2_1": "40",
    "s3": "4", "c3_0": "20", "c3_1": "18",
    "s4": "6", "c4_0": "7,1 7,2", "c4_1": "6.9",
    "s5": "9", "c5_0": "3,6", "c5_1": "3,5",
    "s6": "12", "c6_0": "2,4", "c6_1": "2,4",
}  # fmt: skip
TABLE = {"unit": "V", "holds": "s", "way_mm": "1000", "lines": "8"}


@pytest.fixture(name="piece")
def _piece():
    return services.add_piece(name="Invented tank engine", scale="H0")


def send(client, piece, action="look", **more):
    address = reverse("speeds_say", args=[piece.pk])
    return client.post(address, {**TABLE, **RUNS, **more, action: "1"})


def text(answer):
    return BeautifulSoup(answer.content, "html.parser").get_text(" ", strip=True)


def test_typed_runs_are_explained_and_drawn_without_being_kept(client, piece):
    answer = send(client, piece, full_size_km_h="120", nominal="12")
    assert answer.status_code == 200
    said = text(answer)
    assert "Starts at" in said
    # 1 m in 2.4 s in H0 (NEM 010, 1:87) is 130 km/h; NEM 661 (2011) allows 120 to 156
    assert "120 to 156 km/h (NEM 661 (2011), size H0)" in said
    assert b"<svg" in answer.content
    assert not Measurement.objects.exists()


def test_kept_runs_come_back_with_their_figures(client, piece):
    answer = send(client, piece, "keep", role="before", form_token="t" * 32)
    assert answer.status_code == 302
    start = piece.measurements.get(key="start_forward")
    assert (start.value, start.unit, start.kind) == (3.5, "V", "speed_table")
    assert piece.measurements.get(key="drop_out_forward").value == 2.5
    page = client.get(answer.url)
    assert "Table of" in text(page)
    assert "before" in text(page)
    shown = BeautifulSoup(page.content, "html.parser")
    assert shown.find(attrs={"name": "s4"})["value"] == "6"  # the settings come again
    assert shown.find(attrs={"name": "c4_0"})["value"] == ""  # the readings do not
    assert "Speed table" in text(client.get(reverse("piece", args=[piece.pk])))


def test_the_same_form_sent_twice_is_kept_once(client, piece):
    for _ in range(2):
        send(client, piece, "keep", form_token="u" * 32)
    assert len(speed_tables(piece)) == 1


def test_before_and_after_are_compared(client, piece):
    send(client, piece, "keep", role="before")
    after = {"c2_0": "30", "c1_1": "50", "c2_1": "29", "s7": "1", "c7_0": "-", "c7_1": "-"}
    send(client, piece, "keep", role="after", **after)
    before, later = before_and_after_tables(piece)
    assert (before.role, later.role) == ("before", "after")
    said = text(client.get(reverse("speeds", args=[piece.pk])))
    assert "Before and after" in said
    assert "Starts at, forward" in said
    assert re.search(r"better", said)


def test_a_file_is_read_and_kept(client, piece):
    rows = "".join(f"{s};V;forward;up;{max(0, 0.04 * (s - 2)):.3f}\n" for s in range(1, 13))
    file = io.BytesIO(f"setting;unit;direction;sweep;speed_m_s\n{rows}".encode())
    file.name = "runs.csv"
    answer = client.post(
        reverse("speeds_say", args=[piece.pk]), {**TABLE, "table": file, "keep": "1"}
    )
    assert answer.status_code == 302
    assert piece.measurements.get(key="top_forward").value == pytest.approx(0.4)


def test_a_slip_can_be_taken_back(client, piece):
    send(client, piece, "keep")
    pks = ",".join(str(pk) for pk in speed_tables(piece)[0].pks)
    client.post(reverse("speeds_forget", args=[piece.pk]), {"kept": pks})
    assert not piece.measurements.exists()


def test_only_speed_tables_of_this_piece_can_be_taken_back(client, piece):
    other = services.add_piece(name="Invented railcar", scale="H0")
    send(client, other, "keep")
    pks = ",".join(str(pk) for pk in speed_tables(other)[0].pks)
    client.post(reverse("speeds_forget", args=[piece.pk]), {"kept": pks})
    assert len(speed_tables(other)) == 1


def test_more_lines_keep_what_was_typed(client, piece):
    page = BeautifulSoup(send(client, piece, "more").content, "html.parser")
    assert page.find(attrs={"name": "lines"})["value"] == "12"
    assert page.find(attrs={"name": "c4_0"})["value"] == "7,1 7,2"
    assert page.find(attrs={"name": "c12_3"}) is not None


@pytest.mark.parametrize(
    ("fields", "says"),
    [
        ({"way_mm": ""}, "Times need the way"),
        ({"way_mm": "0"}, "a way of 0 mm cannot be"),
        ({"c3_0": "soon"}, "Setting 4, forward, raising: 'soon' is no number"),
        ({"c3_0": "-20"}, "a time of -20 s cannot be"),
        ({"s3": ""}, "Line 3 has readings but no setting"),
        ({"s3": "four"}, "'four' is no number"),
        ({"s3": "-4"}, "a setting of -4 cannot be"),
        ({"s3": "400"}, "A setting of 400 V cannot be"),
        ({"unit": "step", "s3": "4.5"}, "Step 4.5 is none"),
        ({"nominal": "twelve"}, "number"),
        ({"full_size_km_h": "-1"}, "full-size top speed of -1"),
        ({"holds": "m/s"}, "check the unit"),
    ],
)
def test_each_slip_is_a_sentence_and_keeps_what_was_typed(client, piece, fields, says):
    answer = send(client, piece, "keep", **fields)
    assert answer.status_code == 400
    assert says in text(answer)
    page = BeautifulSoup(answer.content, "html.parser")
    assert page.find(attrs={"name": "c5_1"})["value"] == "3,5"
    assert not Measurement.objects.exists()


def test_an_empty_form_is_not_kept_and_says_so(client, piece):
    answer = client.post(reverse("speeds_say", args=[piece.pk]), {**TABLE, "keep": "1"})
    assert answer.status_code == 400
    assert "Nothing is filled in yet" in text(answer)


def test_full_size_speeds_need_a_scale(client):
    bare = services.add_piece(name="Invented piece without a scale")
    said = text(send(client, bare, holds="km/h"))
    assert "enter it with the piece" in said


def test_htmx_asks_for_the_answer_alone(client, piece):
    address = reverse("speeds_say", args=[piece.pk])
    answer = client.post(address, {**TABLE, **RUNS}, headers={"HX-Request": "true"})
    assert b"<html" not in answer.content
    assert b"<svg" in answer.content


def test_a_kept_table_of_another_version_is_left_out(client, piece):
    send(client, piece, "keep")
    Measurement.objects.exclude(result=None).update(result={"unit": "V"})
    assert speed_tables(piece) == []
    assert client.get(reverse("speeds", args=[piece.pk])).status_code == 200


def test_the_release_sheet_tells_what_changed_in_the_speed(client, piece):
    from outshop.reports import compose

    job = services.write_job_card(piece=piece, title="Service")
    assert compose.release_of(piece, job).rows == ()
    send(client, piece, "keep", role="before")
    send(client, piece, "keep", role="after", c2_0="30", c1_1="50", c2_1="29")
    rows = {row.quantity: row for row in compose.release_of(piece, job).rows}
    assert rows["start_forward"].after.value == 2.5
    assert set(rows) == {"start_forward", "creep_forward", "top_forward"}
