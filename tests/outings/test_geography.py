"""Grid squares against exact arithmetic, distances against geographiclib and PROJ, coordinates as people type them."""

import math
import random
import zoneinfo
from fractions import Fraction

import numpy
import pyproj
import pytest
from geographiclib.geodesic import Geodesic
from hypothesis import example, given
from hypothesis import strategies as st

from outings import geography
from tests import checks

LATITUDES = st.floats(-90, 90)
LONGITUDES = st.floats(-180, 180)


def exact_grid(latitude_deg, longitude_deg, characters):
    """The cell of the double that was given, by rational arithmetic, which shares nothing with the library."""
    rest = [(Fraction(longitude_deg) + 180) % 360 / 20, (Fraction(latitude_deg) + 90) / 10]
    text = ""
    for pair in range(characters // 2):
        base = (18, 10, 24, 10, 24)[pair]
        for axis in (0, 1):
            digit = min(rest[axis].__floor__(), base - 1)  # the pole is in the topmost row
            letters = "ABCDEFGHIJKLMNOPQR" if pair == 0 else "abcdefghijklmnopqrstuvwx"
            text += str(digit) if base == 10 else letters[digit]
            rest[axis] = (rest[axis] - digit) * (10 if base != 10 else 24)
    return text


@pytest.mark.parametrize("case", checks.cases("grid", "T1-E"))
def test_a_position_has_its_grid_square(case):
    assert geography.grid_of(case.inputs["lat"], case.inputs["lon"], case.inputs["characters"]) == case.expected


@pytest.mark.parametrize("case", checks.cases("grid", "T1-D"))
def test_a_grid_square_has_its_corner_centre_and_size(case):
    place = geography.place_of_grid(case.inputs["grid"])
    checks.holds(case, {
        "sw_lat": place.south_deg, "sw_lon": place.west_deg, "lat": place.latitude_deg, "lon": place.longitude_deg,
        "dlat": place.height_deg, "dlon": place.width_deg,
    })


@pytest.mark.parametrize(
    "text", [text for case in checks.all_cases("grid") if case.id == "T1-I01" for text in case.inputs["strings"]]
)
def test_what_is_no_grid_square_is_refused(text):
    with pytest.raises(ValueError, match=r"grid square|Character"):
        geography.canonical_grid(text)
    with pytest.raises(ValueError, match=r"grid square|Character"):
        geography.place_of_grid(text)


@pytest.mark.parametrize("case", checks.cases("grid", "T1-N"))
def test_a_grid_square_is_written_one_way(case):
    assert geography.canonical_grid(case.inputs["grid"]) == case.expected


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("SN31", "Character 1 of the grid square, 'S', must be A to R."),
        ("FN3A", "Character 4 of the grid square, 'A', must be 0 to 9 (a digit)."),
        ("FNO1", "Character 3 of the grid square, 'O', must be 0 to 9 (a digit)."),
        ("FN31yr", "Character 5 of the grid square, 'y', must be A to X."),
        ("FN３１", "Character 3 of the grid square, '３', must be 0 to 9 (a digit)."),
        ("FN31p", "A grid square has 2, 4, 6, 8 or 10 characters, not 5."),
        ("FN31pr12aaa", "A grid square has at most 10 characters; character 11 is 'a'."),
        ("  ", "A grid square is missing."),
    ],
)
def test_a_refused_grid_square_says_where_the_fault_is(text, says):
    with pytest.raises(ValueError) as refusal:
        geography.canonical_grid(text)
    assert str(refusal.value) == says


@pytest.mark.parametrize("characters", geography.GRID_LENGTHS)
def test_grid_squares_of_random_positions_agree_with_exact_arithmetic(characters):
    # Reference: rational arithmetic (exact_grid above). The library alone picks another cell for 0.55 % of them.
    numbers = random.Random(characters)
    for _ in range(4000):
        latitude_deg, longitude_deg = numbers.uniform(-90, 90), numbers.uniform(-180, 180)
        assert geography.grid_of(latitude_deg, longitude_deg, characters) == exact_grid(
            latitude_deg, longitude_deg, characters
        )


@given(LATITUDES, LONGITUDES, st.sampled_from(geography.GRID_LENGTHS))
def test_a_position_lies_in_the_grid_square_found_for_it(latitude_deg, longitude_deg, characters):
    place = geography.place_of_grid(geography.grid_of(latitude_deg, longitude_deg, characters))
    assert place.south_deg - 1e-9 <= latitude_deg <= place.north_deg + 1e-9
    assert abs(geography.wrapped_longitude(longitude_deg - place.longitude_deg)) <= place.width_deg / 2 + 1e-9


