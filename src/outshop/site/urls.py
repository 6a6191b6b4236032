"""Addresses of the web application."""

from django.urls import URLPattern, URLResolver, include, path

from outshop.site import files

urlpatterns: list[URLPattern | URLResolver] = [
    path("file/<str:sha256>", files.original, name="file"),
    path("thumbnail/<str:sha256>", files.thumbnail, name="thumbnail"),
    path("", include("outshop.pages.urls")),
]

handler400 = "outshop.site.errors.bad_request"
handler403 = "outshop.site.errors.forbidden"
handler404 = "outshop.site.errors.not_found"
handler500 = "outshop.site.errors.server_error"
