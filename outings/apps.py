"""The outings app."""

from django.apps import AppConfig


class OutingsConfig(AppConfig):
    name = "outings"
    verbose_name = "Outings"