@given(LATITUDES, LONGITUDES)
def test_a_shorter_grid_square_is_the_beginning_of_a_longer_one(latitude_deg, longitude_deg):
    longest = geography.grid_of(latitude_deg, longitude_deg, 10)
    for characters in geography.GRID_LENGTHS:
        assert geography.grid_of(latitude_deg, longitude_deg, characters) == longest[:characters]


def test_the_centre_of_a_grid_square_leads_back_to_it():
    for grid in ("AA00aa00aa", "RR99xx99xx", "JN58td25", "FN31pr", "QA00", "FN"):
        place = geography.place_of_grid(grid)
        assert geography.grid_of(place.latitude_deg, place.longitude_deg, len(grid)) == grid


@pytest.mark.parametrize(
    ("latitude_deg", "longitude_deg", "characters"),
    [(90.1, 0, 6), (-90.1, 0, 6), (math.nan, 0, 6), (0, math.nan, 6), (0, math.inf, 6), (0, 0, 5), (0, 0, 12)],
)
def test_no_grid_square_is_made_of_nonsense(latitude_deg, longitude_deg, characters):
    with pytest.raises(ValueError):
        geography.grid_of(latitude_deg, longitude_deg, characters)


@pytest.mark.parametrize("case", checks.cases("grid", "T1-U"))
def test_the_half_diagonal_bounds_the_error_of_a_grid_square(case):
    found_km = geography.half_diagonal_km(geography.place_of_grid(case.inputs["grid"]))
    checks.agree(found_km, case.expected, case.tolerance, case.id)


@pytest.mark.parametrize("case", checks.cases("grid", "T1-P"))
def test_two_grid_squares_have_a_distance_its_range_and_its_error(case):
    here, there = (geography.place_of_grid(case.inputs[name]) for name in ("grid1", "grid2"))
    way = geography.way(here, there)
    least_km, greatest_km = geography.distance_range_km(here, there)
    checks.holds(case, {
        "centre_km": way.distance_km, "min_km": least_km, "max_km": greatest_km, "rms_km": way.error_km,
    })


def test_two_stations_in_one_square_are_apart_by_up_to_its_diagonal():
    way = geography.grid_way("FN31", "fn31")
    assert (way.distance_km, way.bearing_deg, way.bearing_back_deg) == (0, None, None)
    # Reference: twice the half-diagonal of FN31, 100.541 km (geographiclib, check value T1-U01).
    assert way.error_km == pytest.approx(201.08, rel=0.005)
    assert geography.distance_range_km(*[geography.place_of_grid("FN31")] * 2)[0] == 0


def test_a_known_position_has_no_error_of_its_own():
    here, there = geography.Place(40.0, -74.0), geography.Place(51.5, -0.1)
    assert geography.way(here, there).error_km == 0
    one_square = geography.way(here, geography.place_of_grid("IO91"))
    two_squares = geography.way(geography.place_of_grid("FN20"), geography.place_of_grid("IO91"))
    assert 0 < one_square.error_km < two_squares.error_km


def test_a_bearing_between_squares_that_touch_can_be_anything():
    here, there = geography.place_of_grid("FN31"), geography.place_of_grid("FN32")
    assert geography.bearing_error_deg(here, there) is None
    far = geography.place_of_grid("JO22")
    # Common practice, no source: arcsin of the sum of half-diagonals (188.63 km, check value T1-P02) over the distance.
    assert geography.bearing_error_deg(here, far) == pytest.approx(math.degrees(math.asin(188.63 / 5758.84)), rel=0.01)


@pytest.mark.parametrize("case", checks.cases("geodesy", "T2-P"))
def test_distance_and_bearings_are_those_of_the_geodesic(case):
    distance_km, bearing_deg, back_deg = geography.inverse(*(case.inputs[n] for n in ("lat1", "lon1", "lat2", "lon2")))
    checks.holds(
        case, {"distance_km": distance_km, "initial_bearing_deg": bearing_deg, "bearing_back_deg": back_deg}
    )


@pytest.mark.parametrize("case", checks.cases("geodesy", "T2-D"))
def test_going_so_far_in_a_direction_leads_there(case):
    latitude_deg, longitude_deg = geography.direct(*(case.inputs[n] for n in ("lat", "lon", "azimuth", "distance_km")))
    checks.holds(case, {"lat": latitude_deg, "lon": longitude_deg})


