"""Pages of outings as planned: what they show and refuse. The numbers of the light are held in the pure tests."""

import io
import re

import pytest
from django.test import Client
from django.urls import reverse
from pypdf import PdfReader

from outings import daylight
from outings.models import Contact, Outing
from outings.templatetags import times
from tests import making
from tests.making import (
    a_contact,
    a_kit,
    a_site,
    an_antenna,
    an_arrangement,
    an_operator,
    an_outing,
)

pytestmark = pytest.mark.django_db


@pytest.fixture
def owner():
    return an_operator()


@pytest.fixture
def client(client_of, owner):
    return client_of(owner)


def address(name, *args):
    return reverse(f"outings:{name}", args=args)


def text_of(answer):
    return " ".join(answer.content.decode().replace("\u00a0", " ").split())


def good(site, **data):
    return {
        "site": site.pk, "station_call": "Q1ABC/P", "times_in": "local", "date": "2026-06-21", "start_time": "14:00",
        "end_time": "18:00", "exchange": "report", **data,
    }


def test_a_plan_is_made_and_shown_in_both_times(client, owner):
    answer = client.post(address("outing_new"), good(a_site(owner), bands=["20m"]), follow=True)
    assert answer.redirect_chain[-1][0] == Outing.objects.get().get_absolute_url()
    text = text_of(answer)
    assert "2026-06-21 12:00 to 16:00 UTC" in text
    assert "Sunday 2026-06-21 14:00 to 18:00 (Europe/Berlin, UTC+2)" in text


def test_when_one_came_and_left_is_typed_on_the_page_and_shown(client, owner):
    outing = an_outing(owner)
    stay = good(outing.site, arrived="2026-06-21T13:20", left="2026-06-21T18:40")
    text = text_of(client.post(address("outing_edit", outing.pk), stay, follow=True))
    assert "<dt>Arrived</dt><dd>2026-06-21 11:20 UTC" in text
    assert "<dt>Left</dt><dd>2026-06-21 16:40 UTC" in text


def test_the_light_on_the_page_is_that_of_the_site_and_the_window(client, owner):
    outing = an_outing(owner, start="2026-06-21 12:00", hours=4)
    light = daylight.of(52.52, 13.37, "Europe/Berlin", outing.window_start, outing.window_end)
    text = text_of(client.get(outing.get_absolute_url()))
    assert len(light.days[0].events) == 5
    for event in light.days[0].events:
        at = times.to_the_minute(event.at)
        shown = f"{times.utc_clock(at)} UTC</time> <span class=\"local\">{times.in_zone(at, light.zone):%H:%M} local"
        assert f"{event.what.capitalize()}</th>" in text
        assert shown in text
    assert times.hours(light.ending.day_left_h).replace("\u00a0", " ") in text
    assert "This window lies within one" in text


def test_the_twelve_hour_clock_of_the_operator_is_used_for_local_times(client_of):
    owner = an_operator(clock="12")
    text = text_of(client_of(owner).get(an_outing(owner, start="2026-06-21 12:00").get_absolute_url()))
    assert "Sunday 2026-06-21 2:00 pm to 5:00 pm" in text


def test_a_polar_day_says_so(client, owner):
    site = a_site(owner, latitude_deg=69.65, longitude_deg=18.96, grid="JP99lp", time_zone="Europe/Oslo")
    text = text_of(client.get(an_outing(site=site, start="2026-06-21 18:00").get_absolute_url()))
    assert "The sun does not set on this date." in text
    assert "the sun does not set within 24 hours" in text


def test_a_day_on_which_the_clocks_change_says_so(client, owner):
    text = text_of(client.get(an_outing(owner, start="2026-03-29 06:00").get_absolute_url()))
    assert "On 2026-03-29 the clocks go from 02:00 to 03:00 (UTC+1 to UTC+2)." in text


def test_a_window_over_a_change_of_the_clocks_has_both_offsets(client, owner):
    text = text_of(client.get(an_outing(owner, start="2026-03-28 23:00", hours=5).get_absolute_url()))
    assert "Sunday 2026-03-29 00:00 to 06:00 (Europe/Berlin, UTC+1, then UTC+2)" in text


