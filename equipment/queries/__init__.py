"""What pages and papers read of the gear, across tables, as frozen dataclasses."""

from .gear import GearRow, KitRow, gear, gear_rows, kit_rows
from .kits import BandCover, BandSettings, KitWeight, PackingLine, as_set, kit_weight, packing_list, settings_by_band
from .references import Reference, references

__all__ = [
    "BandCover", "BandSettings", "GearRow", "KitRow", "KitWeight", "PackingLine", "Reference", "as_set", "gear",
    "gear_rows", "kit_rows", "kit_weight", "packing_list", "references", "settings_by_band",
]
