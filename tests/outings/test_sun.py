"""The sun against published and computed references, and the traps of local dates, clock changes and high latitudes."""

import datetime
import math
import random
import zoneinfo

import ephem
import pytest

from outings import sun
from tests import checks

UTC = datetime.UTC
MINUTE = datetime.timedelta(minutes=1)


def instant(text):
    return datetime.datetime.fromisoformat(text)


def same_events(found, expected, case):
    """Hold crossings against expected ones: a minute, or more where the case says so."""
    assert [crossing.rising for crossing in found] == [event["event"] == "rise" for event in expected], case.id
    for crossing, event in zip(found, expected, strict=True):
        off = abs(crossing.at - instant(event["utc"]))
        assert off <= MINUTE * case.tolerance["minutes"], f"{case.id}: {crossing.at}, not {event['utc']}"


@pytest.mark.parametrize("case", checks.cases("sun", "T3-R"))
def test_a_local_date_has_these_crossings(case):
    date = datetime.date.fromisoformat(case.inputs["local_date"])
    light = sun.light(case.inputs["lat"], case.inputs["lon"], date, case.inputs["zone"])
    same_events(light.sun, case.expected["sun_events"], case)
    same_events(light.civil, case.expected["civil_events"], case)
    assert light.state == case.expected["state"]
    # An elevation is asked for to 0.05 degrees.
    assert light.lowest_deg == pytest.approx(case.expected["min_elevation_deg"], abs=0.05)
    assert light.highest_deg == pytest.approx(case.expected["max_elevation_deg"], abs=0.05)


@pytest.mark.parametrize("case", checks.cases("sun", "T3-E"))
def test_the_sun_stands_there(case):
    found = sun.position(case.inputs["lat"], case.inputs["lon"], instant(case.inputs["utc"]))
    checks.holds(case, {"elevation_deg": found.elevation_deg}, "elevation_deg")
    widened = case.tolerance["azimuth_deg"]["abs"] / math.cos(math.radians(found.elevation_deg))
    assert found.azimuth_deg == pytest.approx(case.expected["azimuth_deg"], abs=widened)
    assert sun.light_class(found.elevation_deg) == case.expected["light"]
    assert sun.near_terminator(found.elevation_deg) is case.expected["near_terminator"]


@pytest.mark.parametrize("case", checks.cases("sun", "T3-G"))
def test_light_along_a_path_is_that_of_both_ends(case):
    when = instant(case.inputs["utc"])
    here_deg, far_deg = (
        sun.elevation_deg(case.inputs[f"lat{end}"], case.inputs[f"lon{end}"], when) for end in (1, 2)
    )
    checks.holds(case, {
        "here_elevation_deg": here_deg, "far_elevation_deg": far_deg,
        "here": sun.light_class(here_deg), "far": sun.light_class(far_deg),
        "here_near_terminator": sun.near_terminator(here_deg), "far_near_terminator": sun.near_terminator(far_deg),
    })


def observer(latitude_deg, longitude_deg, when):
    there = ephem.Observer()
    there.lat, there.lon = math.radians(latitude_deg), math.radians(longitude_deg)
    there.pressure = 0
    there.date = when.astimezone(UTC).replace(tzinfo=None)
    return there


def test_elevation_and_direction_agree_with_ephem_to_five_thousandths_of_a_degree():
    # Reference: PyEphem 4.2.1. astral alone was off by 0.0144 degrees on the same kind of sample.
    numbers = random.Random(3)
    first, last = datetime.datetime(1950, 1, 1, tzinfo=UTC), datetime.datetime(2060, 1, 1, tzinfo=UTC)
    for _ in range(3000):
        latitude_deg, longitude_deg = numbers.uniform(-89, 89), numbers.uniform(-180, 180)
        when = first + numbers.random() * (last - first)
        found = sun.position(latitude_deg, longitude_deg, when)
        body = ephem.Sun(observer(latitude_deg, longitude_deg, when))
        assert found.elevation_deg == pytest.approx(math.degrees(body.alt), abs=0.005)
        turned = (found.azimuth_deg - math.degrees(body.az) + 180) % 360 - 180
        assert abs(turned) * math.cos(body.alt) < 0.006


