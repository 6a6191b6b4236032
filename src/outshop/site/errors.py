"""Turn errors into pages that hold one sentence."""

import logging
from collections.abc import Callable

from django.core.exceptions import RequestDataTooBig, TooManyFilesSent
from django.db import DatabaseError
from django.http import Http404, HttpRequest, HttpResponse
from django.template import TemplateDoesNotExist
from django.template.loader import render_to_string
from django.utils.html import format_html
from django.utils.translation import gettext as _

from outshop.errors import (
    ConflictError,
    InputError,
    MissingError,
    OutshopError,
    StoreError,
)
from outshop.records.store import as_store_error

log = logging.getLogger("outshop")

STATUS: tuple[tuple[type[OutshopError], int], ...] = (
    (InputError, 400),
    (MissingError, 404),
    (ConflictError, 409),
    (StoreError, 503),
)


def status_of(problem: OutshopError) -> int:
    """Give the HTTP status of an error's kind."""
    return next((status for kind, status in STATUS if isinstance(problem, kind)), 500)


class Sentences:
    """Catch what views raise: deliberate errors become a page, others a log entry and a page."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        """Answer; an address that only takes forms says so instead of an empty page."""
        response = self.get_response(request)
        if response.status_code != 405 or response.content:
            return response
        sentence = _("This address only takes what a form sends; nothing was changed.")
        page = sentence_page(request, sentence, 405)
        page["Allow"] = response.get("Allow", "POST")
        return page

    def process_exception(self, request: HttpRequest, problem: Exception) -> HttpResponse | None:
        """Give the page of a deliberate error, or of a store that cannot be used."""
        if isinstance(problem, OSError | DatabaseError):
            problem = as_store_error(problem) or problem
        if isinstance(problem, StoreError):
            log.error("%s %s: %s", request.method, request.path, problem)
        if isinstance(problem, OutshopError):
            return page_of(request, problem)
        if isinstance(problem, RequestDataTooBig | TooManyFilesSent):
            sentence = _("The form holds more than can be taken in at once. Send less of it.")
            return page_of(request, InputError(sentence), status=413)
        return None


def page_of(
    request: HttpRequest, problem: OutshopError, *, status: int | None = None
) -> HttpResponse:
    """Give the page of an error; htmx gets the same page and a header that names its place."""
    return sentence_page(request, str(problem), status or status_of(problem))


def sentence_page(request: HttpRequest, sentence: str, status: int) -> HttpResponse:
    """Give a page with one sentence, from the template or, without one, as plain HTML."""
    sentence = sentence[:1].upper() + sentence[1:]
    context = {"sentence": sentence, "status": status}
    try:
        page = render_to_string("errors/sentence.html", context, request)
    except TemplateDoesNotExist:
        page = format_html(
            '<!doctype html><html lang="en"><meta charset="utf-8"><title>Outshop</title>'
            '<main><h1>{}</h1><p role="alert">{}</p><p><a href="/">{}</a></p></main></html>',
            status,
            sentence,
            _("Back to the bench"),
        )
    response = HttpResponse(page, status=status)
    if status == 503:
        response["Retry-After"] = "5"
    return response


def bad_request(request: HttpRequest, exception: Exception) -> HttpResponse:
    """Page for a request that Django refused."""
    log.warning("%s refused: %s", request.path, exception)
    return sentence_page(request, _("The browser sent something that cannot be used."), 400)


def forbidden(request: HttpRequest, exception: Exception) -> HttpResponse:  # noqa: ARG001
    """Page for something that is not allowed."""
    return sentence_page(request, _("This is not allowed."), 403)


def csrf_failure(request: HttpRequest, reason: str = "") -> HttpResponse:
    """Page for a form that did not come from these pages, or from before a restart."""
    log.warning("%s refused: %s", request.path, reason)
    sentence = _("The form was out of date. Go back, load the page again and send it once more.")
    return sentence_page(request, sentence, 403)


def not_found(request: HttpRequest, exception: Exception) -> HttpResponse:
    """Page for an address that leads nowhere."""
    known = isinstance(exception, Http404) and exception.args and exception.args[0]
    plain = isinstance(known, str) and known
    return sentence_page(request, plain or _("There is nothing at this address."), 404)


def server_error(request: HttpRequest) -> HttpResponse:
    """Page for a fault of the program; the log holds the rest."""
    sentence = _("Something went wrong inside Outshop. Nothing was lost; the log says more.")
    return sentence_page(request, sentence, 500)
