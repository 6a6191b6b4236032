"""The meter page: typed readings of one piece, what they mean, and the form for the pencil."""

from outshop.pages.meter.views import urlpatterns

__all__ = ["urlpatterns"]
