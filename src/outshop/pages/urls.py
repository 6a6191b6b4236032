"""Addresses of the pages."""

from django.http import HttpRequest, HttpResponse
from django.urls import URLPattern, URLResolver, path

app_name = "pages"


def placeholder(request: HttpRequest) -> HttpResponse:
    """Answer until the pages are there."""
    return HttpResponse("Outshop")


urlpatterns: list[URLPattern | URLResolver] = [path("", placeholder, name="bench")]
