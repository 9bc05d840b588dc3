"""What is shown to others by an address: every kind of page, what it keeps to itself, and its end."""

import json
import re

import pytest
from django.db import DatabaseError, IntegrityError, models, transaction
from django.test import Client

from outings.models import Contact, SharedPage
from tests import making

HUSH = "kept to myself"


@pytest.fixture
def things(db):
    """One of everything that can be shared, each with all that is private about it marked HUSH."""
    owner = making.an_operator()
    hidden = {"serial": HUSH, "notes": HUSH, "acquired_on": "2021-12-31"}
    radio, pack = making.a_radio(owner, **hidden), making.a_pack(owner, **hidden)
    antenna = making.an_antenna(owner, **hidden)
    arrangement = making.an_arrangement(antenna, notes=HUSH, element_length_m=5.1, counterpoise_m=4.2)
    making.a_band_setting(arrangement, "20m", tap="3", note=HUSH)
    other = making.an_arrangement(antenna, name="flat")
    site = making.a_site(
        owner, latitude_deg=52.5083, longitude_deg=13.3391, altitude_m=34.0, county="Reedshire", permission=HUSH,
        notes=HUSH, supports="Two alders",
    )
    outing = making.an_outing(owner, site=site, title="Dawn at the reeds", notes=HUSH)
    for number, one in enumerate((arrangement, other)):
        stint = making.a_stint(
            outing, start=f"2026-05-01 {13 + number}:00", minutes=50, arrangement=one, radio=radio, pack=pack
        )
        for minute in range(5, 45, 8):
            making.a_contact(
                outing, stint=stint, call=f"Q{number}X{minute}", at=f"2026-05-01 {13 + number}:{minute:02d}",
                their_grid="IO91wm", comment=HUSH, name=HUSH,
            )
    making.a_remark(outing, text=HUSH)
    making.a_note(owner, title=HUSH, about=(arrangement, outing, radio, pack))
    note = making.a_note(owner, title="Wire over the lake", text="It **sags**.", about=(arrangement, outing))
    note.outings.clear()
    note.arrangements.clear()
    note.arrangements.add(other)
    kit = making.a_kit(owner, items=(radio, pack), arrangements=(arrangement,), notes=HUSH)
    return {
        "outing": outing, "arrangement": arrangement, "antenna": antenna, "radio": radio, "pack": pack, "kit": kit,
        "site": site, "note": note,
    }


def shared(things, kind, **fields):
    return making.a_shared_page(kind, things[kind], **fields)


def seen(page):
    return Client().get(page.get_absolute_url()).content.decode()


def test_everything_that_can_be_shared_is_tried_here(things):
    assert set(things) == set(SharedPage.KINDS)


@pytest.mark.parametrize("kind", SharedPage.KINDS)
def test_a_page_is_shown_by_its_address_until_that_is_withdrawn(things, client_of, kind):
    client, thing = client_of(things[kind].owner), things[kind]
    path = f"/sharing/{kind}/{thing.pk}/"
    assert client.get(path).status_code == 200
    assert client.post(path, {"position": "grid_4"}).status_code == 302
    page = SharedPage.objects.get()
    assert len(page.token) >= 43 and page.kind == kind and page.thing == thing
    assert page.token in client.get(path).content.decode()
    shown = Client().get(page.get_absolute_url())
    assert shown.status_code == 200
    assert str(thing) in shown.content.decode() and "Q1ABC" in shown.content.decode()
    assert "no-store" in shown.headers["Cache-Control"] and "noindex" in shown.headers["X-Robots-Tag"]
    assert shown.headers["Referrer-Policy"] == "no-referrer"
    assert Client().post(page.get_absolute_url()).status_code == 405
    listed = client.get("/sharing/").content.decode()
    assert page.token in listed and "1 time" in listed
    client.post(f"/sharing/{page.pk}/withdraw/")
    gone = Client().get(page.get_absolute_url())
    assert gone.status_code == 410 and "Nothing is shared here" in gone.content.decode()
    assert str(thing) not in gone.content.decode()
    assert "Nothing is shared" in client.get("/sharing/").content.decode()
    assert Client().get("/shared/guessed/").status_code == 404


@pytest.mark.parametrize("kind", SharedPage.KINDS)
def test_a_page_tells_nothing_that_was_not_chosen_and_leads_nowhere_else(things, kind):
    page = seen(shared(things, kind))
    assert HUSH not in page and "2021" not in page
    for address in re.findall(r'(?:href|src|action|hx-get)="([^"]*)"', page):
        assert address.startswith(("/static/", "#")) or address == "/", address
    if kind not in ("outing", "site"):
        for place in ("Reed Point", "Dawn at the reeds", "JO62qm", "QS-0042"):
            assert place not in page
    if kind not in ("outing", "note"):
        assert not re.search(r"Q[01]X\d", page), "whom somebody worked is for the report"
    for exact in ("52.508", "13.339"):
        assert exact not in page


def test_notes_are_shown_where_that_was_chosen(things):
    for kind in ("outing", "arrangement", "antenna", "radio", "pack", "kit", "site"):
        assert HUSH in seen(shared(things, kind, with_notes=True)), kind
        assert "serial" not in seen(shared(things, kind, with_notes=True)).lower()


def test_a_gear_story_is_told_with_intervals_and_pictures_around_a_large_square(things):
    page = seen(shared(things, "arrangement"))
    assert "95 % interval" in page and 'data-picture="rates"' in page and 'data-picture="map"' in page
    assert '"label": "JO62"' in page
    assert "From 1 outing." in page


