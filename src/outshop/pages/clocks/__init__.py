"""Clocks of one run held together, and the slip where its sound is there too."""

from outshop.pages.clocks.views import urlpatterns

__all__ = ["urlpatterns"]
