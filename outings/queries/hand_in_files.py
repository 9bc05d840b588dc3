"""The files that an outing's log is handed in as: ADI or ADX, for one own call, UTC day and own reference."""

import datetime

from outings.models import Contact

from .adif_files import Handover
from .hand_in import hand_in_files


def hand_in_file(outing, number):
    """The file of that number among those that the hand-in page lists; None where there is none."""
    contacts = Contact.objects.filter(outing=outing).only("started_at", "station_call", "pending")
    return next((file for file in hand_in_files(outing, contacts) if file.number == number), None)


def handover_of(outing, file, format_):
    """The contacts of one of these files as they are written; `format_` is adi or adx."""
    begin = datetime.datetime.combine(file.day, datetime.time(), datetime.UTC)
    contacts = Contact.objects.filter(
        outing=outing, station_call=file.station_call, pending=False, started_at__gte=begin,
        started_at__lt=begin + datetime.timedelta(days=1),
    )
    return UnderOneReference(contacts, format_, file)


class UnderOneReference(Handover):
    """Contacts of a file that name its own reference, whatever the files that they came in named."""

    def __init__(self, contacts, format_, file):
        super().__init__(contacts, format_)
        self.reference = {
            name: value for name, value in (("MY_SIG", file.programme), ("MY_SIG_INFO", file.reference)) if value
        }

    def _own_side(self, contact, came):
        own, wins = super()._own_side(contact, came)
        return {**own, **self.reference}, wins | set(self.reference)
