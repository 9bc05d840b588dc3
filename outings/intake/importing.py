"""A staged file into the log, all or nothing.

Nothing is locked while a file is parsed, matched and prepared; prepared rows are spooled, and one short transaction
stores them all. On SQLite, which has one writer, logging waits for that transaction only (about a second for 100,000
contacts); on PostgreSQL it does not wait. How far the work is stands in the ImportedFile, written outside that
transaction. What an import made is told by `imported_by`; what it changed is in the history under the file's UUID.
"""

import contextlib
import datetime
import json
from collections import Counter

from django.db import DatabaseError, connection, transaction
from django.utils import timezone

from equipment import progress
from equipment.models.history import chunks
from outings.adif import columns, records, tables
from outings.adif.records import NotADIF
from outings.models import Contact, ImportedFile, Outing, Site, Stint

from . import bulk, copies, gear, logs, stretches
from .known import Known
from .preparing import CannotImport, Prepared, utc_text
from .sorting import Sign, sorted_batches, without_collector

CAUSE = "import"


class _Import:
    """One import: what the operator chose, the rows that are prepared, and what of the log it changes."""

    def __init__(self, imported):
        self.imported, self.operator, self.choices = imported, imported.owner, imported.choices
        self.known = Known(self.operator)
        self.prepared = Prepared(self.operator, self.choices, self.known)
        self.counts = Counter()
        self.changed, self.revived = [], []  # [(id, row, came)], [(id, row, came, problems, number of its group)]

    def prepare(self, log):
        """Sort and prepare the records of a log; no lock is held."""
        sign = Sign(self.imported, log)
        default_call = self.choices.get("station_call") or self.operator.call_sign
        update, back, twice = map(self.choices.get, ("update_changed", "bring_back", "take_twice"))
        for found in sorted_batches(log, self.known, default_call):
            batch = found.batch
            again = [position for position, _ in found.again] if twice else []
            self.prepared.add(batch.some([*found.new, *again] if again else found.new))
            self._revive(batch, found.undone.items())
            if back:
                self._revive(batch, found.deleted)
            if update:
                self.changed += [(pk, batch.row(position), batch.came[position]) for position, pk, _ in found.changed]
            self.counts["brought_back" if back else "deleted"] += len(found.deleted)
            self.counts["known"] += len(found.known)
            self.counts["changed"] += len(found.changed)
            self.counts["twice"] += len(found.again)
            self.counts["lost"] += len(found.lost)
            sign.give(found.number)

    def _revive(self, batch, matched):
        """Bring contacts back that are gone from the log, (position, id) each, as the file has them."""
        for position, pk in matched:
            group, = self.prepared.groups_of(batch.some([position]))
            problems = batch.problems.get(position, [])
            self.revived.append((pk, batch.row(position), batch.came[position], problems, group))

    @transaction.atomic
    def store(self):
        """Store what was prepared, in one transaction."""
        imported, prepared = self.imported, self.prepared
        ours = ImportedFile.objects.select_for_update().filter(pk=imported.pk, status=ImportedFile.Status.IMPORTING)
        if not ours.exists():
            raise CannotImport("The import was given up meanwhile; nothing was stored.")
        self._find_again()
        for site in prepared.new_sites:
            site.save()
        members = prepared.members()
        self._store_outings(members)
        stint_of = self._store_stints(members)
        self._store_contacts(stint_of)
        self._store_changed()
        self.counts["sites"] = len(prepared.new_sites)
        self.counts["new"] = len(prepared.at) + len(self.revived)
        imported.status, imported.finished_at = ImportedFile.Status.IMPORTED, timezone.now()
        imported.progress = imported.total or self.counts["new"]
        imported.message = ""
        imported.summary = {
            **imported.summary, "result": dict(self.counts), "made_sites": [site.pk for site in prepared.new_sites],
        }
        imported.save(update_fields=["status", "finished_at", "progress", "message", "summary"])

    def _find_again(self):
        """Make sure that the sites and outings that rows will belong to are still there. Raises CannotImport."""
        groups = self.prepared.groups
        sites = {group.site.pk for group in groups if group.site.pk}
        for model, ids in ((Site, sites), (Outing, {group.outing_id for group in groups} - {None})):
            if bulk.count(model, ids) < len(ids):
                raise CannotImport("A site or an outing of this import was deleted meanwhile; nothing was stored.")

    def _insert(self, model, values, **shared):
        now = timezone.now()
        bulk.insert(
            model, values, owner_id=self.operator.pk, created_at=now, changed_at=now,
            imported_by_id=self.imported.pk, **shared,
        )

    def _store_outings(self, members):
        """Make the outings that are not in the log yet; their times are those of their contacts."""
        groups, at, rows = self.prepared.groups, self.prepared.at, []
        revived = {}
        for _, row, _, _, number in self.revived:
            revived.setdefault(number, []).append(row["at"])
        new = [number for number, group in enumerate(groups) if group.outing_id is None]
        ids = bulk.new_ids(Outing, len(new))
        for pk, uuid, number in zip(ids, bulk.fresh_uuids(len(new)), new, strict=True):
            group = groups[number]
            group.outing_id = pk
            times = [*(at[member] for member in members[number]), *revived.get(number, ())]
            start, end = (utc_text(seconds - seconds % 60) for seconds in (min(times), max(times) + 60))
            references = json.dumps(group.site.references)
            rows.append((pk, uuid, group.site.pk, group.station_call[:30], references, start, end, start, end))
        names = (
            "id", "uuid", "site_id", "station_call", "references", "window_start", "window_end", "started_at",
            "ended_at",
        )
        if rows:
            self._insert(Outing, dict(zip(names, zip(*rows, strict=True), strict=True)))
        self.counts["outings"] = len(rows)

    def _store_stints(self, members):
        """Put contacts into recorded stints of their outing, and the others into inferred ones: [stint or None]."""
        groups, at, setup_of = self.prepared.groups, self.prepared.at, self.prepared.setup_of
        stint_of = [None] * len(at)
        gap_min = float(self.choices.get("gap_min") or stretches.GAP_MIN)
        recorded, inside, rows = self._recorded(groups), [], []
        pieces = self._pieces()
        radios, arrangements, packs = pieces["radio"], pieces["arrangement"], pieces["pack"]
        setups = self.prepared.setups
        for group, numbers in zip(groups, members, strict=True):
            if group.outing_id in recorded:
                numbers = self._join(recorded[group.outing_id], numbers, stint_of)
            made = [(at[number], setups[setup_of[number]], number) for number in numbers]
            loose = [(time, setup[3], setup, number) for time, setup, number in made if setup[0] and setup[1]]
            self.counts["stintless"] += len(made) - len(loose)
            for stretch in stretches.inferred(loose, gap_min):
                band, mode, submode, rig, antenna, pack, power_w = stretch.setup
                rows.append((
                    group.outing_id, band, mode, submode, power_w, radios.get(rig), arrangements.get(antenna),
                    packs.get(pack), utc_text(stretch.start), utc_text(stretch.end), stretch.end - stretch.start,
                ))
                inside.append(stretch.members)
        ids = bulk.new_ids(Stint, len(rows))
        for pk, numbers in zip(ids, inside, strict=True):
            for number in numbers:
                stint_of[number] = pk
        names = (
            "outing_id", "band", "mode", "submode", "power_w", "radio_id", "arrangement_id", "pack_id", "started_at",
            "ended_at", "on_air_s",
        )
        if rows:
            values = {"id": ids, "uuid": bulk.fresh_uuids(len(rows))}
            values.update(zip(names, zip(*rows, strict=True), strict=True))
            self._insert(Stint, values, inferred=True, inferred_rule=stretches.rule(gap_min))
        self.counts["stints"] = len(rows)
        return stint_of

    def _join(self, stints, numbers, stint_of):
        """Put the contacts of an outing that fall into its recorded stints into these; returns the others."""
        others = []
        for number in numbers:
            stint = _fitting(stints, self.prepared.at[number], self.prepared.setups[self.prepared.setup_of[number]])
            if stint is None:
                others.append(number)
            else:
                stint_of[number] = stint.pk
        self.counts["joined"] += len(numbers) - len(others)
        return others

    def _recorded(self, groups):
        """{outing: its stints that are in the log already}."""
        found = {}
        there = [group.outing_id for group in groups if group.was_there]
        for part in chunks(there):
            for stint in Stint.objects.filter(outing__in=part):
                found.setdefault(stint.outing_id, []).append(_Recorded(stint))
        return found

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
                names = {setup[position] for setup in self.prepared.setups} - {None}
                likely = {text: gear.likely(text, own.values()) for text in names}
                found[kind] = {text: piece.pk for text, piece in likely.items() if piece}
        self.matched_gear = found
        return found

    def _store_contacts(self, stint_of):
        outing_of = [group.outing_id for group in self.prepared.groups]
        position = 0
        with progress.step("Storing contacts", len(self.prepared.at)) as did:
            for values in self.prepared.spool.read():
                after = position + len(values["uuid"])
                values["outing_id"] = [outing_of[number] for number in self.prepared.group_of[position:after]]
                values["stint_id"] = stint_of[position:after]
                self._insert(Contact, values, **columns.EMPTY)
                did(after - position)
                position = after

    def _store_changed(self):
        """Update what the operator said should be, and bring back what is gone from the log."""
        actor, batch = self.operator, self.imported.uuid
        for part in chunks(self.changed):
            rows = Contact.objects.of(actor).select_related("outing__site").in_bulk([pk for pk, _, _ in part])
            for pk, row, came in part:
                if pk in rows:
                    put_into(rows[pk], row, came)
            Contact.keep_all(rows.values(), actor, cause=CAUSE, batch=batch)
            self.counts["updated"] += len(rows)
        for part in chunks(self.revived):
            rows = Contact.everything.of(actor).in_bulk([pk for pk, *_ in part])
            for pk, row, came, problems, group in part:
                contact = rows[pk]
                put_into(contact, row, came)
                contact.deleted_at, contact.problems, contact.imported_by = None, problems, self.imported
                contact.outing_id, contact.stint = self.prepared.groups[group].outing_id, None
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


