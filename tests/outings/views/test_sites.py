"""Pages of sites, and what they refuse."""

import re

import pytest
from django.test import Client
from django.urls import reverse

from outings.models import Site
from tests.making import a_site, an_operator, an_outing

pytestmark = pytest.mark.django_db
GOOD = {"name": "Dune Edge", "coordinates": "54.1, 8.3", "typed_in": "metric"}


@pytest.fixture
def owner():
    return an_operator()


@pytest.fixture
def client(client_of, owner):
    return client_of(owner)


def address(name, *args):
    return reverse(f"outings:{name}", args=args)


def test_a_site_is_made_and_shown_with_grid_coordinates_and_zone(client):
    answer = client.post(address("site_new"), GOOD, follow=True)
    site = Site.objects.get()
    assert answer.redirect_chain[-1][0] == site.get_absolute_url()
    text = answer.content.decode()
    for part in (site.grid_6, site.grid_8, "54.10000, 8.30000", "54° 06.000′ N 8° 18.000′ E", site.time_zone):
        assert part in text


def test_a_site_from_a_grid_square_shows_its_uncertainty(client, owner):
    client.post(address("site_new"), {"name": "Somewhere", "grid_square": "JO62", "typed_in": "metric"})
    text = client.get(Site.objects.get().get_absolute_url()).content.decode()
    # Source: by the WGS84 radii of curvature, a four-character square has a half-diagonal of 96.2 km at 45° and 78.6 km
    # at 60°; at 52.5° it lies between.
    found = re.search(r"good to (\d+)", text)
    assert 79 < int(found[1]) < 96
    assert "km: the centre of the square" in text.replace("\u00a0", " ")


def test_a_refused_form_keeps_what_was_typed(client):
    answer = client.post(address("site_new"), {**GOOD, "coordinates": "north of the lake", "noise": "a fence hums"})
    assert answer.status_code == 422
    text = answer.content.decode()
    assert "north of the lake" in text
    assert "a fence hums" in text
    assert not Site.objects.exists()


def test_a_copy_begins_as_the_other_and_is_another(client, owner):
    site = a_site(owner, notes="mind the gulls")
    text = client.get(address("site_copy", site.pk)).content.decode()
    assert "Reed Point (copy)" in text
    assert "mind the gulls" in text
    client.post(address("site_copy", site.pk), GOOD)
    assert set(Site.objects.values_list("name", flat=True)) == {"Reed Point", "Dune Edge"}


def test_retiring_takes_a_site_out_of_the_list_and_back(client, owner):
    site = a_site(owner)
    client.post(address("site_retire", site.pk), follow=True)
    assert "Reed Point" not in client.get(address("site_list") + "?q=Reed").content.decode()
    assert "Reed Point" in client.get(address("site_list") + "?state=retired").content.decode()
    client.post(address("site_retire", site.pk), follow=True)
    assert "Reed Point" in client.get(address("site_list")).content.decode()


def test_a_site_is_deleted_only_if_no_outing_refers_to_it(client, owner):
    lone, used = a_site(owner, name="Lone"), a_site(owner, name="Used")
    an_outing(site=used)
    assert "Delete Lone?" in client.get(address("site_delete", lone.pk)).content.decode()
    assert Site.objects.filter(name="Lone").exists()
    client.post(address("site_delete", lone.pk))
    client.post(address("site_delete", used.pk))
    assert list(Site.objects.values_list("name", flat=True)) == ["Used"]


@pytest.mark.parametrize("order", ["name", "-name", "grid", "-grid", "last", "-last", "outings", "-outings", "no"])
def test_the_list_is_sorted_each_way(client, owner, order):
    a_site(owner, name="Aspen Hill", grid="AA00aa")
    an_outing(site=a_site(owner, name="Zinc Bay", grid="RR99xx"))
    text = client.get(address("site_list"), {"order": order}).content.decode()
    first = "Zinc Bay" if order in ("-name", "-grid", "-outings", "-last") else "Aspen Hill"
    assert text.index(first) == min(text.index("Aspen Hill"), text.index("Zinc Bay"))


def test_the_list_is_searched_by_name_grid_and_reference(client, owner):
    a_site(owner, name="Aspen Hill", grid="JO31aa", references=[{"programme": "Hills", "reference": "QH-7"}])
    a_site(owner, name="Zinc Bay", references=[])
    for text in ("aspen", "jo31", "QH-7"):
        page = client.get(address("site_list"), {"q": text}).content.decode()
        assert "Aspen Hill" in page
        assert "Zinc Bay" not in page


def test_a_fragment_is_given_to_htmx_and_never_mistaken_for_the_page(client, owner):
    a_site(owner)
    answer = client.get(address("site_list"), headers={"HX-Request": "true"})
    assert "<html" not in answer.content.decode()
    assert "HX-Request" in answer["Vary"]


def test_an_empty_list_says_what_to_do(client):
    assert "No sites yet" in client.get(address("site_list")).content.decode()


ONE = ["site", "site_edit", "site_copy", "site_delete", "site_retire"]


@pytest.mark.parametrize("name", ONE)
@pytest.mark.parametrize("method", ["get", "post"])
def test_a_site_of_another_operator_is_not_there(client_of, owner, name, method):
    site = a_site(owner)
    before = Site.objects.filter(pk=site.pk).values().get()
    answer = getattr(client_of(an_operator("Q2DEF")), method)(address(name, site.pk), GOOD)
    assert answer.status_code in (404, 405)
    assert Site.objects.filter(pk=site.pk).values().get() == before


@pytest.mark.parametrize("name", [*ONE, "site_list", "site_new"])
def test_a_visitor_is_sent_to_the_login(client_of, owner, name):
    site = a_site(owner)
    for method in ("get", "post"):
        answer = getattr(Client(), method)(address(name, *([site.pk] if name in ONE else [])), GOOD)
        assert answer.status_code == 302
        assert answer.url.startswith(reverse("login"))
    assert Site.objects.count() == 1


def test_markup_in_a_name_is_shown_as_text(client, owner):
    site = a_site(owner, name="<b>Bold</b>")
    assert "<b>Bold" not in client.get(site.get_absolute_url()).content.decode()