def test_a_new_plan_begins_with_the_call_sign_of_the_operator(client, owner):
    a_site(owner)
    assert re.search(r'name="station_call" value="Q1ABC"', text_of(client.get(address("outing_new"))))


def test_beyond_the_date_line_the_page_has_the_date_of_the_place_and_two_log_days(client, owner):
    site = a_site(owner, latitude_deg=-13.76, longitude_deg=-172.1, grid="AH36wf", time_zone="Pacific/Apia")
    text = text_of(client.get(an_outing(site=site, start="2026-06-21 22:00", hours=4).get_absolute_url()))
    assert "Monday 2026-06-22, the date at the site" in text
    assert "Monday 2026-06-22 11:00 to 15:00 (Pacific/Apia, UTC+13)" in text
    assert "2026-06-21, 2026-06-22" in text
    assert "00:00 UTC (13:00 local) on belong to the next log day" in text
    assert "2026-06-21 17:" in text  # sunrise of the 22nd there is on the UTC date before


def test_bands_that_nothing_covers_are_said_plainly(client, owner):
    arrangement = an_arrangement(an_antenna(owner), bands=("20m",), element_length_m=5.18)
    kit = a_kit(owner, arrangements=[arrangement])
    outing = an_outing(owner, kit=kit, bands=["20m", "17m"])
    text = text_of(client.get(outing.get_absolute_url()))
    assert "No arrangement in this kit is set for 17m." in text
    assert "element 5.18 m" in text


def test_a_plan_without_an_end_is_shown(client, owner):
    assert client.get(an_outing(owner, window_end=None).get_absolute_url()).status_code == 200


def test_a_refused_plan_keeps_what_was_typed(client, owner):
    answer = client.post(
        address("outing_new"),
        good(a_site(owner), date="2026-03-29", start_time="02:30", conditions="a quiet sun", bands=["17m"]),
    )
    assert answer.status_code == 422
    text = text_of(answer)
    assert "There is no 02:30 on 2026-03-29" in text
    assert 'value="02:30"' in text
    assert "a quiet sun" in text
    assert re.search(r'value="17m"[^>]* checked', text)
    assert not Outing.objects.exists()


def test_planning_again_takes_over_all_but_the_dates(client, owner):
    outing = an_outing(owner, bands=["40m"], goal_contacts=44, conditions="calm", solar_flux=150)
    text = text_of(client.get(address("outing_copy", outing.pk)))
    assert 'value="44"' in text
    assert 'name="start_time" value="15:00"' in text
    assert "calm" not in text
    assert "150" not in text
    answer = client.post(address("outing_copy", outing.pk), good(outing.site, goal_contacts="30"))
    assert answer.status_code == 302
    assert list(Outing.objects.order_by("pk").values_list("goal_contacts", flat=True)) == [44, 30]


def test_a_site_given_in_the_address_is_chosen_if_it_is_ones_own(client, owner):
    site, foreign = a_site(owner), a_site(an_operator("Q2DEF"), name="Secret Cove")
    assert f'<option value="{site.pk}" selected>' in text_of(client.get(address("outing_new") + f"?site={site.pk}"))
    for wrong in (foreign.pk, "x", "9" * 30, "-1"):
        answer = client.get(address("outing_new"), {"site": wrong})
        assert answer.status_code == 200
        assert "Secret Cove" not in text_of(answer)


def test_a_deleted_outing_is_listed_and_comes_back_with_its_contacts(client, owner):
    outing = an_outing(owner, start="2026-05-01 13:00")
    a_contact(outing)
    question = text_of(client.get(address("outing_delete", outing.pk)))
    assert "Its stints, its checklist and its log (1 contact) go with it." in question
    client.post(address("outing_delete", outing.pk))
    assert (Outing.objects.count(), Contact.objects.count()) == (0, 0)
    assert client.get(outing.get_absolute_url()).status_code == 404
    assert "Bring back" in text_of(client.get(address("outing_list") + "?show=deleted"))
    client.post(address("outing_restore", outing.pk))
    assert (Outing.objects.count(), Contact.objects.count()) == (1, 1)