PLACES = [
    (51.48, 0.0, "Europe/London", "2026-03-29"), (40.71, -74.01, "America/New_York", "2026-11-01"),
    (-33.86, 151.21, "Australia/Sydney", "2026-04-05"), (-54.8, -68.3, "America/Argentina/Ushuaia", "2026-06-21"),
    (64.15, -21.94, "Atlantic/Reykjavik", "2026-06-15"), (64.15, -21.94, "Atlantic/Reykjavik", "2026-12-21"),
    (60.17, 24.94, "Europe/Helsinki", "2026-06-21"), (65.58, 22.15, "Europe/Stockholm", "2026-06-10"),
    (69.65, 18.96, "Europe/Oslo", "2026-05-18"), (69.65, 18.96, "Europe/Oslo", "2026-11-27"),
    (78.22, 15.65, "Arctic/Longyearbyen", "2026-04-17"), (78.22, 15.65, "Arctic/Longyearbyen", "2026-02-20"),
    (1.87, -157.43, "Pacific/Kiritimati", "2026-09-23"), (-17.73, 178.4, "Pacific/Fiji", "2026-01-15"),
    (52.94, 172.93, "America/Adak", "2026-07-04"), (0.0, 0.0, "Etc/GMT", "2026-03-20"),
    (27.7, 85.3, "Asia/Kathmandu", "2026-08-01"), (-77.85, 166.67, "Antarctica/McMurdo", "2026-02-25"),
    (35.68, 139.69, "Asia/Tokyo", "2026-12-31"), (-43.95, -176.56, "Pacific/Chatham", "2026-02-28"),
    (66.56, 25.83, "Europe/Helsinki", "2026-12-18"), (71.29, -156.79, "America/Anchorage", "2026-08-02"),
]


def ephem_crossings(latitude_deg, longitude_deg, starts_at, ends_at, threshold_deg):
    """All crossings inside an interval as PyEphem finds them from its own elevations, to a second."""

    def height(when):
        return math.degrees(ephem.Sun(observer(latitude_deg, longitude_deg, when)).alt) - threshold_deg

    found, when, before = [], starts_at, height(starts_at)
    while when < ends_at:
        following = min(when + MINUTE, ends_at)
        after = height(following)
        if (before < 0) != (after < 0):
            speed = (after - before) / (following - when).total_seconds()
            found.append((when + datetime.timedelta(seconds=-before / speed), after > before, abs(speed)))
        when, before = following, after
    return found


@pytest.mark.parametrize(("latitude_deg", "longitude_deg", "zone", "day"), PLACES)
def test_crossings_agree_with_ephem_at_22_places_and_dates(latitude_deg, longitude_deg, zone, day):
    # Reference: PyEphem 4.2.1, with 5 s or 0.01 degrees at the speed of the sun there.
    light = sun.light(latitude_deg, longitude_deg, datetime.date.fromisoformat(day), zone)
    for crossings, threshold_deg in (
        (light.sun, sun.SUNRISE_DEG), (light.civil, sun.CIVIL_DEG), (light.nautical, sun.NAUTICAL_DEG)
    ):
        expected = ephem_crossings(latitude_deg, longitude_deg, light.starts_at, light.ends_at, threshold_deg)
        assert [crossing.rising for crossing in crossings] == [rising for _, rising, _ in expected]
        for crossing, (at, _, speed) in zip(crossings, expected, strict=True):
            assert abs((crossing.at - at).total_seconds()) <= max(5, 0.01 / speed)


def test_a_day_is_23_or_25_hours_long_where_the_clocks_change():
    forward = sun.light(40.71, -74.01, datetime.date(2026, 3, 8), "America/New_York")
    backward = sun.light(40.71, -74.01, datetime.date(2026, 11, 1), "America/New_York")
    assert forward.ends_at - forward.starts_at == datetime.timedelta(hours=23)
    assert backward.ends_at - backward.starts_at == datetime.timedelta(hours=25)


def test_midnight_may_be_left_out_by_the_clocks():
    # Source: zone file, Asia/Beirut: from 30 March 2024, 24:00, the clocks went to 31 March, 01:00.
    light = sun.light(33.89, 35.5, datetime.date(2024, 3, 31), "Asia/Beirut")
    assert light.ends_at - light.starts_at == datetime.timedelta(hours=23)
    assert light.starts_at.astimezone(zoneinfo.ZoneInfo("Asia/Beirut")).hour == 1


