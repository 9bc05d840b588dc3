"""Areas: circles of entities and states, against data of others, and what is not told for certain."""

import json
import re
from importlib import resources

import pytest
import tzfpy
from hypothesis import given
from hypothesis import strategies as st

from outings import areas, geography
from outings.adif import tables
from outings.areas import make
from stationlog.launch import ROOT
from tests.checks import FOLDER

STATES = json.loads((FOLDER.parent / "us_states.json").read_text(encoding="utf-8"))["states"]
HOME = geography.place_of_grid("JO62qm")
WITHOUT_TOWNS = {  # zones of places that have no town of a thousand people, or no entity of their own
    "Pacific/Rarotonga", "Atlantic/South_Georgia", "Pacific/Kanton", "Indian/Kerguelen", "Pacific/Midway",
    "Pacific/Wake",
}


def state(code):
    return areas.area_of({"AK": 6, "HI": 110}.get(code, 291), "", code)


def away_km(area, latitude_deg, longitude_deg):
    return geography.inverse(area.latitude_deg, area.longitude_deg, latitude_deg, longitude_deg)[0]


def zones():
    """Country, latitude, longitude and name of each zone of the tz database (public domain): its largest place."""
    for line in resources.files("tzdata").joinpath("zoneinfo/zone.tab").read_text(encoding="utf-8").splitlines():
        if not line.startswith("#"):
            country, position, name = line.split("\t")[:3]
            latitude, longitude = re.fullmatch(r"([+-]\d+)([+-]\d+)", position).groups()
            yield country, degrees(latitude, 2), degrees(longitude, 3), name


def degrees(text, width):
    """±DDMM or ±DDDMMSS."""
    whole, minutes, seconds = text[1 : width + 1], text[width + 1 : width + 3], text[width + 3 :] or "0"
    return (-1 if text[0] == "-" else 1) * (int(whole) + int(minutes) / 60 + int(seconds) / 3600)


def entities_by_country():
    """The entities that lie in each country of ISO 3166-1, as the table was made."""
    words = make.COUNTRIES.split()
    pairs = [*zip(words[1::2], words[::2], strict=True), *((text.split()[0], e) for e, text in make.DIVISIONS.items())]
    found = {}
    for country, entity in [*pairs, *((box[0], entity) for entity, box in make.BOXES.items())]:
        found.setdefault(country, []).append(int(entity))
    return found


@pytest.mark.parametrize("row", STATES, ids=lambda row: row["code"])
def test_circles_of_american_states_lie_as_the_census_has_their_outlines(row):
    """U.S. Census Bureau, cartographic boundaries of 2017; the middle of towns is not the middle of the land."""
    area = state(row["code"])
    reach_km = max(away_km(area, *point) for point in row["edge"])
    assert area.name.startswith(row["name"] + ", ") or row["code"] in ("AK", "HI")
    assert away_km(area, *row["centroid"]) < 0.5 * reach_km
    # out in the mountains of New Hampshire and Oregon an eighth of the way is beyond the circle of the towns
    assert 0.87 * reach_km <= area.radius_km <= reach_km + 40


def test_every_zone_of_the_tz_database_lies_in_the_circle_of_its_country():
    by_country, beyond = entities_by_country(), set()
    for country, latitude_deg, longitude_deg, name in zones():
        circles = filter(None, (areas.area_of(entity) for entity in by_country.get(country, ())))
        if not any(away_km(area, latitude_deg, longitude_deg) <= area.radius_km for area in circles):
            beyond.add(name)
    assert {name for name in beyond if not name.startswith("Antarctica/")} == WITHOUT_TOWNS


def test_the_middle_of_an_area_on_land_is_in_the_time_zone_of_its_country():
    """Boundaries of timezone-boundary-builder, as tzfpy has them; groups of islands have their middle at sea."""
    countries = {name: country for country, _, _, name in zones()}
    elsewhere, seen = set(), 0
    for country, entities in entities_by_country().items():
        for area in filter(None, map(areas.area_of, entities)):
            found = [name for name in tzfpy.get_tzs(area.longitude_deg, area.latitude_deg) if name[:4] != "Etc/"]
            seen += bool(found)
            if found and country not in {countries.get(name) for name in found}:
                elsewhere.add(area.name)
    # bent round a neighbour, or smaller than the rounding
    assert elsewhere <= {
        "Dodecanese", "Jan Mayen", "Somalia", "Monaco", "Viet Nam", "Vatican", "Republic of Kosovo",
    }
    assert seen > 250


