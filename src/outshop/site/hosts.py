"""Refuse requests made under a strange name, on each page and not only where a view asks."""

from collections.abc import Callable

from django.core.exceptions import DisallowedHost
from django.http import HttpRequest, HttpResponse
from django.utils.translation import gettext as _


class HostCheck:
    """A page on another site could point its own name at this machine; this stops it."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        """Answer only under an allowed name."""
        try:
            request.get_host()
        except DisallowedHost:
            sentence = _("This address does not lead to Outshop. Use the one that it printed.")
            return HttpResponse(sentence, status=400, content_type="text/plain; charset=utf-8")
        return self.get_response(request)
