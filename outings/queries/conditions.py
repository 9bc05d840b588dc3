"""The conditions of a contact, for its page: the sun at both ends, the path, and the indices typed with the outing."""

from dataclasses import dataclass

from outings import conditions
from outings.models import Contact


@dataclass(frozen=True)
class ContactConditions:
    """Conditions of a contact with what was typed with its outing; indices are None where none was typed."""

    at: conditions.Conditions
    solar_flux: float | None
    a_index: float | None
    k_index: float | None
    solar_activity: str | None
    geomagnetic: str | None

    @property
    def day_percent(self):
        """How much of the path was in daylight, in percent; None without a path."""
        return None if self.at.day_share is None else 100 * self.at.day_share


def of_contact(contact: Contact):
    """The conditions of a contact; its outing and site are loaded with it."""
    outing = contact.outing
    return ContactConditions(
        conditions.conditions(outing.site.place, contact.their_place, contact.started_at),
        outing.solar_flux, outing.a_index, outing.k_index,
        conditions.solar_activity(outing.solar_flux), conditions.geomagnetic(outing.k_index),
    )
