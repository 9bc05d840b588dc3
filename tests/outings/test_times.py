"""Times, directions and lengths of time as they are shown: UTC first, the local time beside it."""

import datetime
from types import SimpleNamespace

import pytest
from django.template import Context, Template

from outings.templatetags import times

NBSP = "\u00a0"
WHEN = datetime.datetime(2026, 6, 21, 23, 4, 40, tzinfo=datetime.UTC)


def plain(text):
    return text.replace(NBSP, " ")


def test_utc_is_shown_as_utc_whatever_zone_the_moment_came_in():
    tokyo = WHEN.astimezone(datetime.timezone(datetime.timedelta(hours=9)))
    assert plain(times.utc_time(tokyo)) == "23:04 UTC"
    assert times.utc_clock(tokyo) == "23:04"
    assert times.utc_date(tokyo) == "2026-06-21"
    assert times.utc_date(datetime.date(2026, 6, 21)) == "2026-06-21"
    assert plain(times.utc_moment(tokyo)) == "2026-06-21 23:04 UTC"
    assert plain(times.utc_seconds(tokyo)) == "23:04:40 UTC"


@pytest.mark.parametrize(
    ("zone", "shown"),
    [
        ("UTC", "23:04"),
        ("Europe/Helsinki", "02:04 (+1 day)"),
        ("America/New_York", "19:04"),
        ("", "23:04"),
        ("Nowhere/Atall", "23:04"),
    ],
)
def test_local_time_says_when_its_date_is_another(zone, shown):
    assert plain(times.local_face(WHEN, zone, "24")) == shown


def test_a_local_date_before_the_utc_date_is_marked():
    early = datetime.datetime(2026, 6, 21, 2, 0, tzinfo=datetime.UTC)
    assert plain(times.local_face(early, "America/New_York", "24")) == "22:00 (\u22121 day)"
    assert times.local_date(early, "America/New_York") == "2026-06-20"


@pytest.mark.parametrize(
    ("hour", "shown"), [(0, "12:05 am"), (11, "11:05 am"), (12, "12:05 pm"), (14, "2:05 pm")]
)
def test_the_twelve_hour_clock_is_a_preference(hour, shown):
    when = datetime.datetime(2026, 6, 21, hour, 5, tzinfo=datetime.UTC)
    template = Template("{% load times %}{% both_times when 'UTC' %}")
    user = SimpleNamespace(clock="12")
    assert plain(template.render(Context({"when": when, "user": user}))) == f"{hour:02d}:05 UTC ({shown} local)"


@pytest.mark.parametrize(
    ("value", "shown"), [(0.75, "45 min"), (3.0833, "3 h 05 min"), (1, "1 h 00 min"), (140.6, "141 h"), (0, "0 min")]
)
def test_a_length_of_time_reads_as_hours_and_minutes(value, shown):
    assert plain(times.hours(value)) == shown
    assert plain(times.minutes(value * 60)) == shown
    assert plain(times.seconds(value * 3600)) == shown


def test_until_counts_down_and_then_says_ago():
    assert plain(times.until(WHEN, WHEN - datetime.timedelta(minutes=125))) == "in 2 h 05 min"
    assert plain(times.until(WHEN, WHEN + datetime.timedelta(minutes=5))) == "5 min ago"
    assert times.until(WHEN, WHEN) == "now"


def test_light_times_are_rounded_to_the_minute():
    assert times.utc_clock(times.nearest_minute(WHEN)) == "23:05"


@pytest.mark.parametrize(
    ("value", "shown"), [(50.8, "051° NE"), (359.8, "000° N"), (0, "000° N"), (337.4, "337° NW"), (337.6, "338° N")]
)
def test_a_bearing_has_three_digits_and_its_point_of_the_compass(value, shown):
    assert plain(times.bearing(value)) == shown


def test_an_elevation_below_the_horizon_has_a_minus_sign():
    assert times.elevation(-6.4) == "\u22126°"
    assert times.elevation(-0.2) == "0°"


def test_nothing_known_shows_nothing():
    template = Template(
        "{% load times %}{{ x|utc_time }}{{ x|utc_clock }}{{ x|utc_seconds }}{{ x|utc_date }}{{ x|utc_moment }}"
        "{{ x|local_date:'UTC' }}{% local_clock x 'UTC' %}"
        "{% both_times x 'UTC' %}{{ x|nearest_minute|utc_clock }}{{ x|hours }}{{ x|minutes }}{{ x|seconds }}"
        "{{ x|until }}{{ x|bearing }}{{ x|elevation }}|{{ x|hours|default:'–' }}"
    )
    assert template.render(Context({"x": None, "user": None})) == "|–"