@pytest.mark.parametrize("case", checks.cases("geodesy", "T2-A1", "T2-A2", "T2-A3", "T2-A4", "T2-A5"))
def test_the_map_keeps_distance_and_bearing_from_its_centre(case):
    x_km, y_km = geography.azimuthal_equidistant(*(case.inputs[n] for n in ("lat0", "lon0", "lat", "lon")))
    checks.holds(case, {"x_km": x_km, "y_km": y_km})


@pytest.mark.parametrize("case", checks.cases("geodesy", "T2-AS"))
def test_the_map_on_a_sphere_is_the_one_that_is_drawn(case):
    x_km, y_km = geography.azimuthal_equidistant_sphere(*(case.inputs[n] for n in ("lat0", "lon0", "lat", "lon")))
    checks.holds(case, {"x_km": x_km, "y_km": y_km})


def test_going_so_far_on_the_sphere_leads_where_proj_says():
    # Reference: PROJ through pyproj on a sphere of radius 6371.0088 km.
    sphere = pyproj.Geod(a=geography.MEAN_RADIUS_KM * 1000, b=geography.MEAN_RADIUS_KM * 1000)
    numbers = random.Random(4)
    for _ in range(500):
        start = numbers.uniform(-89, 89), numbers.uniform(-180, 180)
        bearing_deg, distance_km = numbers.uniform(0, 360), numbers.uniform(1, 19_000)
        longitude_deg, latitude_deg, _ = sphere.fwd(start[1], start[0], bearing_deg, distance_km * 1000)
        found = geography.destination_on_sphere(*start, bearing_deg, distance_km)
        assert found[0] == pytest.approx(latitude_deg, abs=1e-8)
        assert abs(geography.wrapped_longitude(found[1] - longitude_deg)) * math.cos(math.radians(found[0])) < 1e-8


@pytest.mark.parametrize("case", checks.cases("geodesy", "T2-S"))
def test_the_sphere_is_off_by_as_much_as_its_docstring_says(case):
    numbers = numpy.random.default_rng(2)
    count = 60_000
    latitude1 = numpy.degrees(numpy.arcsin(numbers.uniform(-1, 1, count)))
    latitude2 = numpy.degrees(numpy.arcsin(numbers.uniform(-1, 1, count)))
    longitude1, longitude2 = numbers.uniform(-180, 180, count), numbers.uniform(-180, 180, count)
    # Short ways along a meridian are the extremes; chance seldom finds them.
    latitude1[:200], latitude2[:200] = numpy.linspace(-89, 89, 200), numpy.linspace(-88.5, 89.5, 200)
    longitude1[:200] = longitude2[:200] = 0
    _, _, metres = pyproj.Geod(ellps="WGS84").inv(longitude1, latitude1, longitude2, latitude2)
    percent = [
        100 * (geography.spherical_distance_km(*pair) / (true_m / 1000) - 1)
        for *pair, true_m in zip(latitude1, longitude1, latitude2, longitude2, metres, strict=True)
    ]
    checks.holds(case, {"min_pct": min(percent), "max_pct": max(percent)})


def pairs(count, seed):
    """Random pairs of points: anywhere, near each other, near the antipode, on the equator and at the poles."""
    numbers = random.Random(seed)
    for index in range(count):
        latitude1, longitude1 = numbers.uniform(-90, 90), numbers.uniform(-180, 180)
        kind = index % 5
        if kind in (0, 1):
            latitude2, longitude2 = numbers.uniform(-90, 90), numbers.uniform(-180, 180)
        elif kind == 2:
            latitude2 = max(-90, min(90, latitude1 + numbers.gauss(0, 0.05)))
            longitude2 = longitude1 + numbers.gauss(0, 0.05)
        elif kind == 3:
            latitude2 = max(-90, min(90, -latitude1 + numbers.gauss(0, 1)))
            longitude2 = longitude1 + 180 + numbers.gauss(0, 1)
        else:
            latitude1, latitude2 = numbers.choice([(0.0, 0.0), (90.0, latitude1), (latitude1, -90.0), (89.99, -89.9)])
            longitude2 = numbers.uniform(-180, 180)
        yield latitude1, longitude1, latitude2, longitude2


def test_distances_of_random_pairs_agree_with_proj():
    # Reference: PROJ through pyproj, Geod(ellps="WGS84").inv.
    geod = pyproj.Geod(ellps="WGS84")
    for latitude1, longitude1, latitude2, longitude2 in pairs(5000, seed=7):
        azimuth, back, metres = geod.inv(longitude1, latitude1, longitude2, latitude2)
        distance_km, bearing_deg, back_deg = geography.inverse(latitude1, longitude1, latitude2, longitude2)
        assert distance_km == pytest.approx(metres / 1000, abs=1e-6)
        if 1 < distance_km < 19_700 and max(abs(latitude1), abs(latitude2)) < 89.9:
            assert abs(geography.wrapped_longitude(bearing_deg - azimuth)) < 1e-4
            assert abs(geography.wrapped_longitude(back_deg - back)) < 1e-4


