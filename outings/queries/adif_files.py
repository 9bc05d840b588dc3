"""Contacts as ADIF files, streamed: the fields of the own side, and what had to be written otherwise."""

import itertools
from dataclasses import dataclass

from django.utils import timezone

from equipment import progress
from outings.adif import adi, adx, ascii, columns, definitions, fields, tables, writing
from outings.models import Contact, ImportedFile, Outing, Stint

PROGRAM = "stationlog"
VERSION = "1"
CHUNK = 500
OURS = columns.OURS


@dataclass(frozen=True)
class Conversion:
    """Values of one field that ADI cannot hold: how many, and one of them as it is and as it was written."""

    field: str
    count: int
    original: str
    written: str


class Handover:
    """The file of some contacts. `pieces()` gives its text piece by piece; `conversions` is complete at its end.

    `contacts` is a QuerySet; `format` "adi" or "adx".
    """

    def __init__(self, contacts, format_="adi"):
        self.contacts = contacts.order_by("started_at", "pk")
        self.format = format_
        imports = ImportedFile.objects.filter(pk__in=contacts.order_by().values("imported_by").distinct())
        self.gear = {imported.pk: imported.choices.get("gear") or {} for imported in imports}
        self.defined = _defined(contacts, imports)
        self.written = writing.Written(unicode=format_ == "adx", defined=self.defined)
        self.own = {}

    @property
    def conversions(self):
        return [Conversion(name, *found) for name, found in sorted(self.written.converted.items())]

    @property
    def content_type(self):
        return "application/xml; charset=utf-8" if self.format == "adx" else "text/plain; charset=us-ascii"

    def pieces(self):
        """The text of the file in pieces of some hundred contacts."""
        writer = adx.Writer() if self.format == "adx" else adi.Writer()
        yield writer.header(PROGRAM, VERSION, timezone.now(), self.defined)
        with progress.step("Writing contacts", self.contacts.count) as did:
            for part in with_circumstances(self.contacts):
                yield "".join([writer.record(self.fields(contact)) for contact in part])
                did(len(part))
        if self.format == "adx":
            yield writer.close()
        elif self.conversions:
            total = sum(found.count for found in self.conversions)
            names = ", ".join(f"{found.field} {found.count}" for found in self.conversions)
            yield writer.remark(
                f"{total} values were written in their nearest ASCII, since ADI allows no other letters: {names}. "
                "An ADX file keeps them."
            )

    def fields(self, contact):
        """The fields of a contact as they are written."""
        row = {name: getattr(contact, name) for name in columns.COLUMNS}
        for name in ("started_at", "ended_at"):
            row[name] = f"{row[name]:%Y-%m-%d %H:%M:%S}" if row[name] else None
        for name in ("qsl_sent_on", "qsl_rcvd_on"):
            row[name] = row[name].isoformat() if row[name] else None
        came = contact.raw
        own, wins = self._own_side(contact, came)
        own[OURS + "UUID"] = str(contact.uuid)
        own[OURS + "REVISION"] = str(contact.revision)
        return self.written.fields(row, came, own, wins)

    def _own_side(self, contact, came):
        """(fields about the own side, those of them that win over what came in a file)."""
        outing, stint = contact.outing, contact.stint
        key = (outing.pk, stint and stint.pk)
        found = self.own.get(key)
        if found is None:
            if len(self.own) > 5000:
                self.own.clear()
            found = self.own[key] = {**_of_outing(outing), **_of_stint(stint)}
        own, wins = dict(found), set()
        if contact.power_w is not None:
            own.pop("TX_PWR", None)
        if came:
            given = {name: value for name, _, value in came}
            grid, theirs = own.get("MY_GRIDSQUARE", ""), given.get("MY_GRIDSQUARE", "")
            if theirs and grid and theirs[:4].upper() != grid[:4].upper():
                wins |= {"MY_GRIDSQUARE", "MY_LAT", "MY_LON"}  # the contact belongs to an outing elsewhere now
            elif theirs or given.get("MY_LAT"):
                for name in ("MY_GRIDSQUARE", "MY_GRIDSQUARE_EXT", "MY_LAT", "MY_LON"):
                    own.pop(name, None)  # one position, not two that differ in their decimals
            if "MY_SIG_INFO" in given or "MY_SIG" in given:
                own.pop("MY_SIG", None)
                own.pop("MY_SIG_INFO", None)
            wins |= self._other_gear(contact, given)
        return own, wins

    def _other_gear(self, contact, given):
        """Names of gear that came in a file and no longer are what the stint says."""
        stint, matched, wins = contact.stint, self.gear.get(contact.imported_by_id), set()
        if stint is None or matched is None:
            return wins
        for field, kind, pk in (
            ("MY_RIG", "radio", stint.radio_id), ("MY_ANTENNA", "arrangement", stint.arrangement_id),
            (OURS + "PACK", "pack", stint.pack_id),
        ):
            if field in given and pk and pk != (matched.get(kind) or {}).get(given[field]):
                wins.add(field)
        return wins


