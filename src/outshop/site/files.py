"""Serve kept files by checksum, with byte ranges so that a player can jump."""

import re
from pathlib import Path

from django.http import FileResponse, HttpRequest, HttpResponse
from django.http.response import HttpResponseBase
from django.views.decorators.cache import cache_control
from django.views.decorators.http import require_safe

from outshop.errors import MissingError
from outshop.records import store, thumbnails
from outshop.records.models import MediaFile

# Only these are shown by the browser; everything else is offered as a download.
SHOWN = ("audio/", "video/", "image/jpeg", "image/png", "image/webp", "application/pdf")
KEPT_FOR = 365 * 24 * 3600  # a checksum's bytes never change


@require_safe
@cache_control(private=True, max_age=KEPT_FOR, immutable=True)
def original(request: HttpRequest, sha256: str) -> HttpResponseBase:
    """Give the original."""
    media = MediaFile.objects.filter(sha256=sha256).first()
    if media is None:
        message = "there is no file under this number"
        raise MissingError(message)
    path = store.path_of(sha256)
    shown = media.media_type.startswith(SHOWN)
    response = ranged(request, path, media.media_type if shown else "application/octet-stream")
    name = media.original_name or sha256[:12]
    response["Content-Disposition"] = store.disposition(name, inline=shown)
    return response


@require_safe
@cache_control(private=True, max_age=KEPT_FOR, immutable=True)
def thumbnail(request: HttpRequest, sha256: str) -> HttpResponseBase:
    """Give a small copy of a picture, without the place where it was taken."""
    return ranged(request, thumbnails.path_of(sha256), "image/jpeg")


def ranged(request: HttpRequest, path: Path, media_type: str) -> HttpResponseBase:
    """Give the file, or the one range of bytes that was asked for (RFC 9110, 14)."""
    size = store.size_of(path)
    asked = re.fullmatch(r"bytes=(\d*)-(\d*)", request.headers.get("Range", ""))
    if not asked or asked.groups() == ("", ""):
        response = FileResponse(store.open_read(path), content_type=media_type)
        response["Accept-Ranges"] = "bytes"
        return response
    begin, end = asked.groups()
    first = int(begin) if begin else max(size - int(end), 0)
    last = min(int(end), size - 1) if begin and end else size - 1
    if first > last:
        refused = HttpResponse(status=416)
        refused["Content-Range"] = f"bytes */{size}"
        return refused
    file = store.open_read(path)
    file.seek(first)
    part = FileResponse(store.Part(file, last - first + 1), status=206, content_type=media_type)
    part["Content-Range"] = f"bytes {first}-{last}/{size}"
    part["Content-Length"] = str(last - first + 1)
    part["Accept-Ranges"] = "bytes"
    return part