def drawn(page, name):
    """The data of a picture on a page."""
    return json.loads(re.search(rf'<script id="{name}" type="application/json">(.*?)</script>', page)[1])


@pytest.mark.parametrize("kind", ["outing", "arrangement"])
def test_pictures_are_the_same_wherever_in_its_square_the_site_is(things, kind):
    page, site = shared(things, kind), things["site"]
    names = ["map-data", "timeline-data"] if kind == "outing" else ["map-data"]
    there = [drawn(seen(page), name) for name in names]
    site.latitude_deg, site.longitude_deg = site.latitude_deg + 0.03, site.longitude_deg + 0.06
    assert site.grid_6 == "JO62qm"
    site.save()
    Contact.objects.locate_from(site)
    assert [drawn(seen(page), name) for name in names] == there


@pytest.mark.parametrize("kind", ["outing", "arrangement", "antenna", "radio", "pack"])
def test_distances_are_told_to_ten_kilometres(things, kind):
    things["outing"].contacts.update(distance_km=934.2)
    page = seen(shared(things, kind))
    assert {dot["distance_km"] % 10 for dot in drawn(page, "map-data")["contacts"]} == {0}
    assert "930" in page and not re.search(r"\b934\b", page)


def test_a_kit_shows_what_to_pack_and_how_it_is_set(things):
    page = seen(shared(things, "kit"))
    assert "Little radio" in page and "20m" in page
    assert "5.1\N{NO-BREAK SPACE}m" in page and "4.2\N{NO-BREAK SPACE}m" in page and "power lines" in page


def test_a_site_is_shown_as_closely_as_was_chosen_and_coarsely_unless_it_was(things, client_of):
    client, pk = client_of(things["site"].owner), things["site"].pk
    asks = client.get(f"/sharing/site/{pk}/").content.decode()
    assert "caution" in asks
    assert re.search(r'value="grid_4"[^>]*checked', asks)
    coarse = seen(shared(things, "site", position="grid_4"))
    assert "JO62" in coarse and "Two alders" in coarse
    for closer in ("JO62q", "QS-0042", "Reedshire", "34"):
        assert closer not in re.sub(r"<(link|script)[^>]*>", "", coarse), closer
    square = seen(shared(things, "site", position="grid_6"))
    assert "JO62qm" in square and "QS-0042" in square and "52.50" not in square
    assert "52.50830" in seen(shared(things, "site", position="exact"))


def test_nothing_is_shown_of_what_is_deleted_or_of_a_closed_account(things):
    pages = {kind: shared(things, kind) for kind in ("outing", "note", "kit")}
    owner = things["kit"].owner
    owner.switch(False)
    assert {Client().get(page.get_absolute_url()).status_code for page in pages.values()} == {410}
    owner.switch(True)
    assert {Client().get(page.get_absolute_url()).status_code for page in pages.values()} == {200}
    things["outing"].withdraw_whole(owner)
    things["note"].withdraw(owner)
    things["kit"].delete()
    assert {Client().get(page.get_absolute_url()).status_code for page in pages.values()} == {404, 410}


def test_what_is_shared_does_not_keep_its_thing_from_being_deleted(things, client_of):
    shared(things, "kit")
    client_of(things["kit"].owner).post(f"/gear/kits/{things['kit'].pk}/delete/")
    assert not SharedPage.objects.exists()


@pytest.mark.parametrize("kind", SharedPage.KINDS)
def test_only_its_owner_shares_and_withdraws(things, client_of, kind):
    page = shared(things, kind)
    stranger = client_of(making.an_operator("Q2DEF"))
    for path in (f"/sharing/{kind}/{things[kind].pk}/", f"/sharing/{page.pk}/withdraw/"):
        assert stranger.post(path, {"position": "exact"}).status_code == 404
        assert Client().post(path).status_code == 302
    assert stranger.get(f"/sharing/{kind}/{things[kind].pk}/").status_code == 404
    assert page.token not in stranger.get("/sharing/").content.decode()
    assert SharedPage.objects.open().count() == 1


def test_one_page_shows_one_thing_and_bad_choices_are_refused(things, client_of):
    client = client_of(things["site"].owner)
    assert client.post(f"/sharing/site/{things['site'].pk}/", {"position": "to the metre"}).status_code == 422
    assert client.get(f"/sharing/contact/{things['site'].pk}/").status_code == 404
    for wrong in ({}, {"site": things["site"], "kit": things["kit"]}):
        with pytest.raises(IntegrityError), transaction.atomic():
            SharedPage.objects.create(owner=things["site"].owner, **wrong)


def test_openings_are_counted_without_those_of_its_owner(things, client_of):
    page = shared(things, "kit")
    client_of(page.owner).get(page.get_absolute_url())
    Client().head(page.get_absolute_url())
    Client().get(page.get_absolute_url())
    page.refresh_from_db()
    assert page.opened == 1 and page.opened_at


def test_a_page_is_shown_though_the_disk_takes_no_count_of_it(things, monkeypatch):
    def refused(*args, **kwargs):
        raise DatabaseError("attempt to write a readonly database")

    page = shared(things, "kit")
    monkeypatch.setattr(models.QuerySet, "update", refused)
    assert "Little radio" in seen(page)


def test_the_list_takes_as_many_queries_for_many_pages_as_for_few(things, client_of, django_assert_max_num_queries):
    client = client_of(things["kit"].owner)
    for kind in SharedPage.KINDS:
        shared(things, kind)
    with django_assert_max_num_queries(20) as few:
        client.get("/sharing/")
    for kind in SharedPage.KINDS:
        shared(things, kind)
    with django_assert_max_num_queries(len(few.captured_queries)):
        client.get("/sharing/")
