"""What pages read: search, filter, sort, pages, and no query for each row."""

import io
from collections.abc import Callable

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from outshop.errors import MissingError
from outshop.records import queries, services
from outshop.records.models import Piece
from outshop.records.queries.shelf import PAGE_SIZE

pytestmark = pytest.mark.django_db


def found(**wanted: str) -> list[str]:
    return [piece.name for piece in queries.shelf(**wanted).pieces]


@pytest.fixture(name="shelf")
def _shelf() -> None:
    edition = services.add_edition(maker="Erfundene Werke", name="Bergkönigin")
    prototype = services.add_prototype(name="Class 41 of the Invented Valley Railway")
    services.add_piece(
        name="Ähre", road_number="12", state="in_traffic", scale="H0", place="Vitrine"
    )
    services.add_piece(name="Zephyr", edition=edition, kind="diesel", state="in_traffic")
    services.add_piece(name="mallard-like", prototype=prototype, notes="Straße 5", scale="N")


@pytest.mark.parametrize(
    ("search", "names"),
    [
        ("ähre", ["Ähre"]),
        ("ÄHRE 12", ["Ähre"]),
        ("ahre", ["Ähre"]),
        ("bergkönigin", ["Zephyr"]),
        ("invented VALLEY", ["mallard-like"]),
        ("strasse", ["mallard-like"]),
        ("valley zephyr", []),
        ("100%", []),
        ("_", []),
        ("'; drop table", []),
        ("", ["Zephyr", "mallard-like", "Ähre"]),
    ],
)
def test_every_word_must_be_somewhere_whatever_its_case_or_accents(
    shelf: None, search: str, names: list[str]
) -> None:
    assert found(search=search) == names


def test_a_renamed_edition_is_found_under_its_new_name(shelf: None) -> None:
    edition = Piece.objects.get(name="Zephyr").edition
    services.change_edition(edition=edition, name="Talfahrt")
    assert found(search="talfahrt") == ["Zephyr"]
    assert found(search="bergkönigin") == []


def test_filters_narrow_and_states_are_counted_beside_them(shelf: None) -> None:
    page = queries.shelf(state="in_traffic", kind="diesel")
    assert [p.name for p in page.pieces] == ["Zephyr"]
    assert queries.shelf(state="sold").states == {"in_traffic": 2, "arrived": 1}
    assert found(scale="N") == ["mallard-like"]


def test_sorts_are_total_orders_that_the_pages_follow() -> None:
    for number in range(2 * PAGE_SIZE + 7):
        services.add_piece(name=f"same {number % 3}")
    for sort in queries.SORTS:
        pages = [queries.shelf(sort=sort, page=n) for n in (1, 2, 3)]
        shown = [p.pk for page in pages for p in page.pieces]
        assert len(shown) == len(set(shown)) == 2 * PAGE_SIZE + 7
    assert (pages[2].pages, pages[2].first, pages[2].last) == (3, 101, 107)


def test_an_impossible_page_or_sort_is_the_nearest(shelf: None) -> None:
    assert queries.shelf(page=99).page == 1
    assert queries.shelf(page=-5).page == 1
    assert queries.shelf(sort="by colour").count == 3


def queries_for(function: Callable[[], object]) -> int:
    with CaptureQueriesContext(
        connection,
    ) as captured:
        function()
    return len(captured)


def fill(piece: Piece, sound: Callable, photo: Callable, times: int) -> None:
    for number in range(times):
        seed = piece.pk * 100 + number
        services.add_recording(piece=piece, source=sound(seed=seed), name="a.wav")
        inspection = services.add_inspection(piece=piece)
        services.set_finding(inspection=inspection, target_kind="axle", target="1", state="free")
        services.add_job(piece=piece, title="job", steps=[{"title": "a"}, {"title": "b"}])
        services.start_run_in(run_in=services.plan_run_in(piece=piece))


def walk(pk: int) -> None:
    """Touch everything that a piece's page shows."""
    piece = queries.piece_page(pk)
    for recording in piece.recordings.all():
        assert recording.media.size
        list(recording.measurements.all())
    for inspection in piece.inspections.all():
        for finding in inspection.findings.all():
            list(finding.photos.all())
    for job in piece.jobs.all():
        list(job.steps.all())
    for run_in in piece.run_ins.all():
        list(run_in.segments.all())
    str(piece.edition)


def test_a_fuller_piece_needs_no_more_queries(
    piece: Piece, sound: Callable[..., io.BytesIO], photo: Callable[..., io.BytesIO]
) -> None:
    fill(piece, sound, photo, 1)
    few = queries_for(lambda: walk(piece.pk))
    bench_few = queries_for(queries.bench)
    fill(piece, sound, photo, 4)
    assert queries_for(lambda: walk(piece.pk)) == few
    assert queries_for(queries.bench) == bench_few


def test_a_fuller_shelf_needs_no_more_queries(photo: Callable[..., io.BytesIO]) -> None:
    def show() -> None:
        for piece in queries.shelf().pieces:
            str(piece.edition)
            str(piece.cover and piece.cover.media.sha256)

    edition = services.add_edition(name="E")
    services.add_piece(name="first", edition=edition)
    services.add_photo(piece=Piece.objects.get(), source=photo(), name="a.png")
    few = queries_for(show)
    for number in range(20):
        services.add_piece(name=f"{number}", edition=services.add_edition(name=f"E{number}"))
    assert queries_for(show) == few


def test_nothing_under_a_number_is_a_sentence() -> None:
    with pytest.raises(MissingError, match="no piece number 77"):
        queries.piece_page(77)
    with pytest.raises(MissingError, match="no job card number 77"):
        queries.job_card(77)


def test_before_and_after_are_the_latest_measured_of_their_kind(
    piece: Piece, sound: Callable[..., io.BytesIO]
) -> None:
    job = services.add_job(piece=piece, title="job")
    made = {}
    for number, (name, role, own) in enumerate(
        [
            ("old", "before", None),
            ("own", "before", job),
            ("late", "before", None),
            ("new", "after", None),
        ]
    ):
        made[name] = services.add_recording(
            piece=piece, source=sound(seed=number), name="a.wav", role=role, job=own
        )
        services.keep_result(recording=made[name], result={}, kind="sound")
    services.add_recording(piece=piece, source=sound(seed=9), name="a.wav", role="after")
    assert queries.before_and_after(piece) == (made["late"], made["new"])
    assert queries.before_and_after(piece, job) == (made["own"], made["new"])