@pytest.mark.parametrize(("entity", "code", "latitude_deg", "longitude_deg"), [
    (1, "ON", 43.7, -79.4), (1, "BC", 49.3, -123.1), (230, "BY", 48.1, 11.6), (230, "BE", 52.5, 13.4),
    (339, "01", 43.1, 141.4), (150, "WA", -32.0, 115.9), (281, "SE", 37.4, -6.0), (248, "MI", 45.5, 9.2),
    (227, "69", 45.8, 4.8), (269, "M", 50.1, 19.9), (15, "NS", 55.0, 82.9), (54, "MA", 55.8, 37.6),
    (108, "SP", -23.5, -46.6), (324, "KA", 13.0, 77.6), (245, "D", 53.3, -6.3), (137, "B", 35.2, 129.1),
    (284, "M", 55.6, 13.0), (288, "LV", 49.8, 24.0), (287, "TI", 46.0, 9.0), (318, "XJ", 43.8, 87.6),
])
def test_a_province_holds_its_largest_city(entity, code, latitude_deg, longitude_deg):
    """Positions of the cities from memory, to a tenth of a degree."""
    area, whole = areas.area_of(entity, "", code), areas.area_of(entity)
    assert away_km(area, latitude_deg, longitude_deg) <= area.radius_km + 10
    assert area.radius_km < whole.radius_km


def test_states_are_apart_from_what_has_the_same_code_elsewhere():
    assert areas.area_of(291, "", "ca").name == "California, United States of America"
    assert areas.area_of(281, "", "CA").name == "Cádiz, Spain"
    assert areas.area_of(225, "", "CA").name == "Cagliari, Sardinia"
    assert areas.area_of(291, "", "CA") != areas.area_of(144, "", "CA")


def test_alaska_and_hawaii_are_not_in_the_united_states_of_the_list():
    for code in ("AK", "HI"):
        assert areas.area_of(291, "", code) is None
    assert away_km(areas.area_of(291), 61.2, -149.9) > areas.area_of(291).radius_km
    assert away_km(areas.area_of(6), 51.9, -176.7) < areas.area_of(6).radius_km  # Adak, from memory


def test_across_the_antimeridian_the_middle_is_among_the_places():
    for entity in (176, 170, 6, 15):  # Fiji, New Zealand, Alaska, Asiatic Russia
        area = areas.area_of(entity)
        assert area.radius_km < 5000
    assert abs(areas.area_of(176).longitude_deg) > 170
    assert away_km(areas.area_of(15), 64.7, 177.5) <= areas.area_of(15).radius_km  # Anadyr, from memory


def test_a_name_of_the_standard_does_for_a_code():
    by_code = areas.area_of(230)
    for name in ("FEDERAL REPUBLIC OF GERMANY", "Federal Republic of Germany", " federal republic of germany "):
        assert areas.area_of(None, name) == areas.area_of(230, name) == by_code
    assert areas.area_of(97) == areas.area_of(None, "St Lucia") == areas.area_of(None, "ST. LUCIA")
    assert areas.area_of(90) == areas.area_of(None, "Trinidad and Tobago")


def test_a_name_that_is_not_the_standards_takes_nothing_from_a_code():
    assert areas.area_of(None, "Germany") is None
    assert areas.area_of(230, "Germany") == areas.area_of(230)


@pytest.mark.parametrize(("dxcc", "country", "code"), [
    (None, "", ""), (None, "", "TX"), (0, "", ""), (0, "Canada", ""), (9999, "", ""), (8, "", ""),
    (None, "ALDABRA", ""), (None, "None", ""), (291, "Canada", "ON"), (291, "", "ON"), (1, "", "TX"), (50, "", "TX"),
    (13, "", ""), (24, "", ""),
])
def test_what_is_unknown_deleted_empty_or_contradicts_itself_is_nowhere(dxcc, country, code):
    assert areas.area_of(dxcc, country, code) is None


