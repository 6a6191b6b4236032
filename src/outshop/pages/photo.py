"""One photo: look at it, name it, make it the cover, take it away."""

from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import path
from django.views.decorators.http import require_POST, require_safe

from outshop.pages import lookup
from outshop.records import services
from outshop.records.models import Photo

LONGEST_CAPTION = 500  # characters


def _photo(pk: int) -> Photo:
    return lookup.one(Photo.objects.select_related("piece", "media", "finding", "step"), pk)


@require_safe
def show(request: HttpRequest, pk: int) -> HttpResponse:
    """Show a photo with what can be done with it."""
    photo = _photo(pk)
    context = {"photo": photo, "piece": photo.piece, "is_cover": photo.piece.cover_id == photo.pk}
    return render(request, "piece/photo.html", context)


@require_POST
def caption(request: HttpRequest, pk: int) -> HttpResponse:
    """Keep what a photo shows, in words."""
    services.caption_photo(
        photo=_photo(pk), caption=request.POST.get("caption", "")[:LONGEST_CAPTION]
    )
    return redirect("photo", pk)


@require_POST
def cover(_request: HttpRequest, pk: int) -> HttpResponse:
    """Show this photo wherever the piece is listed."""
    piece = services.choose_cover(photo=_photo(pk))
    return redirect("piece", piece.pk)


@require_POST
def remove(_request: HttpRequest, pk: int) -> HttpResponse:
    """Take a photo away."""
    photo = _photo(pk)
    piece = photo.piece
    services.remove_photo(photo=photo)
    return redirect(f"{lookup.address(piece)}#identity")


urlpatterns = [
    path("photo/<int:pk>/", show, name="photo"),
    path("photo/<int:pk>/caption/", caption, name="photo_caption"),
    path("photo/<int:pk>/cover/", cover, name="photo_cover"),
    path("photo/<int:pk>/remove/", remove, name="photo_remove"),
]
