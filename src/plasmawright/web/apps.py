"""Tells Django of the pages."""

from django.apps import AppConfig


class WebConfig(AppConfig):
    """The pages, with their templates and static files."""

    name = "plasmawright.web"
    label = "web"
