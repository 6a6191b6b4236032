"""Adding and changing pieces: fields, history, two tabs, a form sent twice."""

import pytest

from outshop.errors import ConflictError, InputError, MissingError
from outshop.records import services
from outshop.records.models import ChangeEntry, Piece

pytestmark = pytest.mark.django_db


def test_a_new_piece_is_kept_and_noted_in_its_history() -> None:
    piece = services.add_piece(name="Tank engine", arrangement="C", scale="H0")
    assert Piece.objects.get() == piece
    entry = piece.changes.get()
    assert (entry.action, entry.record_title) == ("added", "Tank engine")


def test_history_tells_field_old_and_new_in_words() -> None:
    piece = services.add_piece(name="Tank engine")
    services.change_piece(piece=piece, version=1, state=Piece.State.IN_TRAFFIC, mass_g=212.5)
    entry = piece.changes.filter(action="changed").get()
    assert entry.changes == [
        {"field": "state", "old": "arrived", "new": "in traffic"},
        {"field": "mass g", "old": "", "new": "212.5"},
    ]


def test_history_tells_who_was_at_work() -> None:
    token = services.who.set("Ada")
    try:
        piece = services.add_piece(name="Tank engine")
    finally:
        services.who.reset(token)
    assert piece.changes.get().who == "Ada"


def test_sending_the_same_values_changes_nothing() -> None:
    piece = services.add_piece(name="Tank engine")
    services.change_piece(piece=piece, version=1, name="Tank engine")
    assert (piece.version, piece.changes.count()) == (1, 1)


def test_the_second_of_two_tabs_is_told_both_versions_and_overwrites_nothing() -> None:
    services.add_piece(name="Tank engine", notes="old")
    first, second = Piece.objects.get(), Piece.objects.get()
    services.change_piece(piece=first, version=first.version, notes="from tab one", place="A")
    with pytest.raises(ConflictError, match="another window") as caught:
        services.change_piece(piece=second, version=second.version, notes="from tab two", place="A")
    assert caught.value.differences == (("notes", "from tab two", "from tab one"),)
    assert Piece.objects.get().notes == "from tab one"


def test_changing_a_piece_that_was_removed_says_so() -> None:
    piece = services.add_piece(name="Tank engine")
    stale = Piece.objects.get()
    services.remove_piece(piece=piece)
    with pytest.raises(MissingError, match="removed"):
        services.change_piece(piece=stale, version=1, name="x")


def test_removing_a_piece_leaves_what_it_held_in_the_history() -> None:
    piece = services.add_piece(name="Tank engine", notes="from the attic")
    uid = piece.uid
    services.remove_piece(piece=piece)
    entry = ChangeEntry.objects.get(action="removed", record_uid=uid)
    assert {"field": "notes", "old": "from the attic", "new": ""} in entry.changes


def test_a_form_sent_twice_makes_one_piece() -> None:
    first = services.add_piece(name="Tank engine", token="form-1")
    second = services.add_piece(name="Tank engine", token="form-1")
    assert (first.pk, Piece.objects.count()) == (second.pk, 1)
    services.add_piece(name="Tank engine", token="form-2")
    assert Piece.objects.count() == 2


def test_a_token_of_another_form_is_refused() -> None:
    services.add_edition(name="An edition", token="form-1")
    with pytest.raises(ConflictError, match="sent before"):
        services.add_piece(name="Tank engine", token="form-1")


@pytest.mark.parametrize(
    "name", ["a/b\\c:d", "😀 Tank engine 🚂", "x" * 300, "../../etc/passwd", "<b>bold</b>", "Ωμέγα"]
)
def test_odd_names_are_kept_as_they_are(name: str) -> None:
    services.add_piece(name=name)
    assert Piece.objects.get().name == name


def test_what_no_database_can_hold_is_replaced() -> None:
    services.add_piece(name="nul\x00 and \udcff")
    assert Piece.objects.get().name == "nul\ufffd and ?"


@pytest.mark.parametrize(
    ("fields", "sentence"),
    [
        ({"name": ""}, "name: This field cannot be blank"),
        ({"name": "x" * 301}, "at most 300 characters"),
        ({"name": "a", "arrangement": "nonsense"}, "arrangement: "),
        ({"name": "a", "scale": "H7"}, "scale: "),
        ({"name": "a", "shows": "1990/1989"}, "shows: .*1990/1989"),
        ({"name": "a", "shows": "some day"}, "shows: .*some day"),
        ({"name": "a", "mass_g": -5.0}, "mass g: "),
        ({"name": "a", "drive": {"armature_poles": -3}}, "drive: .*armature_poles"),
        ({"name": "a", "drive": {"stages": [{"driver_teeth": 12}]}}, "driven_teeth"),
        ({"name": "a", "state": "flying"}, "state: .*flying"),
    ],
)
def test_bad_fields_are_refused_in_a_sentence_and_nothing_is_kept(
    fields: dict[str, object], sentence: str
) -> None:
    with pytest.raises(InputError, match=sentence):
        services.add_piece(**fields)
    assert not Piece.objects.exists()
    assert not ChangeEntry.objects.exists()


def test_a_life_event_knows_the_years_that_its_date_allows() -> None:
    """Open and approximate dates by ISO 8601-2; None is an open end."""
    prototype = services.add_prototype(name="Invented class 3")
    event = services.add_life_event(prototype=prototype, kind="built", date="1958/1963")
    assert (event.first_year, event.last_year) == (1958, 1963)
    event = services.add_life_event(prototype=prototype, kind="owner", date="1970/..")
    assert (event.first_year, event.last_year) == (1970, None)


def test_an_edition_in_use_cannot_be_removed() -> None:
    edition = services.add_edition(maker="Invented maker", name="Tank")
    services.add_piece(name="Tank engine", edition=edition)
    with pytest.raises(ConflictError, match="Tank engine"):
        services.remove_edition(edition=edition)


def test_a_piece_falls_back_on_its_edition() -> None:
    edition = services.add_edition(name="Tank", scale="N", arrangement="C", drive={"ratio": 20})
    piece = services.add_piece(name="x", edition=edition, scale="H0")
    assert piece.known_scale == "H0"
    assert piece.known_arrangement == "C"
    assert piece.known_drive == {"ratio": 20}
