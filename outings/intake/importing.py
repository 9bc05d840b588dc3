"""A staged file into the log, all or nothing.

Nothing is locked while a file is parsed, matched and prepared; prepared rows are spooled, and one short transaction
stores them all. On SQLite, which has one writer, logging waits for that transaction only (about two seconds for
100,000 contacts); on PostgreSQL it does not wait. How far the work is stands in the ImportedFile, written outside that
transaction. What an import made is told by `imported_by`; what it changed is in the history under the file's UUID.
"""

import datetime
import json
import marshal
import os
import tempfile
import time
from collections import Counter
from operator import itemgetter

from django.db import transaction
from django.utils import timezone

from outings import geography
from outings.adif import columns, tables
from outings.adif.records import NotADIF
from outings.models import Contact, ImportedFile, Outing, Site, Stint

from . import bulk, copies, gear, known, logs, places, stretches
from .known import Known
from .sorting import Sign, sorted_records, without_collector

SPOOLED_AFTER = 20_000  # rows kept in memory before they go to a temporary file
CAUSE = "import"

ALWAYS = ("call", "pending", "started_at", "seconds_known", "ended_at", "band", "mode", "submode", "station_call")
# What groups, distances and stints are looked up by: place, their position, set-up.
CIRCUMSTANCES = (
    *places.FIELDS, "their_grid", "their_latitude_deg", "their_longitude_deg", "band", "mode", "submode", "MY_RIG",
    "MY_ANTENNA", columns.OURS + "PACK", "power_w",
)
STINT_COLUMNS = (
    "id", "uuid", "outing_id", "band", "mode", "submode", "power_w", "radio_id", "arrangement_id", "pack_id",
    "started_at", "ended_at", "on_air_s",
)
COMPUTED = ("uuid", "distance_km", "distance_error_km", "bearing_deg", "raw", "problems")


class CannotImport(Exception):
    """The import cannot be done as asked; the message says why. Nothing was stored."""


class _Group:
    """New contacts that go onto one outing."""

    __slots__ = ("contacts", "day", "number", "outing", "place", "place_number", "site", "station_call")

    def __init__(self, number, outing, site, day, station_call):
        self.number, self.outing, self.site, self.day, self.station_call = number, outing, site, day, station_call
        self.place, self.place_number, self.contacts = site.place, 0, []


class _Spool:
    """Prepared rows, in memory or, when they are many, in a temporary file."""

    def __init__(self):
        self.batches, self.rows, self.file = [], 0, None

    def add(self, names, rows):
        self.rows += len(rows)
        self.batches.append((names, rows))
        if self.rows > SPOOLED_AFTER:
            if self.file is None:
                self.file = tempfile.TemporaryFile()  # noqa: SIM115 - closed when it has been read
            for batch in self.batches:
                packed = marshal.dumps(batch)
                self.file.write(len(packed).to_bytes(8, "big"))
                self.file.write(packed)
            self.batches = []

    def read(self):
        """Batches (names, rows) in order; the spool is empty afterwards."""
        if self.file is None:
            yield from self.batches
            return
        with self.file:
            self.file.seek(0)
            while size := self.file.read(8):
                yield marshal.loads(self.file.read(int.from_bytes(size, "big")))


