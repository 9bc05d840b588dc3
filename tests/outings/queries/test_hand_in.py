"""What the hand-in page reads: the check, the counts per UTC day, the files."""

import datetime

import pytest

from outings.models import ContactConflict
from outings.queries.hand_in import hand_in, safe
from tests.making import a_contact, a_moment, a_site, a_stint, an_operator, an_outing

NOW = a_moment("2026-05-02 12:00")


def checked(outing):
    """The keys of the findings and how many contacts each concerns."""
    return {finding.key: finding.count for finding in hand_in(outing, NOW).findings}


@pytest.fixture
def outing(db):
    """An outing with one contact that nothing is wrong with."""
    stint = a_stint()
    a_contact(stint=stint)
    return stint.outing


def test_a_complete_log_has_no_findings(outing):
    assert checked(outing) == {}


def test_a_log_without_contacts_says_so(db):
    outing = an_outing()
    assert checked(outing) == {"empty": 0}
    assert hand_in(outing, NOW).files == ()


@pytest.mark.parametrize(("fields", "key"), [
    ({"call": "Q7?C", "pending": True}, "pending"),
    ({"station_call": ""}, "station_call"),
    ({"station_call": "Q1-ABC"}, "station_call"),
    ({"call": "Q7"}, "call"),
    ({"band": "", "frequency_hz": None}, "band"),
    ({"frequency_hz": 7_030_000}, "frequency"),
    ({"mode": "", "submode": ""}, "mode"),
    ({"at": "2026-05-02 12:01"}, "future"),
    ({"ended_at": a_moment("2026-05-01 13:00")}, "backwards"),
    ({"at": "2026-05-01 16:16"}, "window"),
    ({"at": "2026-05-01 12:44:59"}, "window"),
    ({"call": "Q0XYZ", "at": "2026-05-01 13:40"}, "repeat"),
    ({"station_call": "Q1ABC/M"}, "other_call"),
    ({"rst_rcvd": ""}, "report"),
    ({"call": "QQQQ"}, "unusual"),
    ({"stint": None}, "stint"),
    ({"problems": [["STATE", "unknown"]]}, "marked"),
])
def test_each_fault_is_found_and_only_in_the_contact_that_has_it(outing, fields, key):
    faulty = a_contact(outing, **{"call": "Q5NO", "at": "2026-05-01 13:20", "stint": outing.stints.get(), **fields})
    [finding] = [finding for finding in hand_in(outing, NOW).findings if finding.key == key]
    assert [contact.pk for contact in finding.contacts] == [faulty.pk]
    assert finding.text.startswith("1 contact ")


def test_the_edges_of_the_window_have_a_quarter_of_an_hour(outing):
    for at in ("2026-05-01 12:45", "2026-05-01 16:15"):
        a_contact(outing, call="Q5NO", at=at, stint=outing.stints.get())
    assert "window" not in checked(outing)


def test_what_really_happened_counts_before_the_plan(outing):
    outing.started_at, outing.ended_at = a_moment("2026-05-01 09:00"), a_moment("2026-05-01 10:00")
    outing.keep(outing.owner)
    assert checked(outing)["window"] == 1


@pytest.mark.parametrize(("fields", "repeats"), [
    ({}, 1),
    ({"mode": "CW", "submode": ""}, 0),
    ({"submode": "LSB"}, 1),
    ({"mode": "FM", "submode": ""}, 1),
    ({"band": "40m", "frequency_hz": None}, 0),
    ({"at": "2026-05-02 00:10"}, 0),
    ({"their_reference": "QS-0001"}, 0),
    ({"station_call": "Q1ABC"}, 0),
    ({"pending": True}, 0),
])
def test_a_repeat_is_the_same_call_band_kind_of_mode_and_utc_day(outing, fields, repeats):
    a_contact(outing, **{"at": "2026-05-01 13:40", **fields})
    assert checked(outing).get("repeat", 0) == repeats


def test_a_reference_of_theirs_that_was_there_before_makes_a_repeat(outing):
    for minute, reference in ((20, "QS-0001"), (21, "QS-0002"), (22, "qs-0001"), (23, "QS-0002, QS-0003")):
        a_contact(outing, at=f"2026-05-01 13:{minute}", their_reference=reference)
    [finding] = [finding for finding in hand_in(outing, NOW).findings if finding.key == "repeat"]
    assert [contact.their_reference for contact in finding.contacts] == ["qs-0001"]


