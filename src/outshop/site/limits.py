"""Refuse uploads that are too large before any of them is unpacked."""

from collections.abc import Callable

from django.conf import settings
from django.http import HttpRequest, HttpResponse

from outshop.errors import MediaLimitError
from outshop.site.errors import page_of


class UploadLimit:
    """Look at the announced size; the server has counted it even for a chunked body."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        """Answer, unless the body is larger than the limit."""
        limit: int = settings.OUTSHOP_LARGEST_UPLOAD
        size = int(request.META.get("CONTENT_LENGTH") or 0)
        if size > limit:
            message = (
                f"the file is {size / 1e6:.0f} MB and at most {limit / 1e6:.0f} MB can be sent: "
                "cut it into shorter pieces, or record with less quality"
            )
            return page_of(request, MediaLimitError(message), status=413)
        return self.get_response(request)
