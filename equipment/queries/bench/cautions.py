"""The cautions that belong to answers about packs and wiring."""

from .answers import Caution

JOINING = Caution("Joining packs", (
    "Same chemistry, same number of cells, and best each one charged full by itself before.",
    "A fuse in each branch, close to each pack. Two packs feed a short circuit together: hundreds of amperes.",
    "Plus to plus, minus to minus: check twice before the last connection. The wrong way round is a short circuit.",
    "Do not leave packs joined that differ in age or capacity without watching their currents.",
    "The makers’ data sheets decide whether their protection boards allow it.",
))
