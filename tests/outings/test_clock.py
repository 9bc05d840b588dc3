"""Moments as operators type them."""

import datetime

import pytest

from outings import clock

NOW = datetime.datetime(2026, 5, 1, 14, 5, 37, 123456, tzinfo=datetime.UTC)


def at(text, now=NOW):
    moment = clock.read(text, now)
    return f"{moment.at:%m-%d %H:%M:%S}", moment.seconds_known


@pytest.mark.parametrize(
    ("typed", "expected"),
    [
        ("", ("05-01 14:05:37", True)),
        ("now", ("05-01 14:05:37", True)),
        ("1403", ("05-01 14:03:00", False)),
        ("140321", ("05-01 14:03:21", True)),
        ("14:03", ("05-01 14:03:00", False)),
        ("9:15", ("05-01 09:15:00", False)),
        ("1403z", ("05-01 14:03:00", False)),
        ("-20", ("05-01 13:45:37", True)),
        ("20 min ago", ("05-01 13:45:37", True)),
        ("20 ago", ("05-01 13:45:37", True)),
        ("1406", ("05-01 14:06:00", False)),  # another clock may be some seconds fast
        ("2026-04-30 2359", ("04-30 23:59:00", False)),
        ("20260430 235959", ("04-30 23:59:59", True)),
    ],
)
def test_a_moment_is_read(typed, expected):
    assert at(typed) == expected


def test_shortly_after_midnight_a_late_time_is_of_the_day_before():
    after_midnight = NOW.replace(hour=0, minute=10)
    assert at("2355", after_midnight) == ("04-30 23:55:00", False)


def test_a_time_still_ahead_is_refused_rather_than_put_on_yesterday():
    with pytest.raises(clock.NotATime, match=r"14:30 UTC is still ahead; it is 14:05 UTC.*2026-04-30 1430"):
        clock.read("1430", NOW)
    with pytest.raises(clock.NotATime, match="still ahead"):
        clock.read("2026-05-02 0900", NOW)


@pytest.mark.parametrize("typed", ["2460", "2400", "14056", "noon", "14-05", "1", "2026-02-30 1200", "140599"])
def test_what_is_no_time_is_refused(typed):
    with pytest.raises(clock.NotATime):
        clock.read(typed, NOW)


@pytest.mark.parametrize(
    ("above", "typed", "expected"),
    [
        ("2026-05-01 23:58", "", "05-01 23:58"),  # the same minute as the line above
        ("2026-05-01 13:58", "59", "05-01 13:59"),
        ("2026-05-01 13:58", "02", "05-01 14:02"),  # minutes only, in the next hour
        ("2026-05-01 23:58", "02", "05-02 00:02"),
        ("2026-05-01 23:58", "0003", "05-02 00:03"),  # the column runs over midnight
        ("2026-05-01 14:10", "1405", "05-01 14:05"),  # out of order, not tomorrow
        ("2026-05-02 00:03", "2359", "05-01 23:59"),  # out of order over midnight
        ("2026-05-01 14:10", "2205", "05-01 22:05"),
    ],
)
def test_times_of_a_paper_log_fill_down_and_run_over_midnight(above, typed, expected):
    above = datetime.datetime.fromisoformat(above).replace(tzinfo=datetime.UTC)
    moment = clock.filled_down(typed, above)
    assert f"{moment.at:%m-%d %H:%M}" == expected
    assert not moment.seconds_known


def test_a_paper_time_that_is_none_is_refused():
    for typed in ("77", "7", "25:00"):
        with pytest.raises(clock.NotATime):
            clock.filled_down(typed, NOW)


def test_a_date_is_read_in_both_ways_of_writing():
    assert clock.date("2026-05-01") == clock.date("20260501") == datetime.date(2026, 5, 1)
    for typed in ("1.5.2026", "2026-13-01", ""):
        with pytest.raises(clock.NotATime):
            clock.date(typed)


def test_the_end_of_a_stretch_is_the_next_such_time_after_its_beginning():
    start = datetime.datetime(2026, 5, 1, 23, 30, tzinfo=datetime.UTC)
    assert f"{clock.next_after('2345', start).at:%m-%d %H:%M}" == "05-01 23:45"
    assert f"{clock.next_after('0045', start).at:%m-%d %H:%M}" == "05-02 00:45"
    assert f"{clock.next_after('2330', start).at:%m-%d %H:%M}" == "05-02 23:30"
    assert f"{clock.next_after('2026-05-01 2300', start).at:%m-%d %H:%M}" == "05-01 23:00"  # as it was typed


def test_a_time_may_stand_with_its_date_or_take_a_given_day():
    day = datetime.date(2026, 4, 20)
    assert f"{clock.dated('1305', day).at:%m-%d %H:%M}" == "04-20 13:05"
    assert f"{clock.dated('2026-05-01 130542', day).at:%m-%d %H:%M:%S}" == "05-01 13:05:42"