def test_a_date_that_never_was_is_refused():
    # Source: zone file, Pacific/Apia: 29 December 2011 was followed by 31 December.
    with pytest.raises(ValueError, match="There was no 2011-12-30"):
        sun.light(-13.83, -171.77, datetime.date(2011, 12, 30), "Pacific/Apia")


def test_every_crossing_lies_inside_the_local_date_asked_for():
    for latitude_deg, longitude_deg, zone, day in PLACES:
        light = sun.light(latitude_deg, longitude_deg, datetime.date.fromisoformat(day), zone)
        for crossing in (*light.sun, *light.civil, *light.nautical):
            assert light.starts_at <= crossing.at < light.ends_at
            assert f"{crossing.at.astimezone(zoneinfo.ZoneInfo(zone)):%Y-%m-%d}" == day


def test_a_sun_that_only_grazes_the_horizon_still_rises_and_sets():
    # At this latitude the noon sun of 21 December 2026 stands a hundredth of a degree above sunrise height (bisected
    # here on PyEphem's elevations); the crossings are a quarter of an hour apart and none may be lost.
    low, high = 66.0, 69.0
    noon = datetime.datetime(2026, 12, 21, tzinfo=UTC)
    while high - low > 1e-6:
        middle = (low + high) / 2
        top = max(
            math.degrees(ephem.Sun(observer(middle, 0, noon + datetime.timedelta(hours=11.5, minutes=m))).alt)
            for m in range(60)
        )
        low, high = (middle, high) if top > sun.SUNRISE_DEG + 0.01 else (low, middle)
    light = sun.light(low, 0, datetime.date(2026, 12, 21), "Etc/GMT")
    assert [crossing.rising for crossing in light.sun] == [True, False]
    assert datetime.timedelta(minutes=5) < light.sunset - light.sunrise < datetime.timedelta(hours=1)
    higher_up = sun.light(low + 0.05, 0, datetime.date(2026, 12, 21), "Etc/GMT")
    assert (higher_up.sun, higher_up.state, higher_up.civil_state) == ((), "down all day", "normal")


def test_twilight_may_last_all_night():
    light = sun.light(60.17, 24.94, datetime.date(2026, 6, 21), "Europe/Helsinki")
    assert light.state == "normal" and light.nautical_state == "up all day" and light.nautical == ()
    assert light.dawn < light.sunrise < light.highest_at < light.sunset


def test_the_next_sunset_is_found_and_may_not_come():
    midsummer = datetime.datetime(2026, 6, 21, 12, tzinfo=UTC)
    sunset = sun.next_crossing(51.48, 0.0, midsummer, rising=False)
    # Source: PyEphem 4.2.1, next_setting with horizon -0:50 and no pressure, use_center.
    there = observer(51.48, 0.0, midsummer)
    there.horizon = math.radians(sun.SUNRISE_DEG)
    expected = there.next_setting(ephem.Sun(), use_center=True).datetime().replace(tzinfo=UTC)
    assert abs((sunset.at - expected).total_seconds()) < 10
    assert sun.next_crossing(69.65, 18.96, midsummer, rising=False) is None
    assert sun.next_crossing(51.48, 0.0, midsummer).rising is False


@pytest.mark.parametrize(
    ("height_deg", "name", "near"),
    [
        # Source: civil, nautical and astronomical twilight end at 6, 12 and 18 degrees below the horizon.
        (10, "day", False), (6, "day", True), (-0.83, "day", True), (-0.84, "civil twilight", True),
        (-6, "civil twilight", True), (-6.01, "nautical twilight", False), (-12.01, "astronomical twilight", False),
        (-18, "astronomical twilight", False), (-18.01, "night", False),
    ],
)
def test_light_has_a_name(height_deg, name, near):
    assert sun.light_class(height_deg) == name
    assert sun.near_terminator(height_deg) is near


def test_nonsense_is_refused():
    when = datetime.datetime(2026, 6, 21, tzinfo=UTC)
    with pytest.raises(ValueError, match="no zone"):
        sun.position(0, 0, when.replace(tzinfo=None))
    with pytest.raises(ValueError, match="latitude"):
        sun.position(90.5, 0, when)
    with pytest.raises(ValueError, match="latitude"):
        sun.light(math.nan, 0, when.date(), "Etc/GMT")
    with pytest.raises(ValueError, match="after the beginning"):
        sun.crossings(0, 0, when, when)
