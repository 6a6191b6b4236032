"""Every error becomes a page with one sentence and the right status, on any address."""

import errno
from collections.abc import Callable

import pytest
from django.db import OperationalError
from django.http import HttpRequest, HttpResponse
from django.test import Client, RequestFactory
from django.urls import path

from outshop.errors import (
    ConflictError,
    InputError,
    MediaError,
    MissingError,
    OutshopError,
    StoreError,
)
from outshop.site import errors, urls

RAISED: list[Exception] = []


def view(_request: HttpRequest) -> HttpResponse:
    raise RAISED[0]


urlpatterns = [path("raise/", view), *urls.urlpatterns]
handler404, handler500 = urls.handler404, urls.handler500


@pytest.fixture(name="ask")
def _ask(settings: object) -> Callable[[Exception], HttpResponse]:
    settings.ROOT_URLCONF = __name__

    def ask(problem: Exception) -> HttpResponse:
        RAISED[:] = [problem]
        return Client(raise_request_exception=False).get("/raise/", headers={"host": "localhost"})

    return ask


@pytest.mark.parametrize(
    ("problem", "status", "sentence"),
    [
        (InputError("the year 20 is none"), 400, "The year 20 is none"),
        (MediaError("x.wav is empty"), 400, "X.wav is empty"),
        (MissingError("no piece 7"), 404, "No piece 7"),
        (ConflictError("changed elsewhere"), 409, "Changed elsewhere"),
        (StoreError("the disk is full"), 503, "The disk is full"),
        (OperationalError("database is locked"), 503, "try again in a moment"),
        (OperationalError("database or disk is full"), 503, "disk is full"),
        (OperationalError("attempt to write a readonly database"), 503, "cannot be written"),
        (OSError(errno.ENOSPC, "No space left on device"), 503, "disk is full"),
        (OSError(errno.EACCES, "Permission denied"), 503, "cannot be written"),
        (ValueError("some slip"), 500, "Something went wrong inside Outshop"),
    ],
    ids=lambda value: type(value).__name__ if isinstance(value, Exception) else None,
)
def test_an_error_is_a_page_with_its_sentence(
    ask: Callable[[Exception], HttpResponse], problem: Exception, status: int, sentence: str
) -> None:
    answer = ask(problem)
    assert answer.status_code == status
    assert sentence in answer.content.decode()
    assert "Traceback" not in answer.content.decode()


def test_every_kind_of_error_has_a_status() -> None:
    def kinds(base: type[OutshopError]) -> list[type[OutshopError]]:
        return [base, *(k for sub in base.__subclasses__() for k in kinds(sub))]

    told = {k for k in kinds(OutshopError) if errors.status_of(k.__new__(k)) != 500}
    assert set(kinds(OutshopError)) - told == {OutshopError}


def test_a_busy_store_says_when_to_come_back(ask: Callable[[Exception], HttpResponse]) -> None:
    assert ask(OperationalError("database is locked"))["Retry-After"] == "5"


def test_what_is_in_a_sentence_is_never_markup(ask: Callable[[Exception], HttpResponse]) -> None:
    page = ask(InputError("<script>alert(1)</script> is no name")).content.decode()
    assert "<script>alert" not in page
    assert "&lt;script&gt;" in page


def test_without_a_template_the_sentence_still_comes(monkeypatch: pytest.MonkeyPatch) -> None:
    from django.template import TemplateDoesNotExist

    def lacking(*_args: object) -> str:
        raise TemplateDoesNotExist("errors/sentence.html")

    monkeypatch.setattr(errors, "render_to_string", lacking)
    page = errors.sentence_page(RequestFactory().get("/"), "<b> is no name", 400)
    assert (page.status_code, b"&lt;b&gt; is no name" in page.content) == (400, True)


@pytest.mark.django_db
def test_an_unknown_address_is_a_page(client: Client) -> None:
    answer = client.get("/nowhere/", headers={"host": "localhost"})
    assert (answer.status_code, "nothing at this address" in answer.content.decode()) == (404, True)
