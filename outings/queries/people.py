"""How far people stay away at an outing."""

from equipment.queries.exposure import kit_reach


def outing_reach(outing):
    """The KitReach of an outing's kit on its bands (all that the kit covers where none are named); None without a kit.

    Two queries.
    """
    return kit_reach(outing.kit, outing.bands or None) if outing.kit_id else None
