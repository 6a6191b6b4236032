"""Registration of the pages application."""

from django.apps import AppConfig


class PagesConfig(AppConfig):
    """What the browser shows."""

    name = "outshop.pages"
    label = "pages"