def test_the_fast_way_is_within_a_tenth_of_a_millimetre_of_karney_or_declines():
    # Reference: geographiclib 2.1 (Karney 2013).
    declined = 0
    for pair in pairs(4000, seed=8):
        found = geography.vincenty_inverse(*pair)
        if found is None:
            declined += 1
        else:
            assert found[0] == pytest.approx(Geodesic.WGS84.Inverse(*pair)["s12"] / 1000, abs=1e-7)
    assert 0 < declined < 1200


@given(LATITUDES, LONGITUDES, LATITUDES, LONGITUDES)
@example(-1.0, 1.95e-28, 0.0, 0.0)  # a hair west of north is north, not 360 degrees
def test_the_way_back_is_as_long(latitude1, longitude1, latitude2, longitude2):
    there = geography.inverse(latitude1, longitude1, latitude2, longitude2)
    back = geography.inverse(latitude2, longitude2, latitude1, longitude1)
    assert there[0] == pytest.approx(back[0], abs=1e-6)
    assert all(bearing is None or 0 <= bearing < 360 for bearing in (*there[1:], *back[1:]))


@pytest.mark.parametrize("latitude_deg", [91, -90.0001, math.nan, math.inf])
def test_a_distance_to_nowhere_is_refused(latitude_deg):
    with pytest.raises(ValueError, match="latitude"):
        geography.inverse(0, 0, latitude_deg, 0)
    with pytest.raises(ValueError, match="latitude"):
        geography.Place(latitude_deg, 0)


@pytest.mark.parametrize(
    ("text", "latitude_deg", "longitude_deg"),
    [
        ("48.14666, 11.60833", 48.14666, 11.60833),
        ("48.14666 11.60833", 48.14666, 11.60833),
        ("48.14666,11.60833", 48.14666, 11.60833),
        ("48.14666; 11.60833", 48.14666, 11.60833),
        ("-34.91 -56.2", -34.91, -56.2),
        ("\u221234.91, \u221256.2", -34.91, -56.2),
        ("+48.1 +11.6", 48.1, 11.6),
        ("48,14666 11,60833", 48.14666, 11.60833),
        ("48,14666; 11,60833", 48.14666, 11.60833),
        ("48,14666, 11,60833", 48.14666, 11.60833),
        ("48, 11", 48, 11),
        ("48.1 N 11.6 W", 48.1, -11.6),
        ("N48.1 W11.6", 48.1, -11.6),
        ("W11.6 N48.1", 48.1, -11.6),
        ("11.6W, 48.1N", 48.1, -11.6),
        ("S 34 54.6 W 056 12.7", -34.91, -56.211666667),
        ("34 54.6 S 056 12.7 W", -34.91, -56.211666667),
        ("48° 08.8' N, 11° 36.5' E", 48.146666667, 11.608333333),
        ("48°08′48″N 11°36′30″E", 48.146666667, 11.608333333),
        ("48°08'48\"N 11°36'30\"E", 48.146666667, 11.608333333),
        ("48 08 48 N 11 36 30 E", 48.146666667, 11.608333333),
        ("-48 08 48 -11 36 30", -48.146666667, -11.608333333),
        ("-0 30 -0 30", -0.5, -0.5),
        ("48°08'48\" 11°36'30\"", 48.146666667, 11.608333333),
        ("48.5° -11.5°", 48.5, -11.5),
        ("48 8 11 36", 48.133333333, 11.6),
        ("geo:48.2010,16.3695,183;u=20", 48.2010, 16.3695),  # the form of RFC 5870
        ("n48.1 e11.6", 48.1, 11.6),
        ("90 180", 90, 180),
    ],
)
def test_typed_coordinates_are_read(text, latitude_deg, longitude_deg):
    assert geography.parse_position(text) == pytest.approx((latitude_deg, longitude_deg), abs=1e-8)


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("", "Coordinates are missing."),
        ("48,14666", "can be read as one number or as two"),
        ("48,1,11,6", "too many commas"),
        ("91, 11", "A latitude lies between -90 and 90 degrees, not at 91."),
        ("48, 250", "A longitude lies between -180 and 180 degrees, not at 250."),
        ("48 60.0 N 11 0 E", "no 60 minutes or more"),
        ("48 59 60 N 11 0 0 E", "no 60 seconds or more"),
        ("48.5 30 N 11 0 E", "Only the last number"),
        ("-48 N 11 E", "either a sign or a letter"),
        ("48 N 11 N", "one latitude (N or S) and one longitude"),
        ("48 N 11", "one letter N or S and one letter E or W"),
        ("48 11 22", "could not be told apart"),
        ("behind the barn", "one letter N or S and one letter E or W"),
        ("48°08''30", "could not be told apart"),
        ("48.1 O 11.6", "Examples:"),
        ("٤٨, 11", "not understood"),
        ("48' 11°", "out of place"),
        ("48 -8 N 11 36 E", "only before the degrees"),
        ("48.1, 11.6, 500", "one comma between them"),
        ("nan, inf", "Examples:"),
        ("1e1, 20", "Examples:"),
    ],
)
def test_coordinates_that_cannot_be_read_say_why(text, says):
    with pytest.raises(ValueError) as refusal:
        geography.parse_position(text)
    assert says in str(refusal.value)