def with_circumstances(contacts):
    """Contacts in lists of CHUNK, each with its outing and stint: read once for a list, not with every contact."""
    rows = contacts.iterator(CHUNK)
    while part := list(itertools.islice(rows, CHUNK)):
        outings = Outing.everything.select_related("site").in_bulk({row.outing_id for row in part})
        stints = Stint.everything.select_related("radio", "arrangement__antenna", "pack").in_bulk(
            {row.stint_id for row in part if row.stint_id}
        )
        for row in part:
            row.outing, row.stint = outings[row.outing_id], stints.get(row.stint_id)
        yield part


def _of_outing(outing):
    """Fields that an outing and its site give."""
    site = outing.site
    found = {"MY_GRIDSQUARE": site.grid[:8], "MY_GRIDSQUARE_EXT": site.grid[8:12] if len(site.grid) > 8 else ""}
    if site.position_from != site.PositionFrom.GRID:
        found["MY_LAT"] = fields.location_text(site.latitude_deg, "NS")
        found["MY_LON"] = fields.location_text(site.longitude_deg, "EW")
    if outing.references:
        # A field occurs once in a record, so that of several areas at once the first is named here.
        found["MY_SIG"] = outing.references[0].get("programme", "")
        found["MY_SIG_INFO"] = outing.references[0].get("reference", "")
    found["MY_COUNTRY"] = site.country
    found["MY_DXCC"] = "" if site.dxcc is None else str(site.dxcc)
    found["MY_STATE"], found["MY_CNTY"] = site.state, site.county
    found["MY_CQ_ZONE"] = str(site.cq_zone or "")
    found["MY_ITU_ZONE"] = str(site.itu_zone or "")
    if site.altitude_m is not None:
        found["MY_ALTITUDE"] = fields.number_text(site.altitude_m)
    return {name: value.replace("\n", " ") for name, value in found.items() if value and value.strip()}


def _of_stint(stint):
    """Fields that a stint gives."""
    if stint is None:
        return {}
    found = {}
    if stint.radio_id:
        found["MY_RIG"] = stint.radio.name
    if stint.arrangement_id:
        found["MY_ANTENNA"] = f"{stint.arrangement.antenna.name}: {stint.arrangement.name}"
    if stint.pack_id:
        found[OURS + "PACK"] = stint.pack.name
    if stint.power_w is not None:
        found["TX_PWR"] = fields.number_text(stint.power_w)
    return {name: value for name, value in found.items() if value}


def _defined(contacts, imports):
    """The user-defined fields of these contacts, as the files that they came in defined them."""
    known = {}
    for imported in imports:
        for name, type_, limits in imported.summary.get("defined", []):
            field = definitions.limited(name, type_, limits.strip("{}"))
            if known.setdefault(name.upper(), field) != field:
                known[name.upper()] = definitions.UserField(name, "MultilineString")  # two files define it differently
    used = {}
    rows = contacts.order_by().filter(raw__isnull=False).values_list("raw", flat=True)
    for raw in progress.each(rows.iterator(CHUNK), "Looking for fields of your own", rows.count):
        for name, letter, _ in raw:
            if name in used or name in tables.QSO_FIELDS or name.startswith("APP_"):
                continue
            if definitions.is_name(name):
                type_ = tables.TYPE_OF_LETTER.get(letter, "MultilineString")
                used[name] = known.get(name) or definitions.UserField(name, type_)
    return list(used.values())


def file_name(operator, format_, outing=None, now=None):
    """A readable name: call, site and UTC day of an outing, or call and the day of writing."""
    call = operator.call_sign if outing is None else outing.station_call
    parts = [call.replace("/", "-")]
    if outing is None:
        parts.append(f"{now or timezone.now():%Y-%m-%d}")
    else:
        parts += [f"{outing.window_start:%Y-%m-%d}", str(outing.site)]
    text = ascii.nearest(" ".join(parts))
    return "".join(c if c.isalnum() or c in "-_" else "-" for c in text).strip("-")[:100] + f".{format_}"


def contacts_of(operator, outing=None):
    """Contacts that leave in files: living ones of the operator's log, or of an outing of it alone.

    Those are not asked for by their operator as well, since SQLite would then go through the whole log for them.
    """
    return Contact.objects.of(operator) if outing is None else Contact.objects.filter(outing=outing)
