"""How fast are the care pages with 5,000 pieces and 10,000 log entries? Prints the docs' table.

Baseline in the same run: the shelf's first page on the same collection.
"""

import os
import random
import tempfile
import time
from datetime import timedelta

os.environ["OUTSHOP_HOME"] = tempfile.mkdtemp(prefix="outshop-bench-")
os.environ["DJANGO_SETTINGS_MODULE"] = "outshop.site.settings"

import django

django.setup()

# ruff: noqa: E402 - settings come first
from django.core.management import call_command
from django.test import Client
from django.utils import timezone

from outshop.records.models import CareDone, Piece, RunningLog
from outshop.workshop.care import care_rules

PIECES, ENTRIES, DONE, REPEATS = 5_000, 10_000, 3_000, 40


def fill() -> Piece:
    """Fill the collection and give the piece with the longest log."""
    call_command("migrate", verbosity=0)
    draw = random.Random(7)
    now = timezone.now()
    states = [Piece.State.IN_TRAFFIC, Piece.State.STORED, Piece.State.ON_THE_BENCH]
    Piece.objects.bulk_create(
        Piece(name=f"Invented {n}", state=draw.choice(states), search_text="")
        for n in range(PIECES)
    )
    pieces = list(Piece.objects.all())
    rules = [rule.id for rule in care_rules()]
    RunningLog.objects.bulk_create(
        RunningLog(
            piece=pieces[0] if n % 4 == 0 else draw.choice(pieces[:400]),
            minutes=draw.uniform(5, 60),
            ran_at=now - timedelta(days=draw.uniform(0, 1500)),
        )
        for n in range(ENTRIES)
    )
    CareDone.objects.bulk_create(
        CareDone(
            piece=draw.choice(pieces[:800]),
            rule=draw.choice(rules),
            done_at=now - timedelta(days=draw.uniform(0, 900)),
        )
        for _ in range(DONE)
    )
    return pieces[0]


def p95_ms(client: Client, address: str) -> float:
    """Give the 95th percentile of the processor time of a page, in milliseconds."""
    times = []
    for _ in range(REPEATS):
        began = time.process_time()
        answer = client.get(address)
        times.append((time.process_time() - began) * 1000)
        if answer.status_code != 200:
            message = f"{address} answered {answer.status_code}"
            raise SystemExit(message)
    return sorted(times)[int(0.95 * REPEATS)]


def main() -> None:
    """Print the table."""
    piece = fill()
    client = Client(HTTP_HOST="127.0.0.1")
    shelf = p95_ms(client, "/shelf/")
    print("| page | p95 ms | times the shelf |")
    print("|---|---|---|")
    print(f"| shelf | {shelf:.0f} | 1.0 |")
    for name, address in (
        ("due list", "/care/"),
        ("care of the piece with 2,500 entries", f"/piece/{piece.pk}/care/"),
        ("its running log", f"/ran/{piece.uid}/"),
        ("its own page", f"/piece/{piece.pk}/"),
        ("bench", "/"),
    ):
        ms = p95_ms(client, address)
        print(f"| {name} | {ms:.0f} | {ms / shelf:.1f} |")


if __name__ == "__main__":
    main()
