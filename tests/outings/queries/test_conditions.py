"""Conditions of a contact on its page."""

import pytest
from django.urls import reverse

from outings.queries import conditions
from tests.making import a_contact, a_site, an_operator, an_outing

pytestmark = pytest.mark.django_db


@pytest.fixture
def contact():
    operator = an_operator()
    outing = an_outing(operator, site=a_site(operator), solar_flux=132.0, k_index=3.0)
    return a_contact(outing, their_grid="FN31")


def test_a_contact_has_the_sun_at_both_ends_and_the_indices_of_its_outing(contact):
    found = conditions.of_contact(contact)
    assert found.at.there is not None
    assert (found.solar_activity, found.geomagnetic) == ("middle", "unsettled")


def test_the_page_shows_them(contact, client_of):
    page = client_of(contact.owner).get(reverse("outings:contact", args=[contact.pk])).content.decode()
    assert "Conditions" in page
    assert "132, middle" in page
    assert "not known without a position" not in page


def test_without_a_position_the_page_says_so(contact, client_of):
    contact.their_grid = ""
    contact.keep(contact.owner)
    page = client_of(contact.owner).get(reverse("outings:contact", args=[contact.pk])).content.decode()
    assert page.count("not known without a position") == 2  # the distance and the sun there
