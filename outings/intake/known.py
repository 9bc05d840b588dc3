"""Which records of a file are in the log already, and in what they differ from it."""

import datetime
import uuid

from equipment.models.history import chunks
from outings.adif import ascii, batches, columns, records
from outings.models import Contact, ImportedFile

UUID, REVISION = columns.OURS + "UUID", columns.OURS + "REVISION"
DAY_S = 86_400
MOMENTS = ("started_at", "ended_at")
DAYS = ("qsl_sent_on", "qsl_rcvd_on")
STORED = ("pk", "revision", "raw", "deleted_at", *columns.COLUMNS)


def keys_of(batch):
    """What tells contacts apart where the file carries no UUID of ours: own call, call, minute, band, mode."""
    minutes = [at // 60 for at in batch.column("at")]
    bands = [band or "" for band in batch.column("band")]
    modes = [mode or "" for mode in batch.column("mode")]
    return list(map(hash, zip(batch.column("station_call"), batch.column("call"), minutes, bands, modes, strict=True)))


def uuid_of(text):
    """Our UUID in hex; None where the text is none."""
    if not text:
        return None
    try:
        return uuid.UUID(text.strip()).hex
    except ValueError:
        return None


class Known:
    """The contacts of an operator's log, deleted ones too, by UUID and by key, as far as a file has asked for them.

    A contact is found as (id, state); the state is LIVING, DELETED (by the operator, who does not want it back unasked)
    or UNDONE (gone with an import that was undone, so that it is as good as new). A long log is not read for a short
    file: of what lives, only the days between the first and the last that were asked for.
    """

    LIVING, DELETED, UNDONE = "living", "deleted", "undone"

    def __init__(self, operator):
        self.operator, self.by_key, self.by_uuid = operator, {}, {}
        self._reader = columns.Columns()
        self._span = None  # seconds since 1970 that the contacts read so far lie between
        living = Contact.objects.of(operator).order_by()
        moments = living.order_by("started_at").values_list("started_at", flat=True)
        self._first, self._last = (moment and moment.timestamp() for moment in (moments.first(), moments.last()))
        gone = Contact.everything.of(operator).filter(deleted_at__isnull=False).order_by()
        gone = gone.exclude(imported_by__status=ImportedFile.Status.UNDONE)
        edited = living.filter(revision__gt=1).order_by("started_at")
        for rows in (gone, edited):
            self._read_as_came(self._read(rows))

    def look_up(self, batch):
        """Read the contacts that the records of a batch may be: those of their days, and those with their UUIDs."""
        times = batch.column("at")
        self._look_between(min(times) // DAY_S * DAY_S, (max(times) // DAY_S + 1) * DAY_S)
        if UUID in batch.columns:
            missing = {uuid_of(text) for text in batch.columns[UUID]} - {None} - self.by_uuid.keys()
            everything = Contact.everything.of(self.operator).order_by()
            for part in chunks(list(missing)):
                self._read(everything.filter(uuid__in=part))

    def _look_between(self, start, end):
        if self._first is None or start > self._last or end <= self._first:
            return
        if self._span is None:
            self._span = start, start
        before, after = self._span
        self._span = min(start, before), max(end, after)
        for part in ((self._span[0], before), (after, self._span[1])):
            if part[0] < part[1]:
                first, last = (datetime.datetime.fromtimestamp(seconds, datetime.UTC) for seconds in part)
                living = Contact.objects.of(self.operator).filter(started_at__gte=first, started_at__lt=last)
                self._read(living.order_by("started_at"))

    def _read(self, rows):
        """Take up some contacts; the state of each that counts, {id: state}."""
        found = {}
        rows = rows.values_list(
            "pk", "uuid", "deleted_at", "imported_by__status", "station_call", "call", "started_at", "band", "mode"
        )
        for pk, identity, deleted_at, import_status, own, call, at, band, mode in rows.iterator(5000):
            state = self.LIVING
            if deleted_at:
                state = self.UNDONE if import_status == ImportedFile.Status.UNDONE else self.DELETED
            self.by_uuid[identity.hex] = (pk, state)
            if state != self.UNDONE:
                self._add(hash((own, call, int(at.timestamp()) // 60, band, mode)), pk, state)
                found[pk] = state
        return found

    def _read_as_came(self, states):
        """What was mended since its import (a clock shifted by an hour) is known by how it came, too."""
        for part in chunks(list(states)):
            came = Contact.everything.filter(pk__in=part, raw__isnull=False)
            for pk, raw, call in came.values_list("pk", "raw", "station_call"):
                collector = batches.Collector(self._reader, call)
                try:
                    collector.add_carefully(1, 0, raw)
                except columns.Refused:
                    continue
                self._add(*keys_of(collector.batch()), pk, states[pk])

    def _add(self, key, pk, state):
        if state == self.LIVING or key not in self.by_key:
            self.by_key[key] = (pk, state)

    def has_any(self, keys):
        """Whether a contact with one of these keys (a set) is in the log."""
        return not self.by_key.keys().isdisjoint(keys)

    def stored(self, ids):
        """{id: stored values} of these contacts, moments as text in UTC."""
        found = {}
        for values in Contact.everything.filter(pk__in=ids).values(*STORED):
            for name in MOMENTS:
                values[name] = f"{values[name]:%Y-%m-%d %H:%M:%S}" if values[name] else None
            for name in DAYS:
                values[name] = values[name].isoformat() if values[name] else None
            found[values["pk"]] = values
        return found


def differences(row, came, stored):
    """{column: (in the log, in the file)} where a record says otherwise than the log; what it leaves out is the same.

    `came` is its packed text. One that is just as it was when it came the first time, or is an older revision by our
    own count, is the same.
    """
    if stored["raw"] == records.unpacked(came):
        return {}
    revision = row.get(REVISION, "")
    if revision.isdigit() and int(revision) < stored["revision"]:
        return {}
    found = {}
    for name in columns.COLUMNS:
        if name not in row or name == "seconds_known":
            continue
        ours, theirs = stored[name], row[name]
        if ours == theirs:
            continue
        coarse = not row.get("seconds_known", True) or not stored["seconds_known"]
        if coarse and name in MOMENTS and ours and theirs and ours[:16] == theirs[:16]:
            continue
        if isinstance(theirs, float) and ours is not None and abs(ours - theirs) < 1e-6:
            continue
        if name in ("submode", "their_grid") and str(ours).lower().startswith(str(theirs).lower()):
            continue  # the log knows it more finely
        if isinstance(ours, str) and isinstance(theirs, str) and ours != theirs == ascii.nearest(ours):
            continue  # an ADI file can hold no more of it
        found[name] = (ours, theirs)
    return found