def put_into(contact, row, came):
    """Write what a record says into the columns of a contact, and keep how it came, which is packed text."""
    for name in columns.COLUMNS:
        if name not in row:
            continue
        value = row[name]
        if name in ("started_at", "ended_at") and value:
            value = datetime.datetime.fromisoformat(value).replace(tzinfo=datetime.UTC)
        elif name in ("qsl_sent_on", "qsl_rcvd_on") and value:
            value = datetime.date.fromisoformat(value)
        setattr(contact, name, value)
    contact.raw = records.unpacked(came)


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
            # SQLite would look up four rows for each contact; that they are there is seen to beforehand.
            with connection.constraint_checks_disabled():
                work.store()
        imported.choices = {**imported.choices, "gear": work.matched_gear}
        imported.save(update_fields=["choices", "format"])
    except (NotADIF, CannotImport) as error:
        imported.fail(str(error))
    except (OSError, DatabaseError) as error:
        with contextlib.suppress(DatabaseError):  # what takes no contacts may take this no more than them
            imported.fail(
                f"The import was broken off by the disk or the database ({error}). Nothing was stored; the log is as "
                "it was. Start it again once that is put right."
            )
        raise
    except Exception:
        imported.fail("The import failed by a fault of the program. Nothing was stored; the log is as it was.")
        raise
    return imported
