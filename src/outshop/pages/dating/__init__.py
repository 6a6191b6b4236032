"""Years and identity: evidence, timeline, editions, prototype, research notes."""

from outshop.pages.dating.addresses import urlpatterns

__all__ = ["urlpatterns"]
