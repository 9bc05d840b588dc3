"""The cautions that belong to answers about packs and wiring."""

from .answers import Caution

JOINING = Caution("Joining packs", (
    "Same chemistry, same number of cells, and best each one charged full by itself before.",
    "A fuse in each branch, close to each pack. Two packs feed a short circuit together: hundreds of amperes.",
    "Plus to plus, minus to minus: check twice before the last connection. The wrong way round is a short circuit.",
    "Do not leave packs joined that differ in age or capacity without watching their currents.",
    "The makers’ data sheets decide whether their protection boards allow it.",
))
CHARGING = Caution("Charging", (
    "Only with a charger made for this chemistry and number of cells, within the maker’s limits.",
    "The mains side of a charger can kill: dry, undamaged, never opened, and not out in the rain.",
    "On a surface that does not burn, not unattended. A pack that gets hot, swells or smells: away from it, and out.",
    "Lithium packs are not charged below 0 °C: metal is deposited inside, and they may burn later.",
))
FAULT_CURRENT = Caution("Fault current and fire", (
    "A short circuit draws hundreds of amperes from any pack: fuse the positive lead close to the pack.",
    "A fuse protects the wire, not the radio. Never a larger one than the thinnest wire behind it may carry.",
    "Cover bare terminals, take rings and bracelets off, connect the pack last and disconnect it first.",
    "A connector that gets warm is worn out. Local codes and the makers’ data decide.",
))
EMPTY = Caution("Running low", (
    "Stop at the pack’s lowest voltage: deep discharge damages it, and a damaged lithium pack can burn when charged.",
    "Keep a reserve for a call for help: a radio that is needed must not be the one that emptied the pack.",
))
