"""What the pages of plans and sites read, and with how many queries."""

import pytest

from equipment.queries import settings_by_band
from outings.models import Outing, Site
from outings.queries import plans, sites
from outings.templatetags.plans import setting
from tests.making import (
    a_contact,
    a_feedline,
    a_kit,
    a_moment,
    a_radio,
    a_site,
    an_antenna,
    an_arrangement,
    an_operator,
    an_outing,
)

pytestmark = pytest.mark.django_db
NOW = a_moment("2026-05-10 12:00")


def a_rich_outing(owner, contacts=2):
    arrangement = an_arrangement(an_antenna(owner), bands=("20m", "40m"))
    kit = a_kit(owner, items=[a_radio(owner, weight_kg=0.9)], arrangements=[arrangement])
    outing = an_outing(owner, kit=kit, bands=["40m", "20m", "10m"])
    for number in range(contacts):
        a_contact(outing, call=f"Q{number}AB")
    return outing


def test_a_plan_says_which_wanted_bands_nothing_covers():
    plan = plans.plan(a_rich_outing(an_operator()))
    assert [line.band for line in plan.kit.bands] == ["40m", "20m", "10m"]
    assert plan.kit.uncovered == ["10m"]
    assert plan.kit.weight.weight_kg == 0.9
    assert plan.contacts == 2


def test_without_wanted_bands_a_plan_shows_all_that_the_kit_covers():
    outing = a_rich_outing(an_operator())
    outing.bands = []
    assert [line.band for line in plans.plan(outing).kit.bands] == ["40m", "20m"]


def test_the_picture_has_the_window_in_utc_and_the_events_as_marks():
    picture = plans.plan(an_outing()).picture
    assert picture["window"] == ["2026-05-01T13:00:00Z", "2026-05-01T16:00:00Z"]
    assert picture["time_zone"] == "Europe/Berlin"
    assert picture["elevation_deg"][0][0] == "2026-05-01T11:00:00Z"
    assert {mark["label"] for mark in picture["marks"]} == {"highest sun"}


@pytest.mark.parametrize("size", [1, 12])
def test_a_plan_takes_the_same_queries_whatever_the_size_of_its_log(size, django_assert_max_num_queries):
    outing = a_rich_outing(an_operator(), contacts=size)
    outing = Outing.objects.select_related("site", "kit").get(pk=outing.pk)
    with django_assert_max_num_queries(10):
        assert plans.plan(outing).contacts == size


@pytest.mark.parametrize("size", [2, 15])
def test_the_list_of_outings_takes_the_same_queries_whatever_its_length(size, django_assert_num_queries):
    owner = an_operator()
    site = a_site(owner)
    for number in range(size):
        an_outing(site=site, start=f"2026-06-{number + 1:02d} 13:00")
    with django_assert_num_queries(2):
        found = list(plans.outing_list(owner, which="upcoming", now=NOW))
        plans.contact_counts(found)
        assert [outing.site.name for outing in found] == ["Reed Point"] * size


def test_outings_are_found_by_title_site_call_and_reference_also_with_an_umlaut():
    owner = an_operator()
    one = an_outing(site=a_site(owner, name="Möwenkap"), references=[{"programme": "Küste", "reference": "QS-7"}])
    an_outing(site=a_site(owner, name="Reed Point"), references=[])
    for text in ("Möwen", "Küste", "qs-7", "Q1ABC/P"):
        found = list(plans.outing_list(owner, which="past", now=NOW, text=text))
        assert one in found, text
        assert text == "Q1ABC/P" or len(found) == 1


def test_contacts_are_counted_without_doubtful_and_deleted_ones():
    outing = a_rich_outing(an_operator(), contacts=2)
    a_contact(outing, call="Q9?", pending=True)
    a_contact(outing, call="Q9AB").withdraw(outing.owner)
    assert plans.contact_counts([outing]) == {outing.pk: 2}


def test_sites_are_listed_with_the_count_and_last_start_of_their_outings(django_assert_num_queries):
    owner = an_operator()
    busy, quiet = a_site(owner, name="Busy"), a_site(owner, name="Quiet")
    an_outing(site=busy)
    an_outing(site=busy, start="2026-07-01 10:00")
    an_outing(site=busy, start="2026-08-01 10:00").withdraw(owner)
    with django_assert_num_queries(1):
        rows = list(sites.site_list(owner, order=("-outing_count", "name", "id")))
    assert {site.name: site.outing_count for site in rows} == {"Busy": 2, "Quiet": 0}
    assert next(site for site in rows if site == busy).last_outing_at == a_moment("2026-07-01 10:00")
    assert quiet in rows


def test_a_site_page_shows_the_latest_outings_and_says_how_many_more(django_assert_num_queries):
    site = a_site()
    for day in range(1, 26):
        an_outing(site=site, start=f"2026-05-{day:02d} 10:00")
    site = Site.objects.get()
    with django_assert_num_queries(3):
        page = sites.site_page(site)
        assert str(page.outings[0]) == "Reed Point 2026-05-25"
    assert (len(page.outings), page.outing_count, page.more, page.can_be_deleted) == (20, 25, 5, False)


def test_a_setting_names_everything_that_is_noted_of_an_arrangement():
    line = a_feedline(name="Grey coax")
    arrangement = an_arrangement(
        an_antenna(line.owner), bands=("20m",), element_length_m=20, feedpoint_height_m=1.2, far_end_height_m=8,
        slope_deg=-20, ground="wet", choke="12 turns", feedline=line, transformer="49:1",
    )
    (cover,) = settings_by_band(a_kit(line.owner, arrangements=[arrangement]), ["20m"])
    assert setting(cover.arrangements[0], "metric").replace("\u00a0", " ") == (
        "element 20 m, feedpoint at 1.2 m, far end at 8 m, slope −20°, on wet ground, transformer 49:1, "
        "choke 12 turns, feedline Grey coax"
    )