class _Import:
    """One import: what the operator chose, the sites and outings that come of it, the rows that are prepared."""

    def __init__(self, imported):
        self.imported, self.operator, self.choices = imported, imported.owner, imported.choices
        self.known = Known(self.operator)
        self.counts = Counter()
        self.spool, self.groups, self.numbers = _Spool(), {}, []
        self.sites, self.new_sites, self.ways, self.setups, self.place_numbers = {}, [], {}, {}, {}
        self.changed, self.revived, self.outings, self.ordered = [], [], {}, {}
        self.own_sites, self.own_outing = list(Site.objects.of(self.operator).in_use()), None
        if self.choices.get("outing"):
            self.own_outing = Outing.objects.of(self.operator).select_related("site").get(pk=self.choices["outing"])

    # --- prepare: no lock is held ---

    def prepare(self, log):
        sign = Sign(self.imported, log)
        default_call = self.choices.get("station_call") or self.operator.call_sign
        update, back = self.choices.get("update_changed"), self.choices.get("bring_back")
        self._find_outings()
        for batch in sorted_records(log, self.known, default_call):
            new = batch.new
            if self.choices.get("take_twice"):
                new = new + [(record, None) for record, _ in batch.again]
            if back:
                new = new + batch.deleted
                self.counts["brought_back"] += len(batch.deleted)
            else:
                self.counts["deleted"] += len(batch.deleted)
            if update:
                self.changed += [(pk, record[2], record[3]) for record, pk, _ in batch.changed]
            self.counts["known"] += len(batch.known)
            self.counts["changed"] += len(batch.changed)
            self.counts["twice"] += len(batch.again)
            self.counts["lost"] += len(batch.lost)
            self._prepare_rows(new, log)
            sign.give(batch.number)

    def _prepare_rows(self, new, log):
        """Turn new records into the values of their rows."""
        slots = log.columns.slots
        names = (*ALWAYS, *(name for name in columns.COLUMNS if name in slots and name not in ALWAYS), *COMPUTED)
        template = {**dict.fromkeys(CIRCUMSTANCES), **columns.EMPTY, "problems": "[]"}
        pick, look = itemgetter(*names), itemgetter(*CIRCUMSTANCES)
        rows, identities, used = [], fresh_uuids(len(new)), self.known.by_uuid
        groups, setups, ways, numbers, carried = self.groups, self.setups, self.ways, self.numbers, known.UUID
        for ((_, _, row, came, problems), known_pk), identity in zip(new, identities, strict=True):
            full = {**template, **row}
            looked = look(full)
            where = (looked[:5], row["QSO_DATE"][0], row["station_call"])
            group = groups.get(where)
            if group is None:
                group = self._group(where)
            way_key = (group.place_number, looked[5:8])
            way = ways.get(way_key)
            if way is None:
                way = self._way(group, way_key)
            if known_pk is not None:
                self.revived.append((known_pk, row, [json.loads(text) for text in came], problems, group))
                continue
            full["distance_km"], full["distance_error_km"], full["bearing_deg"] = way
            full["raw"] = f"[{','.join(came)}]"
            if problems:
                full["problems"] = json.dumps(problems)
            if carried in row and (own := known.uuid_of(row)) and own not in used:
                identity = own
                used[own] = (0, Known.LIVING)
            full["uuid"] = identity
            rows.append(pick(full))
            setup_key = looked[8:]
            setup = setups.get(setup_key)
            if setup is None:
                setup = setups[setup_key] = self._setup(setup_key)
            group.contacts.append((row["at"], setup[3], setup, len(numbers)))
            numbers.append(group.number)
        if rows:
            self.spool.add(names, rows)

    @staticmethod
    def _setup(key):
        """Band, mode and gear that a stint is made with; upper and lower sideband are one way of talking."""
        band, mode, submode, *rest = key
        if tables.mode_family(mode, submode) != tables.DIGITAL:
            submode = ""
        return (band, mode, submode, *rest)

    def _way(self, group, key):
        """(distance_km, error_km, bearing_deg) from a site to their grid square or position; Nones if unknown."""
        grid, latitude_deg, longitude_deg = key[1]
        found = (None, None, None)
        try:
            there = None
            if latitude_deg is not None and longitude_deg is not None:
                there = geography.Place(latitude_deg, longitude_deg)
            elif grid:
                there = geography.place_of_grid(grid)
            if there:
                way = geography.way(group.place, there)
                found = (way.distance_km, way.error_km, way.bearing_deg)
        except ValueError:
            pass  # a grid square that is none stays without distance
        self.ways[key] = found
        return found

    def _find_outings(self):
        """The operator's outings, by site, UTC day and station call."""
        if self.own_outing:
            return
        for outing in Outing.objects.of(self.operator).select_related("site").order_by("-window_start"):
            self.outings[(outing.site_id, f"{outing.window_start:%Y-%m-%d}", outing.station_call)] = outing

    def _group(self, where):
        """The group of a place, UTC day and station call; several spellings of a place share one."""
        fields, day, station_call = where
        if self.own_outing:
            shared = ("outing",)
            found = self.groups.get(shared)
            if found is None:
                found = _Group(len(self.ordered), self.own_outing, self.own_outing.site, day, station_call)
        else:
            spot = places.spot(*fields)
            site = self._site(spot)
            shared = (id(site), day, station_call)
            found = self.groups.get(shared)
            if found is None:
                outing = self.outings.get((site.pk, day, station_call)) if site.pk else None
                found = _Group(len(self.ordered), outing, site, day, station_call)
        found.place_number = self.place_numbers.setdefault(found.place, len(self.place_numbers))
        self.groups[shared] = self.groups[where] = found
        self.ordered.setdefault(found.number, found)
        return found

    def _site(self, spot):
        """The site of a place: as the operator chose, else the likely one, else a new one."""
        key = spot.key
        if key in self.sites:
            return self.sites[key]
        choice = self.choices.get("sites", {}).get(key) or {}
        site = None
        if choice.get("site"):
            site = next((own for own in self.own_sites if own.pk == choice["site"]), None)
        elif not choice:
            site = places.likely_site(spot, self.own_sites)
        if site is None:
            grid = choice.get("grid") or ("" if spot.has_position else self.choices.get("grid", ""))
            site = places.new_site(spot, self.operator, choice.get("name", ""), grid)
            if site is None:
                raise CannotImport(
                    f"The file does not say where its contacts were made ({spot.label}). Choose a site or a grid."
                )
            twin = next((made for made in self.new_sites if made.grid == site.grid and made.name == site.name), None)
            if twin is None:
                self.new_sites.append(site)
            site = twin or site
        self.sites[key] = site
        return site

    # --- store: one transaction ---

    @transaction.atomic
    def store(self):
        imported = self.imported
        ours = ImportedFile.objects.select_for_update().filter(pk=imported.pk, status=ImportedFile.Status.IMPORTING)
        if not ours.exists():
            raise CannotImport("The import was given up meanwhile; nothing was stored.")
        for site in self.new_sites:
            site.save()
        groups = [self.ordered[number] for number in sorted(self.ordered)]
        made = self._store_outings(groups)
        stint_of = self._store_stints(groups)
        self._store_contacts(groups, stint_of)
        self._store_changed()
        self.counts["outings"] = len(made)
        self.counts["sites"] = len(self.new_sites)
        self.counts["new"] = len(self.numbers) + len(self.revived)
        imported.status, imported.finished_at = ImportedFile.Status.IMPORTED, timezone.now()
        imported.progress = imported.total or self.counts["new"]
        imported.message = ""
        imported.summary = {
            **imported.summary, "result": dict(self.counts), "made_sites": [site.pk for site in self.new_sites],
        }
        imported.save(update_fields=["status", "finished_at", "progress", "message", "summary"])

    def _store_outings(self, groups):
        new = []
        for group in groups:
            if group.outing is None:
                times = [contact[0] for contact in group.contacts] + self._revived_times(group)
                start, end = moment(min(times)).replace(second=0), moment(max(times) + 60).replace(second=0)
                group.outing = Outing(
                    owner=self.operator, site=group.site, station_call=group.station_call[:30],
                    references=group.site.references, window_start=start, window_end=end, started_at=start,
                    ended_at=end, imported_by=self.imported,
                )
                new.append(group.outing)
        for outing in new:
            outing.site_id = outing.site.pk  # a new site has an id only since it was stored
        bulk.insert_objects(new)
        return new

    def _revived_times(self, group):
        return [row["at"] for _, row, _, _, its_group in self.revived if its_group is group]

    def _store_stints(self, groups):
        """Put contacts into recorded stints of their outing, and the others into inferred ones: [stint id or None]."""
        stint_of = [None] * len(self.numbers)
        gap_min = float(self.choices.get("gap_min") or stretches.GAP_MIN)
        rule, new, members = stretches.rule(gap_min), [], []
        recorded = {}
        there = [group.outing.pk for group in groups if group.outing.imported_by_id != self.imported.pk]
        for start in range(0, len(there), 500):
            for stint in Stint.objects.filter(outing__in=there[start : start + 500]):
                recorded.setdefault(stint.outing_id, []).append(_Recorded(stint))
        pieces = self._pieces()
        radios, arrangements, packs = pieces["radio"], pieces["arrangement"], pieces["pack"]
        for group in groups:
            loose = []
            stints = recorded.get(group.outing.pk, ())
            for contact in group.contacts:
                at, _, setup, number = contact
                stint = _fitting(stints, at, setup) if stints else None
                if stint is not None:
                    stint_of[number] = stint.pk
                    self.counts["joined"] += 1
                elif setup[0] and setup[1]:
                    loose.append(contact)
                else:
                    self.counts["stintless"] += 1
            for stretch in stretches.inferred(loose, gap_min):
                band, mode, submode, rig, antenna, pack, power_w = stretch.setup
                new.append((
                    group.outing.pk, band, mode, submode, power_w, radios.get(rig), arrangements.get(antenna),
                    packs.get(pack), utc_text(stretch.start), utc_text(stretch.end), stretch.end - stretch.start,
                ))
                members.append(stretch.members)
        ids = bulk.new_ids(Stint, len(new))
        rows = [(pk, uuid, *row) for pk, uuid, row in zip(ids, fresh_uuids(len(new)), new, strict=True)]
        bulk.insert(Stint, STINT_COLUMNS, rows, self._shared(
            Stint, STINT_COLUMNS, {"inferred": True, "inferred_rule": rule, "imported_by_id": self.imported.pk}
        ))
        for pk, numbers in zip(ids, members, strict=True):
            for number in numbers:
                stint_of[number] = pk
        self.counts["stints"] = len(new)
        return stint_of

    def _pieces(self):
        """{kind: {name in the file: id of the piece}}, as the operator chose; only own gear."""
        chosen = self.choices.get("gear") or {}
        found = {}
        for kind in gear.KINDS:
            own = {piece.pk: piece for piece in gear.owned(kind, self.operator)}
            if kind in chosen:
                found[kind] = {text: pk for text, pk in chosen[kind].items() if pk in own}
            else:
                field = gear.KINDS[kind][0]
                position = {"MY_RIG": 3, "MY_ANTENNA": 4}.get(field, 5)
                names = {setup[position] for setup in self.setups.values()} - {None}
                likely = {text: gear.likely(text, own.values()) for text in names}
                found[kind] = {text: piece.pk for text, piece in likely.items() if piece}
        self.matched_gear = found
        return found

    def _store_contacts(self, groups, stint_of):
        outing_of = [group.outing.pk for group in groups]
        numbers, position = self.numbers, 0
        for names, rows in self.spool.read():
            names = ("outing_id", "stint_id", *names)
            same = self._shared(Contact, names, {**columns.EMPTY, "imported_by_id": self.imported.pk})
            after = position + len(rows)
            placed = zip(
                [outing_of[number] for number in numbers[position:after]], stint_of[position:after], strict=True
            )
            bulk.insert(Contact, names, map(_joined, placed, rows), same)
            position = after

    def _shared(self, model, names, values):
        """{column: value} of all columns but these that the new rows share: these values, else what a new row has."""
        now = utc_text(time.time())
        values = {
            "owner_id": self.operator.pk, "revision": 1, "created_at": now, "changed_at": now, "deleted_at": None,
            **values,
        }
        return {
            field.column: values[field.column] if field.column in values else field.get_default()
            for field in model._meta.concrete_fields if field.column not in names and not field.primary_key
        }

    def _store_changed(self):
        """Update what the operator said should be, and bring back what an undone import had taken along."""
        actor, batch = self.operator, self.imported.uuid
        for start in range(0, len(self.changed), 500):
            part = self.changed[start : start + 500]
            rows = Contact.objects.of(actor).select_related("outing__site").in_bulk([pk for pk, _, _ in part])
            for pk, row, came in part:
                if pk in rows:
                    put_into(rows[pk], row, [json.loads(text) for text in came])
            Contact.keep_all(rows.values(), actor, cause=CAUSE, batch=batch)
            self.counts["updated"] += len(rows)
        for start in range(0, len(self.revived), 500):
            part = self.revived[start : start + 500]
            rows = Contact.everything.of(actor).in_bulk([pk for pk, *_ in part])
            for pk, row, came, problems, group in part:
                contact = rows[pk]
                put_into(contact, row, came)
                contact.deleted_at, contact.problems, contact.imported_by = None, problems, self.imported
                contact.outing, contact.stint = group.outing, None
                contact.settle()
            Contact.keep_all(rows.values(), actor, cause=CAUSE, batch=batch)


