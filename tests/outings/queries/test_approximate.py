"""Contacts that are placed by their state or country: counted and measured apart, shown as approximate."""

import io
import json
import re
import statistics

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from hypothesis import given
from hypothesis import strategies as st
from pypdf import PdfReader

from outings import areas
from outings.models import Contact, Outing, Stint
from outings.queries import adif_files, performance
from outings.queries import approximate as queries
from tests import making

EXACT = ("median", "upper_tenth", "farthest", "directions", "km_per_watt", "ordered_km", "with_position")


@pytest.fixture
def outing(db):
    """Two contacts with a grid, three by area (two in one), three nowhere; the operator wants them placed."""
    outing = making.an_outing(making.an_operator(place_by_area=True))
    stint = making.a_stint(outing, minutes=90)
    for number, more in enumerate((
        {"their_grid": "JN58"}, {"their_grid": "IO91", "dxcc": 230, "state": "BY"},
        {"dxcc": 291, "state": "TX"}, {"dxcc": 291, "state": "tx"}, {"country": "Canada"},
        {}, {"country": "Nowhere"}, {"dxcc": 1, "call": "Q0MMM/MM"},
    )):
        making.a_contact(stint=stint, **{"call": f"Q{number}ABC", "at": f"2026-05-01 13:{10 + number}", **more})
    return outing


def near_of(outing):
    return queries.approximate(outing.owner, outing.stints.all())


def total_of(outing):
    return performance.performance(outing.owner, outing.stints.all()).total


def test_contacts_are_placed_by_grid_approximately_or_nowhere(outing):
    near, total = near_of(outing), total_of(outing)
    assert (total.with_position, near.contacts, total.without_position - near.contacts) == (2, 3, 3)
    assert [(line.area.name, line.contacts) for line in near.lines] == [
        ("Texas, United States of America", 2), ("Canada", 1),
    ]


def test_nothing_is_placed_or_asked_where_the_operator_does_not_want_it(outing, django_assert_num_queries):
    outing.owner.place_by_area = False
    with django_assert_num_queries(0):
        assert near_of(outing) is None


def test_two_queries_do_for_a_log_of_any_length(outing, django_assert_num_queries):
    with django_assert_num_queries(2):
        near_of(outing)


def test_no_figure_of_the_exact_ones_changes(outing):
    before = total_of(outing)
    assert near_of(outing).lines[0].least_km > 7000
    Contact.objects.filter(their_grid="").update(dxcc=None, state="", country="")
    after = total_of(outing)
    assert [getattr(before, name) for name in EXACT] == [getattr(after, name) for name in EXACT]
    assert before.farthest.distance_km < 1000
    assert not Contact.objects.exclude(their_grid="").filter(distance_km=None).exists()
    assert not Contact.objects.filter(their_grid="", distance_km__isnull=False).exists()


def test_a_grid_wins_over_a_state(outing):
    contact = Contact.objects.get(their_grid="IO91")
    assert contact.their_area is None and contact.distance_km < 1000
    contact.their_grid = ""
    assert contact.their_area.name == "Bayern, Federal Republic of Germany"


def test_doubtful_contacts_and_those_in_no_stint_are_left_out_as_everywhere(outing):
    making.a_contact(stint=outing.stints.get(), call="Q7DDD", dxcc=1, pending=True)
    making.a_contact(outing, call="Q7EEE", dxcc=1, at="2026-05-01 20:00")
    making.a_contact(making.an_outing(making.an_operator("Q2DEF")), call="Q7FFF", dxcc=1)
    assert near_of(outing).contacts == 3


def test_a_state_alone_is_one_of_the_entity_of_the_site(outing):
    making.a_contact(stint=outing.stints.get(), call="Q7GGG", state="OH")
    assert near_of(outing).contacts == 3
    outing.site.dxcc = 291
    outing.site.save()
    assert near_of(Outing.objects.get(pk=outing.pk)).contacts == 4


def test_areas_worked_from_several_sites_have_the_span_of_the_distances(outing):
    other = making.an_outing(site=making.a_site(outing.owner, "Far Hill", latitude_deg=40.0, longitude_deg=-80.0))
    making.a_contact(stint=making.a_stint(other, start="2026-06-01 13:00"), dxcc=1, at="2026-06-01 13:10")
    near = queries.approximate(outing.owner, Stint.objects.all())
    line = next(line for line in near.lines if line.area.name == "Canada")
    assert (line.contacts, line.only, line.least_km) == (2, None, 0)
    assert line.most_km > areas.area_of(1).radius_km + 6000


