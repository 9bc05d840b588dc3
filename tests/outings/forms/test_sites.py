"""What the form of a site takes and refuses."""

import pytest

from outings import geography
from outings.forms.sites import SiteForm
from outings.models import Site
from tests.making import a_contact, a_site, an_operator, an_outing

pytestmark = pytest.mark.django_db


def form_of(site=None, units="metric", **data):
    site = site or Site(owner=an_operator())
    return SiteForm({"name": "Reed Point", "typed_in": units, **data}, instance=site, units=units)


@pytest.mark.parametrize(
    "typed", ["48.1467, 11.6083", "N 48° 08.802' E 11° 36.498'", "48°08'48.1\"N 11°36'29.9\"E", "geo:48.1467,11.6083"]
)
def test_coordinates_are_read_in_the_usual_ways(typed):
    form = form_of(coordinates=typed)
    assert form.is_valid(), form.errors
    site = form.save()
    assert (site.latitude_deg, site.longitude_deg) == pytest.approx((48.1467, 11.6083), abs=1e-4)
    assert site.position_from == Site.PositionFrom.COORDINATES
    # Source: JN58td is the widely published example of a locator (from memory).
    assert (site.grid_6, len(site.grid), site.time_zone) == ("JN58td", 10, "Europe/Berlin")


def test_a_grid_square_gives_its_centre_its_uncertainty_and_no_more_characters_than_were_typed():
    form = form_of(grid_square="jo62QM")
    assert form.is_valid(), form.errors
    site = form.save()
    place = geography.place_of_grid("JO62qm")
    assert site.grid == "JO62qm"
    assert site.grid_8 == ""
    assert site.position_from == Site.PositionFrom.GRID
    assert (site.latitude_deg, site.longitude_deg) == (place.latitude_deg, place.longitude_deg)
    assert site.position_error_m == pytest.approx(geography.half_diagonal_km(place) * 1000)


@pytest.mark.parametrize("grid", ["JO", "JO62", "JO62qm38", "JO62qm38ab"])
def test_grid_squares_of_two_to_ten_characters_are_taken(grid):
    form = form_of(grid_square=grid)
    assert form.is_valid(), form.errors
    assert form.save().grid == grid


def test_a_phone_position_is_marked_as_such_until_it_is_typed_over():
    form = form_of(coordinates="52.520001, 13.370001", from_phone="52.520001, 13.370001", position_error_m="8")
    assert form.is_valid(), form.errors
    site = form.save()
    assert (site.position_from, site.position_error_m) == (Site.PositionFrom.PHONE, 8)
    again = form_of(site, coordinates="52.53, 13.37", from_phone="52.520001, 13.370001", position_error_m="")
    assert again.is_valid(), again.errors
    assert again.save().position_from == Site.PositionFrom.COORDINATES


@pytest.mark.parametrize(
    ("data", "field", "words"),
    [
        ({}, "coordinates", "needs a position"),
        ({"coordinates": "north of the lake"}, "coordinates", "Examples"),
        ({"coordinates": "95, 13"}, "coordinates", "between -90 and 90"),
        ({"grid_square": "JZ62"}, "grid_square", "Character 2"),
        ({"grid_square": "JO6"}, "grid_square", "2, 4, 6, 8 or 10"),
        ({"coordinates": "52.52, 13.37", "grid_square": "JO31"}, "grid_square", "not in JO31"),
        ({"grid_square": "JO62", "altitude_m": "high"}, "altitude_m", "not a length"),
        ({"grid_square": "JO62", "cq_zone": "41"}, "cq_zone", "40"),
        ({"grid_square": "JO62", "dxcc": "x"}, "dxcc", "whole number"),
        ({"grid_square": "JO62", "references_programme": ["Shorelines"], "references_reference": [""]},
         "references", "reference for Shorelines is missing"),
        ({"grid_square": "JO62", "references_programme": [""], "references_reference": ["x" * 61]},
         "references", "at most 60"),
        ({"grid_square": "JO62", "name": " "}, "name", "required"),
    ],
)
def test_bad_input_is_refused_with_a_sentence(data, field, words):
    form = form_of(**data)
    assert not form.is_valid()
    assert words in " ".join(form.errors[field])


def test_coordinates_and_a_grid_square_that_agree_are_fine_and_the_coordinates_count():
    form = form_of(coordinates="52.52, 13.37", grid_square="JO62qm")
    assert form.is_valid(), form.errors
    assert len(form.save().grid) == 10


def test_several_references_are_kept_in_order_and_doubles_dropped():
    form = form_of(
        grid_square="JO62", references_programme=["Shorelines", "", "Shorelines", "Hills"],
        references_reference=["QS-1", " no  programme ", "QS-1", "QH-7"],
    )
    assert form.is_valid(), form.errors
    assert form.save().references == [
        {"programme": "Shorelines", "reference": "QS-1"}, {"programme": "", "reference": "no programme"},
        {"programme": "Hills", "reference": "QH-7"},
    ]


def test_a_site_saved_unchanged_stays_exactly_where_it_was():
    site = a_site(latitude_deg=52.123456789, longitude_deg=-0.987654321, altitude_m=123.4)
    site.put_at(52.123456789, -0.987654321, source=Site.PositionFrom.COORDINATES, error_m=7.3)
    site.save()
    blank = SiteForm(instance=site, units="imperial")
    data = {name: blank[name].value() for name in blank.fields if name != "references"}
    data = {name: "" if value is None else value for name, value in data.items()}
    form = SiteForm(
        {**data, "references_programme": ["Shorelines"], "references_reference": ["QS-0042"]}, instance=site,
        units="imperial",
    )
    assert form.is_valid(), form.errors
    form.save()
    site.refresh_from_db()
    assert (site.latitude_deg, site.longitude_deg) == (52.123456789, -0.987654321)
    assert (site.position_error_m, site.altitude_m) == (7.3, 123.4)


def test_imperial_lengths_are_stored_in_metres():
    form = form_of(units="imperial", coordinates="52.52, 13.37", altitude_m="1000", position_error_m="30 ft")
    assert form.is_valid(), form.errors
    site = form.save()
    # Source: international foot, 0.3048 m exactly (1959).
    assert (site.altitude_m, site.position_error_m) == (pytest.approx(304.8), pytest.approx(9.144))


def test_moving_a_site_moves_the_distances_of_its_contacts():
    site = a_site()
    contact = a_contact(an_outing(site=site), their_grid="IO91wm")
    form = form_of(site, coordinates="48.1, 11.6")
    assert form.is_valid(), form.errors
    form.save()
    way = geography.way(geography.Place(48.1, 11.6), geography.place_of_grid("IO91wm"))
    assert type(contact).objects.get().distance_km == pytest.approx(way.distance_km)