@pytest.mark.parametrize(
    ("text", "value"),
    [("48,14666", 48.14666), ("48.14666 N", 48.14666), ("S 34 54.6", -34.91), ("-34°54'36\"", -34.91)],
)
def test_a_latitude_alone_is_read(text, value):
    assert geography.parse_latitude(text) == pytest.approx(value, abs=1e-9)


def test_a_longitude_in_the_field_of_the_latitude_is_refused():
    with pytest.raises(ValueError, match="This is a longitude; a latitude is asked for"):
        geography.parse_latitude("11.6 E")
    with pytest.raises(ValueError, match="A longitude is missing"):
        geography.parse_longitude(" ")
    with pytest.raises(ValueError, match="between -180 and 180"):
        geography.parse_longitude("181 W")


FORMS = [geography.format_decimal, geography.format_minutes, geography.format_seconds]


@given(LATITUDES, LONGITUDES, st.sampled_from(FORMS))
def test_what_is_printed_can_be_typed_again(latitude_deg, longitude_deg, form):
    # Half the last digit printed: 5e-6 degrees, 0.0005 minutes (8e-6 degrees), 0.05 seconds (1.4e-5 degrees).
    found = geography.parse_position(form(latitude_deg, longitude_deg))
    assert found == pytest.approx((latitude_deg, longitude_deg), abs=1.5e-5)


def test_sixty_minutes_carry_over_in_print():
    assert geography.format_minutes(47.99999999, -11.99999999) == "48° 00.000′ N 12° 00.000′ W"
    assert geography.format_seconds(47.99999999, -11.99999999) == "48° 00′ 00.0″ N 12° 00′ 00.0″ W"
    assert geography.format_decimal(-34.91, 138.6, 4) == "-34.9100, 138.6000"


@pytest.mark.parametrize(
    ("latitude_deg", "longitude_deg", "zone"),
    [
        # Source: the zone names of the IANA time zone database for these places.
        (40.7128, -74.006, "America/New_York"),
        (69.6492, 18.9553, "Europe/Oslo"),
        (64.1466, -21.9426, "Atlantic/Reykjavik"),
        (-33.8568, 151.2153, "Australia/Sydney"),
        (1.87, -157.43, "Pacific/Kiritimati"),
        # Source: nautical zones are 15 degrees wide around multiples of 15 degrees; the zone files' sign is reversed.
        (30, -40, "Etc/GMT+3"),
        (-40, 100, "Etc/GMT-7"),
        (0, 0, "Etc/GMT"),
    ],
)
def test_a_position_has_a_time_zone_at_sea_too(latitude_deg, longitude_deg, zone):
    assert geography.time_zone(latitude_deg, longitude_deg) == zone


@given(LATITUDES, LONGITUDES)
def test_every_position_on_earth_has_a_time_zone_that_this_machine_knows(latitude_deg, longitude_deg):
    zoneinfo.ZoneInfo(geography.time_zone(latitude_deg, longitude_deg))


@pytest.mark.parametrize(
    ("longitude_deg", "zone"),
    [
        (0, "Etc/GMT"), (7.4, "Etc/GMT"), (7.6, "Etc/GMT-1"), (-7.6, "Etc/GMT+1"), (179, "Etc/GMT-12"),
        (-179, "Etc/GMT+12"),
    ],
)
def test_a_nautical_zone_is_fifteen_degrees_wide(longitude_deg, zone):
    assert geography.nautical_zone(longitude_deg) == zone
    zoneinfo.ZoneInfo(zone)
