"""Headers that keep the browser from loading or running anything of others."""

from collections.abc import Callable

from django.http import HttpRequest, HttpResponse

# blob: lets a page play the recording that it has just taken, before it is sent.
POLICY = (
    "default-src 'self'; media-src 'self' blob:; object-src 'none'; "
    "base-uri 'none'; form-action 'self'; frame-ancestors 'none'"
)


class SecurityHeaders:
    """Add a strict content policy and close what a workshop has no use for."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        """Answer, with the headers added."""
        response = self.get_response(request)
        response.headers.setdefault("Content-Security-Policy", POLICY)
        response.headers.setdefault(
            "Permissions-Policy",
            "geolocation=(), payment=(), usb=(), microphone=(self), camera=(self)",
        )
        response.headers.setdefault("X-Content-Type-Options", "nosniff")
        return response
