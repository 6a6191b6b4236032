"""Registration of the records application."""

from django.apps import AppConfig


class RecordsConfig(AppConfig):
    """Everything that is kept."""

    name = "outshop.records"
    label = "records"
    default_auto_field = "django.db.models.BigAutoField"
