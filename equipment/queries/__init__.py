"""What pages and papers read of the gear, across tables, as frozen dataclasses."""

from .kits import BandCover, BandSettings, KitWeight, PackingLine, kit_weight, packing_list, settings_by_band

__all__ = [
    "BandCover", "BandSettings", "KitWeight", "PackingLine", "kit_weight", "packing_list", "settings_by_band",
]