def test_bringing_back_what_has_moved_on_says_why_not(client, owner):
    outing = an_outing(owner)
    contact = a_contact(outing)
    client.post(address("outing_delete", outing.pk))
    Contact.everything.get(pk=contact.pk).bring_back(owner)
    answer = client.post(address("outing_restore", outing.pk), follow=True)
    assert "It cannot be brought back" in text_of(answer)
    assert not Outing.objects.exists()


def test_the_list_parts_what_is_ahead_from_what_is_past_and_is_paged(client, owner):
    site = a_site(owner)
    for day in range(1, 31):
        an_outing(site=site, start=f"2020-06-{day:02d} 13:00", title=f"June {day}")
    an_outing(site=site, start="2199-06-01 13:00", title="Far ahead")
    assert "Far ahead" in text_of(client.get(address("outing_list")))
    past = text_of(client.get(address("outing_list") + "?show=past"))
    assert "June 30" in past
    assert "1–25 of 30 outings" in past
    assert "June 3<" in text_of(client.get(address("outing_list") + "?show=past&page=2"))
    assert "No outing matches." in text_of(client.get(address("outing_list") + "?show=past&q=winter"))


ONE = ["plan", "outing_edit", "outing_copy", "outing_delete", "outing_restore"]


@pytest.mark.parametrize("name", ONE)
@pytest.mark.parametrize("method", ["get", "post"])
def test_an_outing_of_another_operator_is_not_there(client_of, owner, name, method):
    outing = an_outing(owner)
    if name == "outing_restore":
        outing.withdraw(owner)
    before = Outing.everything.filter(pk=outing.pk).values().get()
    other = an_operator("Q2DEF")
    answer = getattr(client_of(other), method)(address(name, outing.pk), good(a_site(other)))
    assert answer.status_code in (404, 405)
    assert Outing.everything.filter(pk=outing.pk).values().get() == before
    assert Outing.everything.count() == 1


@pytest.mark.parametrize("name", [*ONE, "outing_list", "outing_new"])
def test_a_visitor_is_sent_to_the_login(owner, name):
    outing = an_outing(owner)
    for method in ("get", "post"):
        answer = getattr(Client(), method)(address(name, *([outing.pk] if name in ONE else [])), good(outing.site))
        assert answer.status_code == 302
        assert answer.url.startswith(reverse("login"))
    assert Outing.objects.count() == 1


def test_the_site_and_kit_of_another_operator_are_refused_in_the_form(client, owner):
    other = an_operator("Q2DEF")
    a_site(owner)
    answer = client.post(address("outing_new"), good(a_site(other), kit=a_kit(other).pk))
    assert answer.status_code == 422
    assert not Outing.objects.exists()


def test_plan_checklist_and_paper_say_which_arrangement_resonates(client_of):
    antenna = making.an_antenna(name="Long wire")
    swept = making.an_arrangement(antenna, "high", bands=("20m",))
    making.an_arrangement(antenna, "low", bands=("40m",), orientation="horizontal", element_length_m=20)
    making.a_sweep(swept)
    kit = making.a_kit(antenna.owner, arrangements=list(antenna.arrangements.all()))
    outing = making.an_outing(antenna.owner, kit=kit, bands=["20m", "40m", "10m"])
    client = client_of(antenna.owner)
    for page in (f"/outings/{outing.pk}/", f"/outings/{outing.pk}/checklist/"):
        said = client.get(page).content.decode().replace("\u00a0", " ")
        assert "resonates, measured" in said and "SWR 1.19 at 14.15 MHz, 2 or less on all of the band" in said
        assert "resonates, by a model" in said and "by its length as a half-wave fed in the middle" in said
        assert "nothing covers it" in said
    paper = client.get(f"/outings/{outing.pk}/checklist/paper/")
    text = " ".join(page.extract_text() for page in PdfReader(io.BytesIO(paper.content)).pages)
    text = " ".join(text.replace("\u00a0", " ").split())
    assert "resonates, measured: SWR 1.19 at 14.15 MHz" in text and "resonates, by a model: near" in text
