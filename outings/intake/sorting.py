"""The records of a file, sorted by what they are to the log: new, known, changed, deleted there, repeated, lost."""

import gc
import json
import time
from contextlib import contextmanager

from outings.models import ImportedFile

from . import known, logs
from .known import Known

BATCH = 1000
SIGN_S = 0.5


@contextmanager
def without_collector():
    """Millions of small objects without cycles are made: looking for cycles among them costs a third of the time."""
    was_on = gc.isenabled()
    gc.disable()
    try:
        yield
    finally:
        if was_on:
            gc.enable()


class Sorted:
    """A batch of records, by what they are to the log. Each is (number, place in the file, row, came, problems)."""

    __slots__ = ("again", "changed", "deleted", "known", "lost", "new", "number")

    def __init__(self):
        self.new, self.known, self.changed, self.again, self.deleted, self.lost = [], [], [], [], [], []
        self.number = 0


def sorted_records(log, in_log, station_call):
    """Batches of the records of a log, sorted."""
    seen, seen_uuids = {}, set()
    by_key, by_uuid, key_of = in_log.by_key, in_log.by_uuid, known.key_of
    batch, matched, number = Sorted(), [], 0
    carried = known.UUID
    for place, row, came, problems in log.rows(station_call):
        number += 1
        if type(row) is logs.Loss:
            batch.lost.append((number, row))
        else:
            key = key_of(row)
            record = (number, place, row, came, problems)
            identity = known.uuid_of(row) if carried in row else None
            found = by_uuid.get(identity) if identity else None
            if found is None:
                found = by_key.get(key)
            if identity in seen_uuids or (key in seen and not identity):
                batch.again.append((record, seen.get(key, 0)))
            elif found is None:
                batch.new.append((record, None))
                seen.setdefault(key, number)
            else:
                matched.append((record, found))
                seen.setdefault(key, number)
            if identity:
                seen_uuids.add(identity)
        if not number % BATCH:
            _look_at_matched(batch, matched, in_log)
            batch.number = number
            yield batch
            batch, matched = Sorted(), []
    _look_at_matched(batch, matched, in_log)
    batch.number = number
    yield batch


def _look_at_matched(batch, matched, in_log):
    """Sort what is in the log already: as it is, changed, deleted there, or gone with an import that was undone."""
    if not matched:
        return
    stored = in_log.stored([pk for _, (pk, _) in matched])
    for record, (pk, state) in matched:
        if state == Known.UNDONE:
            batch.new.append((record, pk))
        elif state == Known.DELETED:
            batch.deleted.append((record, pk))
        else:
            came = [json.loads(text) for text in record[3]]
            changes = known.differences(record[2], came, stored[pk]) if pk in stored else {}
            if changes:
                batch.changed.append((record, pk, changes))
            else:
                batch.known.append(record)


class Sign:
    """Gives a sign of how far the work is, twice a second."""

    def __init__(self, imported, log):
        self.imported, self.log, self.next = imported, log, time.monotonic() + SIGN_S

    def give(self, number):
        now = time.monotonic()
        if now < self.next:
            return
        self.next = now + SIGN_S
        read = self.log.read_bytes or (self.log.data.tell() if self.log.format == "adx" else 0)
        if self.imported.status == ImportedFile.Status.READING and read:
            total = round(number * self.imported.size_bytes / read)
            if not self.imported.total or abs(self.imported.total - total) > total / 100:
                self.imported.total = total
                ImportedFile.objects.filter(pk=self.imported.pk).update(total=total)
        self.imported.give_sign(number)
