"""What of a log is read for a file, and that no contact is missed for it."""

import datetime
import random
import uuid

import pytest

from outings.adif import batches, columns
from outings.intake import known
from outings.intake.known import Known
from outings.models import Contact, ImportedFile
from tests import making

pytestmark = pytest.mark.django_db
FIRST = datetime.datetime(2020, 1, 1, 12, tzinfo=datetime.UTC)


@pytest.fixture
def operator():
    return making.an_operator()


def a_log(operator, days):
    """Contacts at noon of these days since FIRST, all on one outing."""
    outing, moments = making.an_outing(operator), [FIRST + datetime.timedelta(days=day) for day in days]
    return Contact.everything.bulk_create([
        Contact(
            owner=operator, outing=outing, call="Q0XYZ", station_call="Q1ABC", band="20m", mode="SSB", started_at=moment
        ) for moment in moments
    ])


def a_batch(*records):
    """Records of a file: (moment, UUID or None) each."""
    collector = batches.Collector(columns.Columns(), "Q1ABC")
    for number, (moment, identity) in enumerate(records, 1):
        given = [
            ("CALL", "", "Q0XYZ"), ("QSO_DATE", "", f"{moment:%Y%m%d}"), ("TIME_ON", "", f"{moment:%H%M%S}"),
            ("BAND", "", "20m"), ("MODE", "", "SSB"), *([(known.UUID, "", str(identity))] if identity else []),
        ]
        collector.add_carefully(number, 0, given)
    return collector.batch()


def found(in_log, batch):
    """Which contact each record is to the log: by its UUID, else by its key; None for new ones."""
    in_log.look_up(batch)
    keys, identities = known.keys_of(batch), map(known.uuid_of, batch.column(known.UUID))
    return [
        (in_log.by_uuid.get(identity) or in_log.by_key.get(key) or (None,))[0]
        for key, identity in zip(keys, identities, strict=True)
    ]


def test_of_a_long_log_only_the_days_of_a_short_file_are_read(operator):
    rows = a_log(operator, range(1000))
    in_log = Known(operator)
    assert not in_log.by_key
    batch = a_batch((rows[500].started_at, None), (rows[502].started_at, None), (FIRST, None))
    assert found(in_log, batch.some([0, 1])) == [rows[500].pk, rows[502].pk]
    assert len(in_log.by_key) == 3
    assert found(in_log, batch.some([2])) == [rows[0].pk] and len(in_log.by_key) == 503


@pytest.mark.parametrize("seed", range(5))
def test_files_in_any_order_find_what_reading_the_whole_log_finds(operator, seed):
    noise = random.Random(seed)
    rows = a_log(operator, sorted(noise.sample(range(400), 60)))
    for row in noise.sample(rows, 10):
        row.withdraw(operator)
    days = noise.sample(range(-30, 430), 200)
    expected = {row.started_at: row.pk for row in rows}
    in_log = Known(operator)
    while days:
        count = noise.randrange(1, 30)
        taken, days = days[:count], days[count:]
        moments = [FIRST + datetime.timedelta(days=day) for day in taken]
        assert found(in_log, a_batch(*((moment, None) for moment in moments))) == list(map(expected.get, moments))


def test_a_uuid_is_found_on_any_day_and_in_whatever_state(operator):
    living, deleted, undone = rows = a_log(operator, (0, 100, 200))
    deleted.withdraw(operator)
    imported = ImportedFile.objects.create(owner=operator, name="a.adi", status=ImportedFile.Status.UNDONE)
    Contact.objects.filter(pk=undone.pk).update(imported_by=imported, deleted_at=FIRST, revision=2)
    other = FIRST + datetime.timedelta(days=300)
    in_log = Known(operator)
    batch = a_batch(*((other, row.uuid) for row in rows), (other, uuid.uuid4()), (undone.started_at, None))
    assert found(in_log, batch) == [living.pk, deleted.pk, undone.pk, None, None]
    states = [in_log.by_uuid[row.uuid.hex][1] for row in rows]
    assert states == [Known.LIVING, Known.DELETED, Known.UNDONE]


def test_what_was_mended_to_another_year_is_known_by_how_it_came(operator):
    row, = a_log(operator, (0,))
    Contact.everything.filter(pk=row.pk).update(raw=[
        ["CALL", "", "Q0XYZ"], ["QSO_DATE", "", "19700101"], ["TIME_ON", "", "1200"], ["BAND", "", "20m"],
        ["MODE", "", "SSB"],
    ], revision=2)
    then = datetime.datetime(1970, 1, 1, 12, tzinfo=datetime.UTC)
    assert found(Known(operator), a_batch((then, None), (FIRST, None))) == [row.pk, row.pk]
