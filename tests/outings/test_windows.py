"""Civil times at a place against UTC.

Sources: summer time of the European Union from the last Sunday of March to that of October, 01:00 UTC (Directive
2000/84/EC); of the United States from the second Sunday of March to the first of November, 02:00 local (Energy Policy
Act of 2005); Samoa went from 29 to 31 December 2011 (IANA tz database, file australasia); Lord Howe Island sets its
clocks by half an hour (same file).
"""

import datetime

import pytest

from outings import windows


def utc(text):
    return datetime.datetime.fromisoformat(text).replace(tzinfo=datetime.UTC)


def at(text, zone, which=""):
    local = datetime.datetime.fromisoformat(text)
    return windows.to_utc(local.date(), local.time(), zone, which)


@pytest.mark.parametrize(
    ("typed", "read"),
    [("14:05", (14, 5)), ("1405", (14, 5)), ("9:30", (9, 30)), ("14.05", (14, 5)), ("2:05 pm", (14, 5)),
     ("12:00 am", (0, 0)), ("12 PM", (12, 0)), (" 7 a.m. ", (7, 0)), ("00:00", (0, 0)), ("930", (9, 30))],
)
def test_a_time_of_day_is_read_as_people_type_it(typed, read):
    assert windows.read_time(typed) == datetime.time(*read)


@pytest.mark.parametrize("typed", ["", "25:00", "14:60", "14", "noon", "13:00 pm", "0:10 am", "1:2", "٣:00", "9:5:1"])
def test_what_is_no_time_of_day_is_refused_with_an_example(typed):
    with pytest.raises(ValueError, match="is no time of day"):
        windows.read_time(typed)


def test_local_times_before_and_after_a_change_have_their_own_offset():
    assert at("2026-03-29 01:30", "Europe/Berlin") == utc("2026-03-29 00:30")
    assert at("2026-03-29 03:30", "Europe/Berlin") == utc("2026-03-29 01:30")


def test_a_time_that_the_clocks_go_past_is_refused_with_the_reason():
    with pytest.raises(windows.NoSuchTime, match=r"no 02:30 on 2026-03-29 in Europe/Berlin.*from 02:00 to 03:00"):
        at("2026-03-29 02:30", "Europe/Berlin")
    with pytest.raises(windows.NoSuchTime, match=r"UTC−5 to UTC−4"):
        at("2026-03-08 02:10", "America/New_York")


def test_a_time_that_comes_twice_asks_which_is_meant():
    with pytest.raises(windows.TwoSuchTimes, match="00:30 UTC and again at 01:30 UTC") as refused:
        at("2026-10-25 02:30", "Europe/Berlin")
    assert (refused.value.first, refused.value.second) == (utc("2026-10-25 00:30"), utc("2026-10-25 01:30"))
    assert at("2026-10-25 02:30", "Europe/Berlin", "first") == utc("2026-10-25 00:30")
    assert at("2026-10-25 02:30", "Europe/Berlin", "second") == utc("2026-10-25 01:30")


def test_a_date_that_a_place_left_out_is_refused():
    with pytest.raises(windows.NoSuchTime, match="2011-12-30 in Pacific/Apia"):
        at("2011-12-30 12:00", "Pacific/Apia")


def test_clock_changes_are_found_to_the_minute():
    assert windows.clock_changes("Europe/Berlin", utc("2026-03-28 12:00"), utc("2026-03-30 12:00")) == [
        windows.ClockChange(utc("2026-03-29 01:00"), 60, 120)
    ]
    assert windows.clock_changes("Australia/Lord_Howe", utc("2026-04-04 00:00"), utc("2026-04-06 00:00")) == [
        windows.ClockChange(utc("2026-04-04 15:00"), 660, 630)
    ]
    assert windows.clock_changes("UTC", utc("2026-01-01 00:00"), utc("2026-12-31 00:00")) == []


def test_a_change_is_told_in_a_sentence():
    change = windows.ClockChange(utc("2026-10-25 01:00"), 120, 60)
    assert windows.change_sentence(change) == (
        "on 2026-10-25 the clocks go from 03:00 to 02:00 (UTC+2 to UTC+1)"
    )
    assert windows.offset_text(-210) == "UTC−3:30"
    assert windows.offset_text(0) == "UTC"


def test_the_utc_day_changes_inside_a_window_only_strictly_between_its_ends():
    assert windows.midnights(utc("2026-06-21 20:00"), utc("2026-06-22 00:00")) == []
    assert windows.midnights(utc("2026-06-21 20:00"), utc("2026-06-22 00:01")) == [utc("2026-06-22 00:00")]
    assert windows.utc_days(utc("2026-06-21 20:00"), utc("2026-06-23 02:00")) == [
        datetime.date(2026, 6, 21), datetime.date(2026, 6, 22), datetime.date(2026, 6, 23),
    ]


def test_local_dates_follow_the_place_and_skip_the_date_it_left_out():
    auckland = windows.local_dates(utc("2026-06-21 10:00"), utc("2026-06-21 14:00"), "Pacific/Auckland")
    assert auckland == [datetime.date(2026, 6, 21), datetime.date(2026, 6, 22)]
    samoa = windows.local_dates(utc("2011-12-30 08:00"), utc("2011-12-30 12:00"), "Pacific/Apia")
    assert samoa == [datetime.date(2011, 12, 29), datetime.date(2011, 12, 31)]


def test_a_window_that_ends_at_midnight_does_not_touch_the_next_date():
    assert windows.local_dates(utc("2026-06-21 18:00"), utc("2026-06-21 22:00"), "Europe/Berlin") == [
        datetime.date(2026, 6, 21)
    ]


@pytest.mark.parametrize(("pauses", "left"), [
    ([], [(0, 60)]),
    ([(10, 20), (30, 40)], [(0, 10), (20, 30), (40, 60)]),
    ([(10, 30), (20, 25), (28, 40)], [(0, 10), (40, 60)]),  # they overlap, one lies in another
    ([(-5, 5), (50, 70)], [(5, 50)]),
    ([(10, None)], [(0, 10)]),  # it goes on
    ([(60, 70)], [(0, 60)]),
    ([(0, 60)], []),
])
def test_what_is_left_between_pauses(pauses, left):
    def moment(minutes):
        return datetime.datetime(2026, 6, 1, 12, tzinfo=datetime.UTC) + datetime.timedelta(minutes=minutes)

    pauses = [(moment(begin), moment(stop) if stop is not None else None) for begin, stop in pauses]
    left = [(moment(start), moment(end)) for start, end in left]
    assert windows.between_pauses(moment(0), moment(60), pauses) == left
    assert windows.between_pauses(moment(0), moment(-60), pauses) == []
