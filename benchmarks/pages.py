"""Server time of shelf and piece pages with 5,000 pieces and 20,000 photos on record.

Baseline of the same run: the error page of an unknown address, which goes through the same
middleware and templates but asks the database for nothing.
Prints a markdown table. Processor time does not depend on what else the machine does.
"""

import os
import statistics
import sys
import tempfile
import time
import uuid
from collections.abc import Callable, Iterator, Sequence

PIECES, PHOTOS_EACH, RUNS = 5_000, 4, 60


def main() -> None:
    """Fill a home of its own, ask, print."""
    pieces = int(sys.argv[1]) if len(sys.argv) > 1 else PIECES
    with tempfile.TemporaryDirectory(prefix="outshop-bench-") as home:
        os.environ["OUTSHOP_HOME"] = home
        from outshop.site import start

        with start.collection():
            fill(pieces)
            report(pieces)


def fill(pieces: int) -> None:
    """Put pieces, photos and the history of each into the store."""
    from outshop.records import services
    from outshop.records.models import ChangeEntry, Edition, MediaFile, Photo, Piece

    edition = Edition.objects.create(maker="Invented", name="second", number="407")
    rows = [
        Piece(
            name=f"Railway {n % 97}",
            road_number=f"No. {n}",
            edition=edition,
            scale=("H0", "N", "0")[n % 3],
            arrangement=("1'D1'+2'2'", "Bo'Bo'", "C")[n % 3],
            state=Piece.State.values[n % 7],
        )
        for n in range(pieces)
    ]
    for row in rows:
        row.search_text = f"{row.name} {row.road_number} {edition}".casefold()
    kept = Piece.objects.bulk_create(rows, 500)
    media = MediaFile.objects.bulk_create(
        [
            MediaFile(sha256=f"{n:064x}", size=1000, kind="picture", media_type="image/jpeg")
            for n in range(pieces * PHOTOS_EACH)
        ],
        500,
    )
    photos = Photo.objects.bulk_create(
        [Photo(piece=kept[n // PHOTOS_EACH], media=m, position=n) for n, m in enumerate(media)], 500
    )
    for n, piece in enumerate(kept):
        piece.cover = photos[n * PHOTOS_EACH]
    Piece.objects.bulk_update(kept, ["cover"], 500)
    ChangeEntry.objects.bulk_create(
        [
            ChangeEntry(piece=p, action="added", record_kind="Piece", record_uid=uuid.uuid4())
            for p in kept
        ],
        500,
    )
    first = kept[0]
    for _ in range(3):
        inspection = services.add_inspection(piece=first)
        for axle in ("a", "1", "2"):
            services.set_finding(
                inspection=inspection, target_kind="axle", target=axle, state="stiff"
            )
        services.write_job_card(piece=first, title="Service", inspection=inspection)


def report(pieces: int) -> None:
    """Time each page and print the table."""
    from django.test import Client

    from outshop.records.models import Piece

    client = Client(SERVER_NAME="127.0.0.1", raise_request_exception=False)
    full = Piece.objects.order_by("pk").first()
    pages = {
        "unknown address (baseline)": "/nowhere/",
        "bench": "/",
        "shelf, first page": "/shelf/",
        "shelf, last page": "/shelf/?page=9999",
        "shelf, search": "/shelf/?q=railway+13",
        "shelf, filter and sort": "/shelf/?state=stored&sort=changed",
        "piece with three inspections and cards": f"/piece/{full.pk if full else 0}/",
    }
    print(f"\n{pieces} pieces, {pieces * PHOTOS_EACH} photos, {RUNS} requests each\n")
    print("| page | median ms | p95 ms | p95 of processor ms | that over baseline |")
    print("|---|---|---|---|---|")
    baseline = 0.0
    for name, address in pages.items():
        walls, busy = zip(*timed(lambda a=address: client.get(a)), strict=True)  # type: ignore[misc]  # bound now
        baseline = baseline or p95(busy)
        print(
            f"| {name} | {statistics.median(walls):.1f} | {p95(walls):.1f} | {p95(busy):.1f} "
            f"| {p95(busy) / baseline:.1f} |"
        )


def p95(times: Sequence[float]) -> float:
    """Give the 95th percentile."""
    return sorted(times)[int(0.95 * len(times))]


def timed(ask: Callable[[], object]) -> Iterator[tuple[float, float]]:
    """Give the milliseconds of each request by the wall and of the processor; three warm up."""
    for n in range(RUNS + 3):
        begin, busy = time.perf_counter(), time.process_time()
        ask()
        if n >= 3:
            yield (time.perf_counter() - begin) * 1000, (time.process_time() - busy) * 1000


if __name__ == "__main__":
    main()
