"""The files that an outing's log is handed in as: ADI or ADX, for one own call, UTC day and own reference."""

import datetime

from outings.adif import adi, adx, columns, fields
from outings.models import Contact

from .hand_in import hand_in_files

PROGRAM, VERSION = "stationlog", "1"
OWN_REFERENCE = ("MY_SIG", "MY_SIG_INFO")
TYPES = {"adi": "text/plain; charset=us-ascii", "adx": "application/xml; charset=utf-8"}


def hand_in_file(outing, number):
    """The file of that number among those that the hand-in page lists; None where there is none."""
    contacts = Contact.objects.filter(outing=outing).only("started_at", "station_call", "pending")
    return next((file for file in hand_in_files(outing, contacts) if file.number == number), None)


def text_of(outing, file, format_, moment):
    """A file as text; `format_` is adi or adx, `moment` is written as its date.

    Fields of contacts that came in files go out as they came; the own reference is that of the file in all of them.
    """
    begin = datetime.datetime.combine(file.day, datetime.time(), datetime.UTC)
    contacts = Contact.objects.filter(
        outing=outing, station_call=file.station_call, pending=False, started_at__gte=begin,
        started_at__lt=begin + datetime.timedelta(days=1),
    ).select_related("stint__radio", "stint__arrangement__antenna", "stint__pack").order_by("started_at", "id")
    written = columns.Written(unicode=format_ == "adx")
    writer = adx.Writer() if format_ == "adx" else adi.Writer()
    where = {**own_place(outing.site), "MY_SIG": file.programme, "MY_SIG_INFO": file.reference}
    pieces = [writer.header(PROGRAM, VERSION, moment)]
    for contact in contacts:
        own = {name: value for name, value in {**where, **own_gear(contact.stint)}.items() if value}
        wins = OWN_REFERENCE if file.reference or file.programme else ()
        pieces.append(writer.record(written.fields(row_of(contact), contact.raw, own, wins)))
    if format_ == "adx":
        pieces.append(writer.close())
    return "".join(pieces)


def row_of(contact):
    """The columns of a contact as `columns.fields_of` takes them: moments and days as text in UTC."""
    row = {column: getattr(contact, column) for column in columns.COLUMNS}
    for column in ("started_at", "ended_at"):
        if row[column]:
            row[column] = row[column].astimezone(datetime.UTC).strftime("%Y-%m-%d %H:%M:%S")
    for column in ("qsl_sent_on", "qsl_rcvd_on"):
        if row[column]:
            row[column] = row[column].isoformat()
    return row


def own_place(site):
    """The fields that say where one's own station was."""
    found = {
        "MY_GRIDSQUARE": site.grid[:8], "MY_LAT": fields.location_text(site.latitude_deg, "NS"),
        "MY_LON": fields.location_text(site.longitude_deg, "EW"), "MY_COUNTRY": site.country, "MY_STATE": site.state,
        "MY_CNTY": site.county,
    }
    for name, value in (
        ("MY_DXCC", site.dxcc), ("MY_CQ_ZONE", site.cq_zone), ("MY_ITU_ZONE", site.itu_zone),
    ):
        found[name] = "" if value is None else str(value)
    if site.altitude_m is not None:
        found["MY_ALTITUDE"] = fields.number_text(site.altitude_m)
    return found


def own_gear(stint):
    """The fields that say with what the contact was made."""
    found = {}
    if stint and stint.radio:
        found["MY_RIG"] = str(stint.radio)
    if stint and stint.arrangement:
        found["MY_ANTENNA"] = f"{stint.arrangement.antenna}: {stint.arrangement}"
    if stint and stint.pack:
        found[columns.OURS + "PACK"] = str(stint.pack)
    return found
