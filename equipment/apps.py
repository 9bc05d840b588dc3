"""The equipment app."""

from django.apps import AppConfig


class EquipmentConfig(AppConfig):
    name = "equipment"
    verbose_name = "Equipment"

    def ready(self):
        from .models import gear_history as history
        from .models import items, kits
        from .models.coils import Coil, CoilTap

        for model in (items.Radio, items.Antenna, items.Arrangement, items.Pack, items.Feedline, items.Accessory, Coil):
            history.follow(model)
        history.follow(items.PowerSetting, "radio")
        history.follow(items.BandSetting, "arrangement")
        history.follow(CoilTap, "coil")
        history.follow(kits.Kit, links=("arrangements",))
        history.follow(kits.KitItem, "kit")
