"""The outings app."""

from django.apps import AppConfig


class OutingsConfig(AppConfig):
    name = "outings"
    verbose_name = "Outings"

    def ready(self):
        from equipment.models import gear_history

        from .models import Site

        gear_history.follow(Site)
