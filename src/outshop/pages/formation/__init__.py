"""Lines, vehicles on the shelf, and trains made up from them."""

from outshop.pages.formation.addresses import urlpatterns

__all__ = ["urlpatterns"]
