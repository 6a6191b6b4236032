"""The passphrase that is asked for when the pages are open to the local network."""

import hmac
import time
from collections.abc import Callable
from hashlib import sha256

from django.conf import settings
from django.contrib.auth.hashers import check_password
from django.http import HttpRequest, HttpResponse, HttpResponseRedirect
from django.middleware.csrf import get_token
from django.template import TemplateDoesNotExist
from django.template.loader import render_to_string
from django.utils.html import format_html
from django.utils.http import url_has_allowed_host_and_scheme
from django.utils.translation import gettext as _

ADDRESS = "/passphrase"
CALENDAR = "/care/calendar/"  # asked for by calendar programs; its address holds a key
WRONG_ANSWER_SECONDS = 1.0  # slows guessing; nobody types faster


class Passphrase:
    """Let nobody in without the passphrase, when one is set."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        """Answer those who know it, ask the others."""
        secret: str = settings.OUTSHOP_PASSPHRASE
        if not secret:
            return self.get_response(request)
        badge = sha256(secret.encode()).hexdigest()  # changes with the passphrase
        if request.path.startswith(CALENDAR) and request.method in ("GET", "HEAD"):
            return self.get_response(request)
        if hmac.compare_digest(str(request.session.get("badge", "")), badge):
            return self.get_response(request)
        if request.path == ADDRESS and request.method == "POST":
            return _judge(request, secret, badge)
        return _ask(request, status=403 if request.method != "GET" else 401)


def _judge(request: HttpRequest, secret: str, badge: str) -> HttpResponse:
    """Take an answer; a forged form gains nothing without the passphrase itself."""
    if not check_password(request.POST.get("passphrase", ""), secret):
        time.sleep(WRONG_ANSWER_SECONDS)
        return _ask(request, status=403, wrong=True)
    request.session.cycle_key()
    request.session["badge"] = badge
    target = request.POST.get("next", "/")
    if not url_has_allowed_host_and_scheme(target, allowed_hosts=None):
        target = "/"
    return HttpResponseRedirect(target)


def _ask(request: HttpRequest, *, status: int, wrong: bool = False) -> HttpResponse:
    target = request.get_full_path() if request.path != ADDRESS else request.POST.get("next", "/")
    context = {"next": target, "wrong": wrong, "csrf_token": get_token(request)}
    try:
        page = render_to_string("errors/passphrase.html", context, request)
    except TemplateDoesNotExist:
        page = format_html(
            '<!doctype html><html lang="en"><meta charset="utf-8"><title>Outshop</title>'
            '<meta name="viewport" content="width=device-width">'
            "<h1>Outshop</h1>{}<form method=post action={}><label>{} "
            "<input type=password name=passphrase autofocus required></label>"
            '<input type=hidden name=next value="{}"><button>{}</button></form></html>',
            format_html("<p>{}</p>", _("That was not the passphrase.")) if wrong else "",
            ADDRESS,
            _("Passphrase"),
            target,
            _("Enter"),
        )
    return HttpResponse(page, status=status)
