"""Contacts that are placed by their state or country, in a browser: wanted, then shown apart in every light."""

import pytest

from tests.browsing import looks_wrong
from tests.making import a_contact, a_stint, an_operator, an_outing

pytestmark = pytest.mark.django_db(transaction=True)


@pytest.mark.anywhere
def test_what_is_placed_approximately_fits_every_screen_in_every_theme(signed_in_page):
    operator = an_operator()
    outing = an_outing(operator)
    stint = a_stint(outing)
    a_contact(stint=stint, call="Q1A", their_grid="JN58")
    contact = a_contact(stint=stint, call="Q2B", dxcc=291, state="NC")
    a_contact(stint=stint, call="Q3C", country="DEMOCRATIC PEOPLE'S REP. OF KOREA")
    page = signed_in_page(operator, "/account/")
    page.get_by_label("Place contacts without a grid by their state or country").check()
    page.get_by_role("button", name="Save preferences").click()
    operator.refresh_from_db()
    assert operator.place_by_area
    report = f"/outings/{outing.pk}/report/"
    for path in (report, "/performance/", contact.get_absolute_url()):
        page.goto(path)
        assert looks_wrong(page) == [], path
    page.goto(report)
    dots = page.locator("[data-picture=map] [aria-label=dot] circle")
    dots.first.wait_for()
    hollow = dots.evaluate_all("all => all.filter(e => getComputedStyle(e).fill === 'none').length")
    assert (hollow, dots.count()) == (2, 3)