class _Recorded:
    """A stint that is in the log, in seconds since 1970, for many comparisons."""

    __slots__ = ("band", "end", "family", "mode", "pk", "start", "submode")

    def __init__(self, stint):
        self.pk, self.band, self.mode, self.submode = stint.pk, stint.band, stint.mode, stint.submode
        self.family = tables.mode_family(stint.mode, stint.submode)
        self.start = stint.started_at.timestamp()
        self.end = stint.ended_at.timestamp() if stint.ended_at else float("inf")


def _fitting(stints, at, setup):
    """The recorded stint that a contact falls into: band and family of modes agree; the very mode first."""
    family = tables.mode_family(setup[1], setup[2])
    latest = at if at % 60 else at + 59  # a time without seconds is anywhere within its minute
    fitting = [
        stint for stint in stints
        if stint.start <= latest and at <= stint.end and stint.band == setup[0] and stint.family == family
    ]
    if not fitting:
        return None
    return max(fitting, key=lambda s: (s.mode == setup[1], s.submode in ("", setup[2]), s.start, s.pk))


def _joined(placed, row):
    return placed + row


def put_into(contact, row, came):
    """Write what a record says into the columns of a contact, and keep how it came."""
    for name in columns.COLUMNS:
        if name not in row:
            continue
        value = row[name]
        if name in ("started_at", "ended_at") and value:
            value = datetime.datetime.fromisoformat(value).replace(tzinfo=datetime.UTC)
        elif name in ("qsl_sent_on", "qsl_rcvd_on") and value:
            value = datetime.date.fromisoformat(value)
        setattr(contact, name, value)
    contact.raw = came


