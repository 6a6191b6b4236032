"""The CSV table: harmless in a spreadsheet, and back without loss."""

import csv
import io

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from outshop.errors import TableError
from outshop.records import services
from outshop.records.archive.table import COLUMNS, bare, guarded, read_table, write_table
from outshop.records.models import Edition, Piece

pytestmark = pytest.mark.django_db


@pytest.mark.parametrize(
    "cell", ["=1+1", "+1", "-1", "@SUM(A1)", "\t=1", "\r=1", "=cmd|' /C x'!A0"]
)
def test_no_cell_begins_like_a_formula(cell: str) -> None:
    """The characters are those of OWASP's page "CSV Injection"."""
    services.add_piece(name=f"x{cell}", notes=cell)
    row = next(csv.DictReader(io.StringIO(write_table(), newline="")))
    assert row["notes"][0] not in "=+-@\t\r"


@given(st.text())
def test_the_guard_comes_off_again(cell: str) -> None:
    assert bare(guarded(cell)) == cell


words = st.text(st.characters(codec="utf-8", exclude_characters="\x00\r"), min_size=1, max_size=30)


@given(st.lists(st.tuples(words.filter(str.strip), words), max_size=5))
@settings(max_examples=25, suppress_health_check=[HealthCheck.function_scoped_fixture])
def test_a_table_brings_back_names_and_notes(rows: list[tuple[str, str]]) -> None:
    Piece.objects.all().delete()
    for name, note in rows:
        services.add_piece(name=name, notes=note, mass_g=1.5)
    text = write_table()
    Piece.objects.all().delete()
    assert read_table(text) == (len(rows), 0)
    assert list(Piece.objects.order_by("pk").values_list("name", "notes", "mass_g")) == [
        (name, note, 1.5) for name, note in rows
    ]
    assert write_table() == text
    assert read_table(text) == (0, len(rows))


def test_editions_are_found_again_and_not_doubled() -> None:
    services.add_edition(maker="Invented maker", name="Tank", number="7")
    text = "name,maker,edition,edition_number\na,Invented maker,Tank,7\nb,Invented maker,Tank,7\n"
    read_table(text)
    assert Edition.objects.count() == 1
    assert Piece.objects.filter(edition__name="Tank").count() == 2


@pytest.mark.parametrize("mark", [",", ";", "\t"])
def test_comma_semicolon_and_tab_are_read(mark: str) -> None:
    read_table(f"\ufeffName{mark}mass_g\nÄhre{mark}12.5\n\n")
    assert Piece.objects.get().name == "Ähre"
    assert Piece.objects.get().mass_g == 12.5


@pytest.mark.parametrize(
    ("text", "sentence"),
    [
        ("", "empty"),
        ("\n\n", "empty"),
        ("title,scale\na,H0\n", "does not know 'title'"),
        ("road_number\n7\n", "needs each column once, and name"),
        ("name,name\na,b\n", "needs each column once"),
        ("name,mass_g\na,1\nb,heavy\n", "line 3: mass_g must be a number; got 'heavy'"),
        ("name,mass_g\na,nan\n", "line 2: .*nan"),
        ("name,state\na,flying\n", "line 2: .*flying"),
        ("name,shows\na,1990/1989\n", "line 2: .*1990/1989"),
        ("name,arrived_on\na,31.12.1999\n", "line 2: .*31.12.1999"),
        ("name,scale\na\n", "line 2 has another number of cells"),
        ("name,scale\na,H0,x\n", "line 2 has another number of cells"),
        ("name,uid\na,no-uid\n", "line 2: .*no-uid"),
        ('name\n"' + "x" * 200_000 + '"\n', "line"),
        ("name\n" + "x" * 301 + "\n", "line 2: .*300"),
    ],
)
def test_a_bad_table_names_the_line_and_takes_nothing_in(text: str, sentence: str) -> None:
    with pytest.raises(TableError, match=sentence):
        read_table(text)
    assert not Piece.objects.exists()


def test_the_heading_is_the_documented_one() -> None:
    assert write_table().splitlines()[0] == ",".join(COLUMNS)
