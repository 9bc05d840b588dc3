"""The project as an app: it holds the accounts."""

from django.apps import AppConfig


class StationlogConfig(AppConfig):
    name = "stationlog"
    verbose_name = "Station log"
