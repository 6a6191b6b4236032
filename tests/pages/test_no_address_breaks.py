"""Every address of every room, asked with things that exist, things that do not, and rubbish.

A view may answer with a page, a redirect or a sentence (4xx); it may never raise: the test
client passes on what a view does not turn into an answer.
"""

import io
import re

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.db import transaction
from django.urls import get_resolver
from django.urls.resolvers import URLPattern, URLResolver
from PIL import Image

from outshop.records import services


def routes(resolver: URLResolver, before: str = "") -> list[tuple[str, URLPattern]]:
    found = []
    for pattern in resolver.url_patterns:
        route = before + str(pattern.pattern)
        if isinstance(pattern, URLResolver):
            found += routes(pattern, route)
        else:
            found.append((route, pattern))
    return found


ROUTES = sorted(route for route, _pattern in routes(get_resolver("outshop.site.urls")))
TOGETHER = 15  # addresses that share one filled store
RUBBISH = {
    "name": "",
    "note": "x" * 5000,
    "state": "\x00flying",
    "kind": "axle",
    "target": "<b>",
    "version": "seven",
    "file": "a text where a file belongs",
    "role": "during",
    "leg": "-1",
    "minutes": "nan",
    "date": "1990/1989",
    "window": "1990/1989",
    "trust": "2000",
    "price": "1e400",
    "task": ["no-such-task", ""],
    "data": '{"not": "a list"}',
    "text": "a,b\n1,two\n",
    "form_token": "x" * 200,
    "sure": "maybe",
}


def address(route: str, pk: int, text: str) -> str:
    """Fill a route's places: numbers by ``pk``, words by ``text``."""
    filled = re.sub(r"<int:\w+>", str(pk), route)
    return "/" + re.sub(r"<(?:str|slug|path|uuid)?:?\w+>", text, filled)


@pytest.fixture(name="full")
def _full(piece):
    """One of most things, each under number 1 or near it."""
    file = io.BytesIO()
    Image.new("RGB", (20, 10), "red").save(file, "PNG")
    file.seek(0)
    services.add_photo(piece=piece, source=file, name="a.png")
    inspection = services.add_inspection(piece=piece)
    services.set_finding(inspection=inspection, target_kind="axle", target="a", state="stiff")
    services.write_job_card(piece=piece, title="card", inspection=inspection)
    services.plan_run_in(piece=piece)
    return piece


@pytest.mark.parametrize("start", range(0, len(ROUTES), TOGETHER))
def test_neither_asking_nor_rubbish_breaks_an_address(client, full, start):
    for route in ROUTES[start : start + TOGETHER]:
        with transaction.atomic():
            statuses = ask_and_send(client, route, full.pk)
            transaction.set_rollback(True)
        assert 500 not in statuses, route


def ask_and_send(client, route: str, pk: int) -> list[int]:
    there, nowhere = address(route, pk, "a"), address(route, 10**9, "0" * 64)
    broken = SimpleUploadedFile("x.csv", b"\xff\xfe\x00\x01;;;\n,,\n", "text/csv")
    answers = [
        client.get(there),
        client.get(nowhere),
        client.post(there, {}),
        client.post(there, RUBBISH, headers={"HX-Request": "true"}),
        client.post(there, RUBBISH | {"file": broken}),
        client.post(nowhere, RUBBISH),
    ]
    return [answer.status_code for answer in answers]


def test_a_query_of_rubbish_never_breaks(client, full):
    for route in ROUTES:
        where = address(route, full.pk, "a")
        answer = client.get(
            where, {"page": "x", "axle": "\x00", "before": "-", "q": "'\"<", "job": "1e9"}
        )
        assert answer.status_code < 600