def moment(seconds):
    """Seconds since 1970 as a moment."""
    return datetime.datetime(1970, 1, 1, tzinfo=datetime.UTC) + datetime.timedelta(seconds=seconds)


def utc_text(seconds):
    """Seconds since 1970 as both databases take a moment in UTC."""
    return f"{moment(seconds):%Y-%m-%d %H:%M:%S}"


def fresh_uuids(count):
    """UUIDs of version 7 (RFC 9562) in hex: time first, so that their index grows at its end, which is quicker."""
    if not count:
        return []
    noise, stamp = os.urandom(10 * count).hex(), f"{time.time_ns() // 1_000_000:012x}"
    return [
        f"{stamp}7{number & 0xFFF:03x}{'89ab'[int(noise[at], 16) & 3]}{noise[at + 1 : at + 16]}"
        for number, at in enumerate(range(0, 20 * count, 20))
    ]


def carry_out(imported):
    """Import a staged file as its `choices` say, all or nothing."""
    imported.begin(ImportedFile.Status.IMPORTING)
    try:
        with without_collector():
            with logs.opened(imported) as log:
                handed_in = copies.hand_in(imported.owner, log.header)  # before anything is looked up: it is known then
                work = _Import(imported)
                work.counts += handed_in
                work.prepare(log)
                if not imported.summary:
                    imported.summary = {"defined": [[f.name, f.type, f.limits] for f in log.header.defined.values()]}
                imported.format = log.format
            imported.give_sign(imported.total or imported.progress, "storing")
            work.store()
        imported.choices = {**imported.choices, "gear": work.matched_gear}
        imported.save(update_fields=["choices", "format"])
    except (NotADIF, CannotImport) as error:
        imported.fail(str(error))
    except Exception:
        imported.fail("The import failed by a fault of the program. Nothing was stored; the log is as it was.")
        raise
    return imported
