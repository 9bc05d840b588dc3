"""What is owned and measured, and the history that rows of every app keep."""

from .coils import Coil, CoilTap
from .history import CannotTakeBack, Change, LivingManager, Owned, OwnedQuerySet, Recorded
from .items import (
    Accessory,
    Antenna,
    Arrangement,
    BandSetting,
    Feedline,
    Item,
    Pack,
    PackReading,
    PowerSetting,
    Radio,
)
from .kits import Kit, KitItem
from .pack_logs import PackLog
from .retiring import Retirable, RetirableQuerySet
from .search import ReadableJSON, any_holds
from .sweeps import Sweep

__all__ = [
    "Accessory", "Antenna", "Arrangement", "BandSetting", "CannotTakeBack", "Change", "Coil", "CoilTap", "Feedline",
    "Item", "Kit", "KitItem", "LivingManager", "Owned", "OwnedQuerySet", "Pack", "PackLog", "PackReading",
    "PowerSetting", "Radio", "ReadableJSON", "Recorded", "Retirable", "RetirableQuerySet", "Sweep", "any_holds",
]
