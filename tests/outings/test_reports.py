"""The report of an outing: what it counts, its map and its paper."""

import datetime
import io

import pytest
from django.test import Client
from pypdf import PdfReader

from outings import sun
from outings.papers import coast, maps
from outings.queries import report as queries
from tests import making

START = making.a_moment("2026-05-01 13:00")


@pytest.fixture
def outing(db):
    owner = making.an_operator()
    outing = making.an_outing(owner, goal_contacts=4)
    arrangement = making.an_arrangement(making.an_antenna(owner))
    stint = making.a_stint(outing, minutes=90, arrangement=arrangement)
    for time, grid in (("13:05", "JN58"), ("13:10", "IO91"), ("14:10", "")):
        making.a_contact(outing, stint=stint, call=f"Q{time[-1]}{time[1]}AB", at=f"2026-05-01 {time}", their_grid=grid)
    making.a_contact(outing, call="Q8ZZ", pending=True, at="2026-05-01 13:20")
    return outing


def the_report(outing, **more):
    return queries.report(outing, outing.owner, START + datetime.timedelta(hours=5), **more)


def test_hours_and_counts_are_those_of_the_log(outing):
    found = the_report(outing)
    assert (found.contacts, found.doubtful, found.share_of_goal) == (3, 1, 0.75)
    told = [(line.starts_at.hour, line.contacts, line.on_air_s) for line in found.hours]
    assert told == [(13, 2, 3600), (14, 1, 1800)]
    assert found.hours[0].rate.per_h == 2
    assert found.busiest.starts_at.hour == 13
    assert sum(one.contacts for one in found.counts) == 3
    assert found.found.total.with_position == 2


def test_a_pause_is_not_on_the_air(outing):
    stint = outing.stints.get()
    minute = datetime.timedelta(minutes=1)
    stint.pauses.create(started_at=START + 20 * minute, ended_at=START + 40 * minute)
    assert [line.on_air_s for line in the_report(outing).hours] == [2400, 1800]


def test_an_empty_outing_has_a_report_that_says_so(client_of):
    outing = making.an_outing()
    page = client_of(outing.owner).get(f"/outings/{outing.pk}/report/").content.decode()
    assert "Nothing is in the log yet" in page
    assert client_of(outing.owner).get(f"/outings/{outing.pk}/report/paper/").content.startswith(b"%PDF")


def test_the_number_of_queries_does_not_grow_with_the_log(outing, django_assert_max_num_queries):
    with django_assert_max_num_queries(16) as few:
        the_report(outing)
    stint = making.a_stint(outing, start="2026-05-01 15:00", band="40m")
    for number in range(30):
        making.a_contact(outing, stint=stint, call=f"Q{number}XY", at=f"2026-05-01 15:{number:02d}")
    with django_assert_max_num_queries(len(few.captured_queries)):
        the_report(outing)


def test_the_sun_stands_overhead_where_it_is_at_the_zenith():
    """Against PyEphem's sun, an independent ephemeris: at the place overhead its altitude is 90 degrees."""
    import ephem

    for text in ("2026-01-01 00:00", "2026-03-20 12:00", "2026-06-21 18:30", "2026-11-27 06:15"):
        moment = making.a_moment(text)
        latitude_deg, longitude_deg = sun.overhead(moment)
        observer = ephem.Observer()
        observer.lat, observer.lon, observer.pressure = str(latitude_deg), str(longitude_deg), 0
        observer.date = moment.replace(tzinfo=None)
        body = ephem.Sun(observer)
        assert abs(float(body.alt) * 180 / 3.141592653589793 - 90) < 0.02
    with pytest.raises(ValueError, match="zone"):
        sun.overhead(datetime.datetime(2026, 1, 1))


def test_the_map_shows_day_and_night_at_the_moment_that_is_asked_for(outing, client_of):
    client = client_of(outing.owner)
    page = client.get(f"/outings/{outing.pk}/report/?at=2330")
    assert "day and night at 2026-05-01 23:30" in page.content.decode()
    refused = client.get(f"/outings/{outing.pk}/report/?at=25:99")
    assert refused.status_code == 422 and "hours go to 23" in refused.content.decode()
    assert "day and night at 2026-05-01 13:45" in refused.content.decode(), "the middle of what happened"


@pytest.mark.parametrize("paper", ["A4", "Letter"])
def test_the_paper_has_the_figures_of_the_page(outing, client_of, paper):
    answer = client_of(outing.owner).get(f"/outings/{outing.pk}/report/paper/?paper={paper}")
    pdf = PdfReader(io.BytesIO(answer.content))
    text = "\n".join(page.extract_text() for page in pdf.pages)
    for words in ("3, of 4 wanted, 75%", "2026-05-01 13:00", "By arrangement", "2 contacts with a position, 1 without"):
        assert words in text.replace("\u00a0", " "), text
    width = float(pdf.pages[0].mediabox.width)
    assert round(width) == {"A4": 595, "Letter": 612}[paper]


def test_coasts_lie_where_they_do():
    """The southern tip of Africa (Cape Agulhas, 34.83 S 20.00 E) and the Equator's islands, from memory of an atlas."""
    points = [point for line in coast.lines() for point in line]
    assert all(-90 <= latitude <= 90 and -180.1 <= longitude <= 180.1 for latitude, longitude in points)
    africa = [latitude for latitude, longitude in points if 15 < longitude < 30 and -40 < latitude < 0]
    assert abs(min(africa) + 34.8) < 0.5
    rings, reach_km = maps.rings_for(1660.0, 1.0, "km")
    assert [km for km, _ in rings] == [500, 1000, 1500] and reach_km > 1660


def test_only_the_owner_sees_a_report(outing, client_of):
    stranger = client_of(making.an_operator("Q2DEF"))
    for path in ("", "paper/"):
        assert stranger.get(f"/outings/{outing.pk}/report/{path}").status_code == 404
    assert Client().get(f"/outings/{outing.pk}/report/").status_code == 302
