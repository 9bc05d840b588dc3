"""Which gear imported contacts were made with: names in a file, and the radios, arrangements and packs they are."""

import re

from equipment.models import Arrangement, Pack, Radio
from outings.adif import ascii
from outings.adif.columns import OURS

# Kind of gear: (the field that names it, its model). The kinds are keys of ImportedFile.choices.
KINDS = {
    "radio": ("MY_RIG", Radio),
    "arrangement": ("MY_ANTENNA", Arrangement),
    "pack": (OURS + "PACK", Pack),
}


def owned(kind, operator):
    """The gear of a kind that an operator owns, retired pieces too: old logs name them."""
    rows = KINDS[kind][1].objects.of(operator)
    return rows.select_related("antenna") if kind == "arrangement" else rows


def spoken(piece):
    """What a piece of gear is called in a log: an arrangement together with its antenna."""
    return f"{piece.antenna.name}: {piece.name}" if isinstance(piece, Arrangement) else piece.name


def likely(text, pieces):
    """The piece that a name in a file most likely means; None where none or several fit equally."""
    wanted = plain(text)
    exact = [piece for piece in pieces if wanted in {plain(spoken(piece)), plain(piece.name), plain(model_of(piece))}]
    if len(exact) == 1:
        return exact[0]
    of_antenna = [piece for piece in pieces if isinstance(piece, Arrangement) and plain(piece.antenna.name) == wanted]
    return of_antenna[0] if len(of_antenna) == 1 and not exact else None


def model_of(piece):
    """Maker and model, as rigs are often named."""
    return " ".join(filter(None, (getattr(piece, "maker", ""), getattr(piece, "model", ""))))


def plain(text):
    """The letters and figures of a name as ADI files write them; the name itself where it has none of them."""
    return re.sub(r"[\W_]+", "", ascii.nearest(text)).lower() or text
