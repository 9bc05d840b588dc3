"""The records of a file, sorted by what they are to the log: new, known, changed, deleted there, repeated, lost."""

import gc
import time
from contextlib import contextmanager

from equipment import progress
from outings.models import ImportedFile

from . import known
from .known import Known

BATCH = 2000  # records
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
    """A batch of records by what they are to the log, as positions in the batch.

    `new` ones are unknown to the log; `undone` are gone with an import that was undone {position: id}. `changed` are
    [(position, id, differences)], `again` [(position, number of the first such record or 0)], `deleted` [(position,
    id)], `lost` [(number, Loss)]. `number` is how many records of the file were read so far.
    """

    __slots__ = ("again", "batch", "changed", "deleted", "known", "lost", "new", "number", "undone")

    def __init__(self, batch, lost, number):
        self.batch, self.lost, self.number = batch, lost, number
        self.new, self.known, self.changed, self.again, self.deleted, self.undone = [], [], [], [], [], {}


def sorted_batches(log, in_log, station_call):
    """The records of a log in batches, Sorted."""
    seen, seen_uuids = {}, set()  # key: number of the first record with it
    for batch, lost, number in told_batches(log, station_call):
        found = Sorted(batch, lost, number)
        if len(batch):
            in_log.look_up(batch)
        keys = known.keys_of(batch)
        apart = set(keys)
        familiar = len(apart) < len(keys) or not seen.keys().isdisjoint(apart) or in_log.has_any(apart)
        if familiar or known.UUID in batch.columns:
            _sort(found, keys, seen, seen_uuids, in_log)
        else:
            found.new = range(len(batch))
            seen.update(zip(keys, batch.numbers, strict=True))
        yield found


def told_batches(log, station_call):
    """The batches of a log, told by the bytes that were read."""
    with progress.step("Reading the file", log.size_bytes, progress.BYTES) as did:
        told = 0
        for batch in log.batches(BATCH, station_call):
            yield batch
            did(log.read_bytes - told)
            told = log.read_bytes


def _sort(found, keys, seen, seen_uuids, in_log):
    """Look at the records of a batch one by one."""
    batch, matched = found.batch, {}
    identities = map(known.uuid_of, batch.column(known.UUID))
    for position, (key, identity) in enumerate(zip(keys, identities, strict=True)):
        match = in_log.by_uuid.get(identity) if identity else None
        if match is None:
            match = in_log.by_key.get(key)
        if identity in seen_uuids or (key in seen and not identity):
            found.again.append((position, seen.get(key, 0)))
        else:
            if match is None:
                found.new.append(position)
            else:
                matched[position] = match
            seen.setdefault(key, batch.numbers[position])
        if identity:
            seen_uuids.add(identity)
    if matched:
        _look_at_matched(found, matched, in_log)


def _look_at_matched(found, matched, in_log):
    """Sort what is in the log already: as it is, changed, deleted there, or gone with an import that was undone."""
    stored = in_log.stored([pk for pk, _ in matched.values()])
    for position, (pk, state) in matched.items():
        if state == Known.UNDONE:
            found.undone[position] = pk
        elif state == Known.DELETED:
            found.deleted.append((position, pk))
        else:
            batch = found.batch
            changes = known.differences(batch.row(position), batch.came[position], stored[pk]) if pk in stored else {}
            if changes:
                found.changed.append((position, pk, changes))
            else:
                found.known.append(position)


class Sign:
    """Gives a sign of how far the work is, twice a second."""

    def __init__(self, imported, log):
        self.imported, self.log, self.next = imported, log, time.monotonic() + SIGN_S

    def give(self, number):
        now = time.monotonic()
        if now < self.next:
            return
        self.next = now + SIGN_S
        read = self.log.read_bytes
        if self.imported.status == ImportedFile.Status.READING and read:
            total = round(number * self.imported.size_bytes / read)
            if not self.imported.total or abs(self.imported.total - total) > total / 100:
                self.imported.total = total
                ImportedFile.objects.filter(pk=self.imported.pk).update(total=total)
        self.imported.give_sign(number)
