"""Sun at both ends, light along the path, hour and season."""

import datetime

import pytest

from outings import conditions, geography

DUNES = geography.Place(54.0, 8.0)


def utc(*parts):
    return datetime.datetime(*parts, tzinfo=datetime.UTC)


def test_heights_at_both_ends_are_those_of_another_almanac():
    ephem = pytest.importorskip("ephem")  # PyEphem 4.2.1: true height without refraction

    there = geography.Place(40.0, -75.0)
    when = utc(2026, 3, 20, 21, 30)
    found = conditions.conditions(DUNES, there, when)
    for place, end in ((DUNES, found.here), (there, found.there)):
        observer = ephem.Observer()
        observer.lat, observer.lon, observer.pressure = str(place.latitude_deg), str(place.longitude_deg), 0
        observer.date = when.replace(tzinfo=None)
        body = ephem.Sun(observer)
        assert end.elevation_deg == pytest.approx(float(body.alt) * 57.29577951308232, abs=0.01)
    assert (found.here.light, found.there.light) == ("night", "day")
    assert found.path == "day and night"


def test_a_path_from_night_into_day_is_lit_as_far_as_the_terminator_goes():
    # By hand: at the equinox the day-night line is a meridian. At 12:00 UTC the equation of time (-7.4 min) puts the
    # sun over 1.85 E; it rises 90 degrees and 50' west of that, at 88.98 W: of 100 W to 60 W 28.98 of 40 are lit.
    found = conditions.conditions(geography.Place(0, -100), geography.Place(0, -60), utc(2026, 3, 20, 12))
    assert found.day_share == pytest.approx(28.98 / 40, abs=0.005)
    assert found.path == "day and night"
    assert found.there.light == "day"


@pytest.mark.parametrize(("when", "path", "grey"), [
    (utc(2026, 6, 21, 11), "day", ""), (utc(2026, 12, 21, 0), "night", ""), (utc(2026, 3, 20, 17, 30), None, "both"),
])
def test_paths_of_day_and_of_night(when, path, grey):
    found = conditions.conditions(DUNES, geography.Place(52.0, 13.0), when)
    assert found.grey_line == grey
    if path:
        assert found.path == path
        assert found.day_share == (1.0 if path == "day" else 0.0)


def test_without_their_position_only_this_end_is_known():
    found = conditions.conditions(DUNES, None, utc(2026, 6, 21, 12))
    assert (found.there, found.path, found.day_share) == (None, None, None)
    assert found.hour == pytest.approx(12 + 8 / 15)
    assert found.season == "summer"


def test_the_same_place_has_its_own_light_along_the_path():
    assert conditions.conditions(DUNES, DUNES, utc(2026, 6, 21, 12)).path == "day"


@pytest.mark.parametrize(("latitude", "month", "season"), [
    (54, 1, "winter"), (54, 4, "spring"), (54, 12, "winter"), (-34, 1, "summer"), (-34, 7, "winter"), (5, 7, None),
])
def test_seasons_turn_round_in_the_south_and_are_none_in_the_tropics(latitude, month, season):
    assert conditions.season(latitude, utc(2026, month, 15)) == season


@pytest.mark.parametrize(("flux", "word"), [
    (None, None), (70, "low"), (100, "middle"), (149.9, "middle"), (180, "high"),
])
def test_the_solar_flux_has_a_word(flux, word):
    assert conditions.solar_activity(flux) == word


@pytest.mark.parametrize(("k", "word"), [
    (None, None), (0, "quiet"), (2, "quiet"), (3, "unsettled"), (4, "active"), (7, "storm"),
])
def test_the_k_index_has_a_word(k, word):
    assert conditions.geomagnetic(k) == word


def test_the_light_of_a_stretch_is_one_word():
    assert conditions.light_of(54, 8, utc(2026, 6, 21, 11)) == "day"
    assert conditions.light_of(54, 8, utc(2026, 12, 21, 0)) == "night"
    assert conditions.light_of(0, 0, utc(2026, 3, 20, 18, 0)) == "grey line"


def test_a_time_without_a_zone_is_refused():
    with pytest.raises(ValueError, match="zone"):
        conditions.conditions(DUNES, None, datetime.datetime(2026, 1, 1))