@given(st.lists(st.tuples(st.integers(1, 9), st.floats(0, 9000), st.floats(10, 3000), st.floats(-1, 1)), min_size=1))
def test_the_median_lies_between_its_bounds_wherever_in_its_circle_each_is(rows):
    around = [queries.Around(None, count, km, error, None) for count, km, error, _ in rows]
    real = [max(0.0, km + part * error) for count, km, error, part in rows for _ in range(count)]
    least, most = (queries.median(around, name) for name in ("least_km", "most_km"))
    assert least <= statistics.median_low(real) <= most
    middles = [km for count, km, _, _ in rows for _ in range(count)]
    assert queries.median(around, "distance_km") == statistics.median_low(middles)


@pytest.mark.parametrize("kind", ["adi", "adx"])
def test_nothing_of_it_is_exported(outing, kind):
    text = "".join(adif_files.Handover(outing.contacts.all(), kind).pieces()).upper()
    assert len(re.findall(r"<GRIDSQUARE\b", text)) == 2
    assert not re.search(r"<(LAT|LON)\b", text)


def test_the_report_shows_them_apart_and_marked(outing, client_of):
    page = client_of(outing.owner).get(f"/outings/{outing.pk}/report/").text
    assert "<strong>2</strong> contacts placed by grid or position, <strong>3</strong>" in page
    assert "by state or country, <strong>3</strong> nowhere" in page
    assert "Texas, United States of America" in page and "○ approximately" in page
    assert "GeoNames (geonames.org), CC BY 4.0" in page
    dots = json.loads(re.search(r'id="map-data"[^>]*>(.*?)</script>', page)[1])
    assert (len(dots["contacts"]), len(dots["around"])) == (2, 2)
    assert dots["around"][0]["label"].startswith("Texas, United States of America: 2 contacts approximately, ≈")


def test_the_report_of_who_does_not_want_it_says_nothing_of_it(outing, client_of):
    outing.owner.place_by_area = False
    outing.owner.save()
    page = client_of(outing.owner).get(f"/outings/{outing.pk}/report/").text
    assert "approximate" not in page and "Texas" not in page and '"around": []' in page


def test_a_report_without_any_grid_has_its_map(outing, client_of):
    Contact.objects.update(their_grid="", distance_km=None, distance_error_km=None, bearing_deg=None)
    client = client_of(outing.owner)
    page = client.get(f"/outings/{outing.pk}/report/").text
    assert "No contact has a grid or a position." in page and 'data-picture="map"' in page
    assert client.get(f"/outings/{outing.pk}/report/paper/").content.startswith(b"%PDF")
    Contact.objects.update(dxcc=None, state="", country="")
    page = client.get(f"/outings/{outing.pk}/report/").text
    assert "<strong>8</strong> nowhere" in page and 'data-picture="map"' not in page


def test_the_paper_has_them_with_their_own_sign(outing, client_of):
    pdf = PdfReader(io.BytesIO(client_of(outing.owner).get(f"/outings/{outing.pk}/report/paper/").content))
    text = " ".join(" ".join(page.extract_text() for page in pdf.pages).replace("\u00a0", " ").split())
    assert "2 contacts placed by grid or position (dots), 3 approximately by state or country (circles)" in text
    assert "(circles), 3 nowhere" in text
    assert "Texas, United States of America" in text and "CC BY 4.0" in text and "≈" in text


def test_the_performance_page_shows_them_under_its_map(outing, client_of):
    page = client_of(outing.owner).get("/performance/").text
    assert "<strong>2</strong> contacts placed by grid or position, <strong>3</strong>" in page
    assert client_of(outing.owner).get("/performance/contacts/?position=unknown").text.count("≈ approximate") == 3


def test_the_page_of_a_contact_and_its_row_say_how_near_it_is_known(outing, client_of):
    client = client_of(outing.owner)
    contact = Contact.objects.filter(state="TX").get()
    page = client.get(contact.get_absolute_url()).text.replace("\u00a0", " ")
    # pyproj: Geod(ellps="WGS84").inv(13.37, 52.52, -97.67, 31.0) is 8604 km
    assert "≈ 8600 ± 900 km" in page and "within about 880 km" in page and "≈ approximate" in page
    assert client.get("/contacts/").text.count("≈ approximate") == 3
    assert client.get(f"/outings/{outing.pk}/log/").text.count("≈ approximate") == 3
    outing.owner.place_by_area = False
    outing.owner.save()
    for path in (contact.get_absolute_url(), "/contacts/", f"/outings/{outing.pk}/log/", "/performance/"):
        assert "≈" not in client.get(path).text


def test_the_list_asks_no_more_for_it(outing, client_of):
    client, asked = client_of(outing.owner), []
    for wanted in (False, True):
        outing.owner.place_by_area = wanted
        outing.owner.save()
        with CaptureQueriesContext(connection) as seen:
            client.get("/contacts/")
        asked.append(len(seen))
    assert asked[0] == asked[1]
