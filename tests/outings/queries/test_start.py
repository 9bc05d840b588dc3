"""What the start page reads: what is next, what is unfinished, what was learned last."""

import datetime

import pytest

from outings.models import ChecklistLine, ContactConflict, ImportedFile
from outings.queries import start as queries
from tests.making import (
    a_contact,
    a_kit,
    a_moment,
    a_note,
    a_site,
    a_stint,
    an_antenna,
    an_arrangement,
    an_operator,
    an_outing,
)

pytestmark = pytest.mark.django_db

NOW = a_moment("2026-05-01 12:00")


@pytest.fixture
def operator():
    return an_operator()


def a_line(outing, *, ticked=False):
    line = ChecklistLine(owner=outing.owner, outing=outing, text="Radio", ticked_at=NOW if ticked else None)
    line.keep(outing.owner)
    return line


def test_a_new_log_is_new(operator):
    start = queries.start(operator, NOW)
    assert start.is_new and start.next is None and start.last is None and not start.unfinished
    a_site(operator)
    assert not queries.start(operator, NOW).is_new


def test_the_next_outing_says_what_is_not_ready(operator):
    antenna = an_antenna(operator)
    kit = a_kit(operator, arrangements=[an_arrangement(antenna, bands=["20m"])])
    site = a_site(operator)
    an_outing(operator, site=site, start="2026-05-20 09:00")
    outing = an_outing(operator, site=site, start="2026-05-02 09:00", kit=kit, bands=["40m", "20m"])
    a_line(outing)
    a_line(outing, ticked=True)
    found = queries.next_outing(operator, NOW)
    assert (found.plan.outing, found.is_on, found.more) == (outing, False, 1)
    assert (found.uncovered, found.unticked, found.is_ready) == (["40m"], 1, False)


def test_an_outing_is_ready_with_a_kit_that_covers_its_bands_and_every_line_ticked(operator):
    kit = a_kit(operator, arrangements=[an_arrangement(an_antenna(operator), bands=["20m"])])
    outing = an_outing(operator, start="2026-05-01 11:00", kit=kit, bands=["20m"])
    assert not queries.next_outing(operator, NOW).is_ready  # no checklist yet
    a_line(outing, ticked=True)
    found = queries.next_outing(operator, NOW)
    assert found.is_ready and found.is_on


def test_what_is_unfinished_is_told(operator):
    site = a_site(operator)
    held = an_outing(operator, site=site, start="2026-04-01 09:00")
    a_contact(held, call="Q1A?", at="2026-04-01 09:10", pending=True)
    contested = a_contact(held, at="2026-04-01 09:20")
    for revision in (1, 2):
        ContactConflict.objects.create(contact=contested, revision=revision, values={})
    ContactConflict.objects.create(contact=a_contact(held, call="Q3C"), revision=1, values={}, settled_at=NOW)
    running = a_stint(held, start="2026-04-01 09:00", minutes=None)
    silent = an_outing(operator, site=site, start="2026-04-02 09:00")
    endless = an_outing(operator, site=site, start="2026-04-03 09:00", window_end=None)
    waiting = ImportedFile.objects.create(owner=operator, name="log.adi", status=ImportedFile.Status.READ)
    ImportedFile.objects.create(owner=operator, name="done.adi", status=ImportedFile.Status.IMPORTED)
    found = queries.unfinished(operator, NOW)
    assert (found.running, found.doubtful, found.conflicts) == ((running,), 1, 1)
    assert (found.endless, found.unlogged, found.imports) == ((endless,), (silent,), (waiting,))


def test_the_last_outing_comes_with_its_rate_and_interval(operator):
    site = a_site(operator)
    outing = an_outing(operator, site=site, start="2026-04-01 09:00")
    stint = a_stint(outing, start="2026-04-01 09:00", minutes=120)
    for minute in range(10):
        a_contact(outing, call=f"Q{minute}A", at=f"2026-04-01 09:{minute:02}", stint=stint)
    a_contact(outing, call="Q1B", at="2026-04-01 11:30")  # in no stint: it has no hours
    a_contact(outing, call="Q1?", at="2026-04-01 09:40", stint=stint, pending=True)
    an_outing(operator, site=site, start="2026-04-05 09:00")  # later, but nothing was logged
    last = queries.last_outing(operator, NOW)
    assert (last.outing, last.contacts, last.in_stints, last.on_air_h) == (outing, 11, 10, 2.0)
    # exact Poisson interval of 10 counts, 4.795 to 18.390 (Garwood 1936, as in printed tables), over two hours
    assert (last.rate.per_h, last.rate.low, last.rate.high) == pytest.approx((5.0, 2.3977, 9.1952), abs=5e-4)


def test_an_outing_without_stints_has_no_rate(operator):
    outing = an_outing(operator, start="2026-04-01 09:00")
    a_contact(outing, at="2026-04-01 09:10")
    last = queries.last_outing(operator, NOW)
    assert (last.contacts, last.rate) == (1, None)


def test_nothing_of_another_operator_is_on_it(operator):
    other = an_operator("Q2DEF")
    outing = an_outing(other, start="2026-05-02 09:00")
    past = an_outing(other, site=outing.site, start="2026-04-01 09:00")
    ContactConflict.objects.create(contact=a_contact(past, pending=True), revision=1, values={})
    a_stint(past, minutes=None)
    a_note(other)
    ImportedFile.objects.create(owner=other, name="log.adi", status=ImportedFile.Status.READ)
    start = queries.start(operator, NOW)
    assert start.is_new and not start.notes and start.last is None and not start.unfinished


def test_it_takes_as_many_queries_for_many_outings_as_for_one(operator, django_assert_max_num_queries):
    site = a_site(operator)
    kit = a_kit(operator, arrangements=[an_arrangement(an_antenna(operator), bands=["20m"])])
    for day in range(1, 6):
        a_stint(an_outing(operator, site=site, start=f"2026-04-0{day} 09:00", kit=kit), minutes=None)
        an_outing(operator, site=site, start=f"2026-05-0{day + 1} 09:00", kit=kit)
        a_note(operator, f"Note {day}")
    with django_assert_max_num_queries(26):
        start = queries.start(operator, NOW)
        for stint in start.unfinished.running:
            str(stint.outing), str(stint.arrangement)
    assert len(start.notes) == 3
    assert start.next.plan.outing.window_start - NOW < datetime.timedelta(days=1)
