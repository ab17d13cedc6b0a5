"""Tells Django of the records."""

from django.apps import AppConfig
from django.db.models.signals import post_migrate

from plasmawright.records.triggers import make_triggers


class RecordsConfig(AppConfig):
    """The records, with 64-bit whole numbers as keys that mean nothing."""

    name = "plasmawright.records"
    label = "records"
    default_auto_field = "django.db.models.BigAutoField"

    def ready(self) -> None:
        """Have the triggers made anew after every migration."""
        post_migrate.connect(make_triggers, sender=self, dispatch_uid="records_triggers")
