"""Values of contacts as they are read in a few texts, against the plain way: contact by contact, in Python."""

import datetime
import math
from collections import Counter, defaultdict

import pytest

from outings import dial
from outings.demo import loading
from outings.evidence import reports
from outings.models import Contact, Stint
from outings.queries import observing, packed, valued
from outings.queries.judging import Asked
from tests.making import a_contact, an_operator, an_outing

pytestmark = pytest.mark.django_db


@pytest.fixture
def asked():
    operator = an_operator(units="imperial")
    loading.load(operator, datetime.date(2026, 11, 25))
    # a long stint of the log runs past the ends of two hour blocks
    first = Stint.objects.of(operator).order_by("started_at").first()
    Stint.objects.filter(pk=first.pk).update(ended_at=first.ended_at + datetime.timedelta(hours=7))
    for number, contact in enumerate(Contact.objects.filter(stint=first)):
        later = contact.started_at + datetime.timedelta(minutes=40 * number, microseconds=999_999)
        Contact.objects.filter(pk=contact.pk).update(started_at=later)
    return Asked(operator, Stint.objects.of(operator), now=datetime.datetime(2026, 11, 25, tzinfo=datetime.UTC))


def sun_block(contact):
    by_the_sun = contact.started_at.timestamp() + contact.outing.site.longitude_deg * observing.DEGREE_S
    return int(by_the_sun // observing.BLOCK_S)


def counted(asked):
    return Contact.objects.of(asked.operator).counted().filter(stint__isnull=False).select_related("outing__site")


def samples(asked, value_of):
    """{(stint, block): ordered values}: each contact goes to its stint's part of its hour, else to the first."""
    pieces, found = defaultdict(list), defaultdict(list)
    for piece in asked.seen.pieces:
        pieces[piece.stint].append(piece)
    for contact in counted(asked):
        value = value_of(contact)
        if value is not None and contact.stint_id in pieces:
            mine = pieces[contact.stint_id]
            of_hour = [piece for piece in mine if piece.block[observing.HOUR] == sun_block(contact) % 6]
            found[f"{contact.stint_id}", (of_hour or mine)[0].block].append(value)
    return {key: tuple(sorted(values)) for key, values in found.items()}


def read(asked, told):
    return {(sample.stint, sample.block): sample.values for sample in valued.samples_of(asked.seen, told)}


def test_distances_are_those_of_the_contacts_one_by_one(asked):
    def miles(contact):
        km = contact.distance_km
        return None if km is None else round(math.floor(km * 1000 + 0.5) / 1000 / 1.609344, 1)

    plain = samples(asked, miles)
    assert read(asked, valued.placed(asked)) == plain
    assert len(valued.split_in(asked.seen)) > 5 and sum(map(len, plain.values())) > 500


@pytest.mark.parametrize("column", ["rst_rcvd", "rst_sent"])
def test_reports_are_those_of_the_contacts_one_by_one(asked, column):
    honest, formal = reports.honest_outings(
        reports.Exchanged(one.outing_id, one.rst_sent, one.rst_rcvd, dial.usual_report(one.mode, one.submode))
        for one in counted(asked)
    )

    def strength(contact):
        decibels = dial.reports_decibels(contact.mode, contact.submode)
        known = contact.outing_id in honest
        return reports.strength_db(getattr(contact, column), decibels=decibels) if known else None

    plain = samples(asked, strength)
    told, left_out, _ = valued.strengths(asked, column)
    assert read(asked, told) == plain
    assert left_out == len(formal) and sum(map(len, plain.values())) > 200


def test_contacts_of_the_parts_of_a_stint_are_those_one_by_one(asked):
    parts = defaultdict(Counter)
    for piece in asked.seen.pieces:
        parts[piece.stint][piece.block[observing.HOUR]] += piece.contacts
    plain = defaultdict(Counter)
    for contact in counted(asked):
        plain[contact.stint_id][sun_block(contact) % 6] += 1
    split = [stint for stint in valued.split_in(asked.seen) if set(plain[stint]) <= set(parts[stint])]
    assert len(split) > 5
    assert {stint: +parts[stint] for stint in split} == {stint: plain[stint] for stint in split}


@pytest.mark.parametrize("moment", [
    "2026-06-01 12:00:00", "2026-06-01 12:00:59.999999", "2026-12-31 23:59:59.000001", "1969-12-31 23:59:59.250000",
])
def test_a_moment_is_a_whole_number_of_microseconds(moment):
    at = datetime.datetime.fromisoformat(moment).replace(tzinfo=datetime.UTC)
    contact = a_contact(an_outing())
    Contact.objects.filter(pk=contact.pk).update(started_at=at)
    us = Contact.objects.annotate(us=packed.Microseconds("started_at")).values_list("us", flat=True).get(pk=contact.pk)
    assert us == (at - datetime.datetime(1970, 1, 1, tzinfo=datetime.UTC)) // datetime.timedelta(microseconds=1)
