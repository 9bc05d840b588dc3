"""Import-only fields and values of the standard, and safe repairs of common slips: what is meant by them; pure.

Nothing here guesses: MODE `USB` can only mean SSB, but MODE `DATA` or `PHONE` may mean several, and stays refused.
"""

from functools import lru_cache

from . import fields, tables


@lru_cache(maxsize=4096)
def mode(mode_text, submode_text):
    """(mode, submode, what is wrong) of the texts of MODE and SUBMODE, spelt as in the standard.

    An import-only mode and a mode that is a submode become the mode they belong to; SUBMODE, if given, is kept. An
    unknown mode gives "" and says so; an unknown submode is legal (the list only advises) and is kept as it is.
    """
    submode = submode_text.strip()
    known_submode = tables.MODE_OF_SUBMODE.get(submode.upper())
    if known_submode:
        submode = known_submode[1]
    if not mode_text.strip():
        return (known_submode[0] if known_submode else "", submode, "")
    known = tables.mode_named(mode_text)
    if known is None:
        return (known_submode[0] if known_submode else "", submode, "is no mode of the standard")
    found, own_submode = known
    if submode and known_submode and known_submode[0] != found:
        return found, submode, f"has the submode {submode}, which belongs to {known_submode[0]}"
    return found, submode or own_submode, ""


def azimuth(value):
    """An antenna azimuth in 0 to 360: 370 is 10, -10 is 350."""
    amount = fields.number(value)
    return value if amount is None or 0 <= amount <= 360 else fields.number_text(round(amount % 360, 6))


def elevation(value):
    """An antenna elevation in -90 to 90: 100 is over the zenith and down to 80."""
    amount = fields.number(value)
    if amount is None or -90 <= amount <= 90:
        return value
    turned = (amount + 180) % 360 - 180
    if turned > 90:
        turned = 180 - turned
    elif turned < -90:
        turned = -180 - turned
    return fields.number_text(round(turned, 6))


def exported(name, value):
    """A field and its value as an exporter writes them: [(field, value), ...], import-only ones replaced.

    MODE gives MODE and SUBMODE where it was import-only. The caller drops what repeats a field that is there already.
    """
    definition = tables.QSO_FIELDS.get(name)
    if definition is None:
        return [(name, value)]
    if definition.use_instead:
        return [(definition.use_instead, value)]
    if name == "MODE":
        found, submode = tables.IMPORT_ONLY_MODES.get(value.upper(), (value, ""))
        return [("MODE", found), ("SUBMODE", submode)] if submode else [("MODE", found)]
    if name == "ANT_AZ":
        return [(name, azimuth(value))]
    if name == "ANT_EL":
        return [(name, elevation(value))]
    if name.endswith("_EXT") and name in ("GRIDSQUARE_EXT", "MY_GRIDSQUARE_EXT"):
        return [(name, value[:4])]
    return [(name, value)]