def test_a_state_in_words_leaves_the_country():
    assert areas.area_of(230, "", "Bavaria") == areas.area_of(230)
    assert areas.area_of(223, "", "Kent") == areas.area_of(223)


def test_a_state_alone_is_one_of_the_own_entity():
    assert areas.area_of(None, "", "TX", home=291) == areas.area_of(291, "", "TX")
    for code in ("ON", "AK", "Bavaria", ""):
        assert areas.area_of(None, "", code, home=291) is None
    assert areas.area_of(230, "", "TX", home=291) is None
    assert areas.area_of(None, "Canada", "", home=291) == areas.area_of(1)


def test_the_way_to_an_area_bounds_that_to_everybody_in_it():
    area = state("TX")
    way = area.way_from(HOME)
    assert way.error_km == pytest.approx(area.radius_km + geography.half_diagonal_km(HOME))
    for bearing_deg in range(0, 360, 15):
        for part in (0.3, 1):
            there = geography.direct(area.latitude_deg, area.longitude_deg, bearing_deg, area.radius_km * part)
            real_km = geography.inverse(HOME.south_deg, HOME.west_deg, *there)[0]
            assert abs(real_km - way.distance_km) <= way.error_km


@given(st.one_of(st.none(), st.integers(-5, 600)), st.text(max_size=30), st.text(max_size=5))
def test_whatever_a_file_says_gives_an_area_or_none(dxcc, country, code):
    area = areas.area_of(dxcc, country, code)
    assert area is None or (
        -90 <= area.latitude_deg <= 90 and -180 <= area.longitude_deg <= 180 and 15 < area.radius_km < 5000
    )


def test_every_circle_belongs_to_the_standard_and_as_many_are_covered_as_the_readme_says():
    circles = json.loads((ROOT / "outings" / "areas" / "areas.json").read_text(encoding="utf-8"))
    assert {int(entity) for entity in circles["entities"]} <= set(tables.current_entities())
    for entity, parts in circles["subdivisions"].items():
        assert set(parts) <= set(tables.subdivisions(int(entity))), entity
    readme = (ROOT / "outings" / "areas" / "README.md").read_text(encoding="utf-8")
    assert f"{len(circles['entities'])} of the {len(tables.current_entities()) - 1} entities" in readme
    assert f"{sum(map(len, circles['subdivisions'].values()))} of the" in readme


def test_a_circle_holds_its_places_also_across_the_antimeridian():
    places = [("", "", 10.0, 179.0), ("", "", 10.0, -179.0), ("", "", 12.0, -179.5)]
    latitude_deg, longitude_deg, radius_km = make.circle(places, 0)
    assert abs(longitude_deg) > 179
    assert radius_km == pytest.approx(geography.inverse(latitude_deg, longitude_deg, *places[0][2:])[0], abs=160)
    for place in places:
        assert geography.inverse(latitude_deg, longitude_deg, *place[2:])[0] <= radius_km - make.BEYOND_KM
    assert make.circle(places, 900)[2] == 900


def test_a_place_amid_those_of_another_division_is_no_part_of_its_own():
    here = [("A.1", "A.1.", 50 + n / 50, 10.0) for n in range(12)]
    there = [("A.2", "A.2.", 55 + n / 50, 10.0) for n in range(12)]
    astray, beside = ("A.1", "A.1.", 55.05, 10.02), ("A.1", "A.1.", 50.6, 10.0)
    around = make.Around([*here, *there, astray, beside])
    assert around.without_strays(around.rows, {"A.1"}) == [*here, beside]
    alone = make.Around([*there, astray])
    assert alone.without_strays(alone.rows, {"A.1"}) == [astray]


def test_names_are_compared_without_accents_signs_and_the_words_for_what_they_name():
    assert make.plain("Província de Tarragona") == make.plain("Tarragona")
    assert make.plain("Łódź Voivodeship") == "lodz voivodeship"
    assert make.plain("City of the Republic") == "city of the republic"
