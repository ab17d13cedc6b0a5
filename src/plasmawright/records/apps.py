"""Tells Django of the records."""

from django.apps import AppConfig


class RecordsConfig(AppConfig):
    """The records, with 64-bit whole numbers as keys that mean nothing."""

    name = "plasmawright.records"
    label = "records"
    default_auto_field = "django.db.models.BigAutoField"
