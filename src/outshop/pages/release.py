"""The release sheet: see what will stand on it, sign, keep the PDF."""

from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import path
from django.utils.text import slugify
from django.views.decorators.http import require_http_methods, require_safe

from outshop.pages import fields, lookup
from outshop.pages.release_lines import lines_of
from outshop.records import services
from outshop.reports import compose, release_sheet

LONGEST_NAME = 200  # characters


@require_http_methods(["GET", "POST"])
def new(request: HttpRequest, pk: int) -> HttpResponse:
    """Show what will stand on the sheet; freeze it when it is signed."""
    job = lookup.job(pk)
    piece = job.piece
    if request.method == "POST":
        signed_by = request.POST.get("signed_by", "").strip()[:LONGEST_NAME]
        sheet = compose.release_of(piece, job, signed_by=signed_by)
        release = services.issue_release(
            piece=piece,
            job=job,
            snapshot=sheet.as_json(),
            pdf=release_sheet(sheet, compose.photo_of(sheet)),
            signed_by=signed_by,
            token=fields.form_token(request),
        )
        return redirect("release", release.pk)
    sheet = compose.release_of(piece, job)
    context = {"job": job, "piece": piece, "lines": lines_of(sheet)}
    return render(request, "release/new.html", context)


@require_safe
def show(request: HttpRequest, pk: int) -> HttpResponse:
    """Show an issued sheet."""
    release = lookup.release(pk)
    name = f"{slugify(str(release.piece)) or 'piece'}-release-{release.number}.pdf"
    context = {"release": release, "piece": release.piece, "file_name": name}
    return render(request, "release/release.html", context)


urlpatterns = [
    path("job/<int:pk>/release/", new, name="release_new"),
    path("release/<int:pk>/", show, name="release"),
]
