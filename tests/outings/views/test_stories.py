"""The story of a piece of gear: its verdicts, figures, settings, outings and notes, and nobody else's."""

import datetime

import pytest
from django.urls import reverse

from outings.models import Contact
from outings.queries import stories
from tests.making import (
    a_band_setting,
    a_note,
    a_pack,
    a_power_setting,
    a_radio,
    a_stint,
    an_antenna,
    an_arrangement,
    an_operator,
    an_outing,
)

pytestmark = pytest.mark.django_db


def text_of(response):
    return " ".join(response.content.decode().replace("\u00a0", " ").split())


def filled(stint, count):
    Contact.objects.bulk_create([
        Contact(
            owner=stint.owner, outing=stint.outing, stint=stint, call=f"Q{number}AB", band=stint.band, mode=stint.mode,
            station_call="Q1ABC/P", started_at=stint.started_at + datetime.timedelta(minutes=number % 20),
            distance_km=500 + 100 * number, distance_error_km=30, bearing_deg=10 * number,
        )
        for number in range(count)
    ])
    return stint


@pytest.fixture
def gear():
    """A wire and a whip in turns on six outings, two bands, with one radio and one pack."""
    operator = an_operator()
    radio, pack = a_radio(operator, "Tin radio"), a_pack(operator, "Six pack")
    a_power_setting(radio, "low", 5)
    wire, whip = (an_arrangement(an_antenna(operator, name), "up") for name in ("Wire", "Whip"))
    a_band_setting(wire, "20m", tap="7")
    counts = [(22, 8), (19, 6), (25, 9), (21, 7), (24, 8), (20, 6)]
    for day, pair in enumerate(counts, 1):
        outing = an_outing(operator, start=f"2026-05-{day:02} 12:00")
        for number, (way, count) in enumerate(zip((wire, whip), pair, strict=True)):
            start = f"2026-05-{day:02} 12:{30 * number:02}"
            filled(a_stint(
                outing, arrangement=way, radio=radio, pack=pack, start=start, minutes=30, band=("20m", "40m")[day % 2],
            ), count)
    a_note(operator, "Mind the branch", about=[wire])
    return {"arrangement": wire, "antenna": whip.antenna, "radio": radio, "pack": pack}


def address(kind, thing):
    return reverse("outings:story", args=[kind, thing.pk])


@pytest.mark.parametrize("kind", stories.KINDS)
def test_a_visitor_is_sent_to_the_login_and_another_operator_finds_nothing(client, client_of, gear, kind):
    assert client.get(address(kind, gear[kind])).status_code == 302
    assert client_of(an_operator("Q2DEF")).get(address(kind, gear[kind])).status_code == 404


def test_a_kind_without_a_story_is_not_there(client_of, gear):
    client = client_of(gear["radio"].owner)
    assert client.get("/evidence/of/feedline/1/").status_code == 404
    assert client.get(address("radio", gear["pack"])).status_code == 404
    assert client.post(address("radio", gear["radio"])).status_code == 405


def test_an_arrangement_tells_what_it_did_and_how_it_compares(client_of, gear):
    page = text_of(client_of(gear["arrangement"].owner).get(address("arrangement", gear["arrangement"])))
    assert "All others are set against it, since it has most hours" in page and "over 99 %" in page
    assert "From 6 stints, 131 contacts and 3 h 00 min on the air" in page
    assert "tap 7" in page and "Never swept." in page and "Mind the branch" in page
    assert page.count("/log/") == 6 and 'data-picture="map"' in page
    for band in ("20m", "40m"):
        assert f'/evidence/?by=arrangement&amp;band={band}">contacts per hour</a>' in page
    assert '/evidence/?by=arrangement&amp;measure=distance">distance</a>' in page


def test_an_antenna_that_was_told_apart_says_so_with_its_interval(client_of, gear):
    page = text_of(client_of(gear["antenna"].owner).get(address("antenna", gear["antenna"])))
    assert "It makes × 0.34 the contacts per hour of Wire (95 % interval 0.2" in page
    assert "/evidence/of/arrangement/" in page


def test_what_was_never_compared_says_so(client_of, gear):
    page = text_of(client_of(gear["radio"].owner).get(address("radio", gear["radio"])))
    assert "There is nothing to set it against yet: no other radio was on the air." in page
    assert "low" in page and "5 W" in page and "Where it was compared" not in page


def test_gear_that_was_not_on_the_air_has_an_empty_story(client_of, gear):
    spare = a_pack(gear["pack"].owner, "Spare")
    page = text_of(client_of(spare.owner).get(address("pack", spare)))
    assert "Not on the air yet" in page and 'class="verdict"' not in page


def test_figures_open_to_the_contacts_of_that_piece_alone(client_of, gear):
    client = client_of(gear["antenna"].owner)
    page = client.get(address("antenna", gear["antenna"])).content.decode()
    link = f"/performance/contacts/?antenna={gear['antenna'].pk}&amp;by=band&amp;of=20m"
    assert link in page
    assert "<strong>19</strong> contacts" in text_of(client.get(link.replace("&amp;", "&")))  # 6 + 7 + 6


@pytest.mark.parametrize("kind", stories.KINDS)
def test_the_page_of_the_gear_leads_to_its_story(client_of, gear, kind):
    page = client_of(gear[kind].owner).get(gear[kind].get_absolute_url()).content.decode()
    assert f'href="{address(kind, gear[kind])}"' in page


def test_the_story_of_many_outings_takes_as_many_queries_as_of_few(gear, django_assert_max_num_queries):
    owner, wire = gear["arrangement"].owner, gear["arrangement"]
    with django_assert_max_num_queries(16):
        stories.story(owner, "arrangement", wire)
    for day in range(1, 28):
        outing = an_outing(owner, start=f"2026-06-{day:02} 12:00")
        filled(a_stint(outing, arrangement=wire, start=f"2026-06-{day:02} 14:30", minutes=60), 3)
    with django_assert_max_num_queries(16):
        found = stories.story(owner, "arrangement", wire)
    assert (found.outings, len(found.uses)) == (33, stories.LAST_OUTINGS)
    assert found.uses[0].outing.window_start.month == 6 and found.uses[0].on_air_h == 1