def test_the_exchange_of_the_outing_is_looked_for(outing):
    assert "serial" not in checked(outing)
    outing.exchange = "serial"
    outing.keep(outing.owner)
    assert checked(outing)["serial"] == 1
    for call in ("Q5NO", "QA7K"):
        a_contact(outing, call=call, serial_sent=4, serial_rcvd=9, stint=outing.stints.get())
    assert (checked(outing)["serial"], checked(outing)["serial_twice"]) == (1, 2)
    outing.exchange = "location"
    outing.keep(outing.owner)
    assert checked(outing)["exchange"] == 3


def test_an_outing_without_a_reference_is_mentioned(outing):
    outing.references = []
    outing.keep(outing.owner)
    assert checked(outing) == {"reference": 0}


def test_a_conflict_is_mentioned_until_it_is_settled(outing):
    conflict = ContactConflict.objects.create(contact=outing.contacts.get(), revision=1, values={})
    assert checked(outing) == {"conflict": 1}
    conflict.settle(outing.owner, take_over=False)
    assert checked(outing) == {}


def test_local_time_logged_as_utc_is_recognised(db):
    owner = an_operator()
    site = a_site(owner, time_zone="America/Vancouver")
    outing = an_outing(owner, site=site, start="2026-05-01 20:00")
    for minute in range(10):
        a_contact(outing, call=f"Q{minute}ABC", at=f"2026-05-01 13:{minute:02d}")
    found = {finding.key: finding for finding in hand_in(outing, NOW).findings}
    assert "+7 h" in found["local"].text
    assert found["local"].serious
    a_contact(outing, call="Q9NEW", at="2026-05-01 05:00")
    a_contact(outing, call="Q8NEW", at="2026-05-01 05:00")
    assert "local" not in checked(outing)


def test_counts_are_per_utc_day_against_the_goal(db):
    outing = an_outing(start="2026-05-01 23:00", goal_contacts=3)
    for number, at in enumerate(("05-01 23:10", "05-01 23:59:59", "05-02 00:00", "05-02 00:05")):
        a_contact(outing, call=f"Q{number}ABC", at=f"2026-{at}")
    a_contact(outing, call="Q3ABC", at="2026-05-02 00:07")
    a_contact(outing, call="Q?", at="2026-05-02 00:08", pending=True)
    first, second = hand_in(outing, NOW).days
    assert (first.day, first.counted, first.repeats, first.pending, first.missing) == (
        datetime.date(2026, 5, 1), 2, 0, 0, 1)
    assert (second.counted, second.repeats, second.pending, second.missing) == (3, 1, 1, 1)


def test_there_is_a_file_for_each_day_own_call_and_own_reference(db):
    outing = an_outing(start="2026-05-01 23:00", references=[
        {"programme": "Shorelines", "reference": "QS-0042"}, {"programme": "Hills", "reference": "Q/HL 007"},
    ])
    a_contact(outing, at="2026-05-01 23:10")
    a_contact(outing, at="2026-05-02 00:10", call="QA7K")
    a_contact(outing, at="2026-05-02 00:20", call="Q5NO", station_call="Q9/Q1ABC")
    a_contact(outing, at="2026-05-03 00:20", call="Q?", pending=True)
    assert [(file.number, file.stem, file.count) for file in hand_in(outing, NOW).files] == [
        (1, "Q1ABC-P_QS-0042_2026-05-01", 1), (2, "Q1ABC-P_Q-HL-007_2026-05-01", 1),
        (3, "Q1ABC-P_QS-0042_2026-05-02", 1), (4, "Q1ABC-P_Q-HL-007_2026-05-02", 1),
        (5, "Q9-Q1ABC_QS-0042_2026-05-02", 1), (6, "Q9-Q1ABC_Q-HL-007_2026-05-02", 1),
    ]


@pytest.mark.parametrize(("text", "name"), [
    ("Q1ABC/P", "Q1ABC-P"), ("../../etc", "etc"), ("a\\b:c*?", "a-b-c"), ("Ö 1", "1"), ("", ""), ('"; rm', "rm"),
    ("Q\r\nX", "Q-X"), ("...", ""),
])
def test_a_file_name_holds_only_characters_that_every_system_takes(text, name):
    assert safe(text) == name


def test_the_check_takes_as_many_queries_for_many_contacts_as_for_few(outing, django_assert_max_num_queries):
    for number in range(40):
        a_contact(outing, call=f"Q{number % 10}A{chr(65 + number % 26)}", at=f"2026-05-01 14:{number:02d}")
    outing = type(outing).objects.select_related("site").get(pk=outing.pk)
    with django_assert_max_num_queries(3):
        hand_in(outing, NOW)
