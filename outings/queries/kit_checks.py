"""The check of an outing's kit, put together from what its plan has read already."""

from equipment.queries.kit_check import kit_check


def outing_check(outing, part, energy):
    """The KitCheck of an outing, None without a kit; `part` is its queries.plans.KitPart. At most four queries."""
    if part is None:
        return None
    return kit_check(outing.kit, found=part.bands, lines=list(part.lines), energy=energy)
