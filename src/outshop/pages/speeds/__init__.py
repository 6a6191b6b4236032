"""The speed table of a piece: runs at several settings, typed or from a file."""

from outshop.pages.speeds.views import urlpatterns

__all__ = ["urlpatterns"]
