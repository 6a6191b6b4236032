"""Offers, prices, values and papers."""

from outshop.pages.market.addresses import urlpatterns

__all__ = ["urlpatterns"]
