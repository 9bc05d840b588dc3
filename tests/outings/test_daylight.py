"""The light of a window, put together for the dates it touches; the numbers of the sun are held in test_sun.py."""

import datetime
import math

import pytest

from outings import daylight
from tests.making import a_moment
from tests.trying import reference_library

BERLIN = (52.52, 13.37, "Europe/Berlin")
TROMSO = (69.65, 18.96, "Europe/Oslo")
SAMOA = (-13.76, -172.1, "Pacific/Apia")


def light(place, start, end):
    return daylight.of(*place, a_moment(start), a_moment(end))


def test_the_events_of_a_date_come_in_order_and_where_ephem_has_them():
    # Source: PyEphem, horizon -0:50 and -6, no pressure, centre of the disc.
    ephem = reference_library("ephem")
    found = light(BERLIN, "2026-03-21 12:00", "2026-03-21 18:00")
    observer = ephem.Observer()
    observer.lat, observer.lon, observer.pressure = math.radians(BERLIN[0]), math.radians(BERLIN[1]), 0
    observer.date = "2026-03-20 23:00"
    expected = []
    for horizon, rise, down in (("-6", "dawn", "dusk"), ("-0:50", "sunrise", "sunset")):
        observer.horizon = horizon
        sun = ephem.Sun()
        expected.append((rise, observer.next_rising(sun, use_center=True).datetime()))
        expected.append((down, observer.next_setting(sun, use_center=True).datetime()))
    events = [event for event in found.days[0].events if event.what != "highest sun"]
    assert [event.what for event in events] == [what for what, _ in sorted(expected, key=lambda pair: pair[1])]
    for what, at in expected:
        event = next(event for event in events if event.what == what)
        assert abs((event.at.replace(tzinfo=None) - at).total_seconds()) < 60


def test_a_polar_day_says_that_the_sun_does_not_set():
    found = light(TROMSO, "2026-06-21 12:00", "2026-06-21 20:00")
    assert found.days[0].notes == ("The sun does not set on this date.",)
    assert [event.what for event in found.days[0].events] == ["highest sun"]
    assert found.ending.is_day
    assert found.ending.day_left_h is None
    assert found.ending.next_sunset is None


def test_a_polar_night_says_that_the_sun_does_not_rise_but_has_its_twilight():
    found = light(TROMSO, "2026-12-21 08:00", "2026-12-21 14:00")
    assert found.days[0].notes == ("The sun does not rise on this date.",)
    assert [event.what for event in found.days[0].events] == ["dawn", "dusk"]
    assert not found.ending.is_day


def test_a_bright_night_says_that_it_does_not_get_dark():
    found = light((62.24, 25.75, "Europe/Helsinki"), "2026-06-21 12:00", "2026-06-21 16:00")
    assert found.days[0].notes == ("It does not get dark: civil twilight lasts through the night.",)


def test_day_left_is_counted_from_the_end_of_the_window_to_the_next_sunset():
    found = light(BERLIN, "2026-06-21 12:00", "2026-06-21 18:00")
    sunset = next(event.at for event in found.days[0].events if event.what == "sunset")
    assert found.ending.day_left_h == pytest.approx((sunset - a_moment("2026-06-21 18:00")).total_seconds() / 3600)
    assert found.ending.until_dusk_h > found.ending.day_left_h


def test_a_window_that_ends_in_the_dark_has_no_day_left_and_knows_when_the_sun_set():
    found = light(BERLIN, "2026-03-21 16:00", "2026-03-21 22:00")
    assert (found.ending.day_left_h, found.ending.height.light) == (None, "night")
    assert found.ending.last_sunset < found.ends_at < found.ending.next_sunrise


def test_a_window_over_local_midnight_has_two_dates_and_one_utc_day():
    found = light(BERLIN, "2026-06-21 20:00", "2026-06-21 23:30")
    assert [day.date.isoformat() for day in found.days] == ["2026-06-21", "2026-06-22"]
    assert [day.isoformat() for day in found.utc_days] == ["2026-06-21"]
    assert found.utc_midnights == ()
    assert found.next_utc_midnight == a_moment("2026-06-22 00:00")


def test_a_window_over_utc_midnight_at_noon_of_one_local_date():
    found = light(SAMOA, "2026-06-21 20:00", "2026-06-22 02:00")
    assert [day.date.isoformat() for day in found.days] == ["2026-06-22"]
    assert [day.isoformat() for day in found.utc_days] == ["2026-06-21", "2026-06-22"]
    assert found.utc_midnights == (a_moment("2026-06-22 00:00"),)


@pytest.mark.parametrize(
    ("start", "end", "sentence"),
    [
        ("2026-03-28 21:00", "2026-03-29 04:00", "On 2026-03-29 the clocks go from 02:00 to 03:00 (UTC+1 to UTC+2)."),
        ("2026-10-25 08:00", "2026-10-25 12:00", "On 2026-10-25 the clocks go from 03:00 to 02:00 (UTC+2 to UTC+1)."),
    ],
)
def test_a_change_of_the_clocks_on_a_date_of_the_window_is_told(start, end, sentence):
    # Source: Directive 2000/84/EC, 01:00 UTC on the last Sundays of March and October.
    assert light(BERLIN, start, end).clock_sentences == [sentence]


def test_the_heights_run_from_start_to_end_at_whole_steps_and_stay_few():
    found = light(BERLIN, "2026-06-21 12:10", "2026-06-21 15:50")
    assert [height.at.minute for height in found.heights] == [10, 30, *[0, 30] * 3, 50]
    assert len(light(BERLIN, "2026-06-21 12:10", "2026-06-28 11:00").heights) <= 18


def test_a_window_without_an_end_has_the_light_of_its_date():
    found = light(BERLIN, "2026-06-21 12:00", "2026-06-21 12:00")
    assert len(found.days) == len(found.heights) == 1


def test_an_end_before_the_start_is_refused():
    with pytest.raises(ValueError, match="before"):
        light(BERLIN, "2026-06-21 12:00", "2026-06-21 11:00")


def test_the_path_reaches_two_hours_around_the_window():
    found = light(BERLIN, "2026-06-21 12:00", "2026-06-21 18:00")
    assert found.path[0][0] == a_moment("2026-06-21 10:00")
    assert abs(found.path[-1][0] - a_moment("2026-06-21 20:00")) < datetime.timedelta(seconds=1)
