"""The equipment app."""

from django.apps import AppConfig


class EquipmentConfig(AppConfig):
    name = "equipment"
    verbose_name = "Equipment"
