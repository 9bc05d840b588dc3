"""The performance page in a browser: pictures beside tables, every size and theme, by form alone without script."""

import random

import pytest
from playwright.sync_api import expect

from outings.evidence import rates
from outings.models import Contact
from tests.browsing import axe_serious, looks_wrong, overflow_px
from tests.making import a_contact, a_stint, an_antenna, an_arrangement, an_operator, an_outing

pytestmark = pytest.mark.django_db(transaction=True)


def a_season(operator):
    """Two arrangements with distances, one stint inferred, one without a contact."""
    rates.rate(1, 1.0)  # loads scipy, which is not what a page is waited for here
    outing, numbers = an_outing(operator), random.Random(6)
    wire = an_antenna(operator, "Long wire over the old reservoir wall")
    for hour, name in enumerate(("sloping from the eleven metre mast", "flat")):
        stint = a_stint(
            outing, arrangement=an_arrangement(wire, name), start=f"2026-05-01 1{hour}:00", band=("20m", "40m")[hour],
            inferred=bool(hour),
        )
        for letter in "ABCDEFGH":
            contact = a_contact(stint=stint, call=f"Q{hour}A{letter}", band=stint.band, their_grid="JN48")
            Contact.objects.filter(pk=contact.pk).update(
                distance_km=numbers.uniform(300, 6000), distance_error_km=40, bearing_deg=numbers.uniform(0, 360)
            )
    a_stint(outing, start="2026-05-01 15:00", band="15m")


@pytest.mark.anywhere
def test_the_page_fits_every_screen_in_every_theme_and_draws_its_pictures(signed_in_page):
    operator = an_operator()
    a_season(operator)
    page = signed_in_page(operator, "/performance/")
    for kind in ("rates", "distances", "map"):
        page.wait_for_selector(f"figure[data-picture={kind}] svg")
    assert looks_wrong(page) == []
    for path in ("/performance/contacts/", "/performance/stints/"):
        page.goto(path)
        assert overflow_px(page) <= 0 and axe_serious(page) == [], path
    page.emulate_media(media="print")
    page.goto("/performance/")
    page.locator("figure[data-picture=rates] svg").first.wait_for()


@pytest.mark.anywhere
def test_a_figure_opens_to_its_contacts_without_script(signed_in_page):
    operator = an_operator()
    a_season(operator)
    page = signed_in_page(operator, "/performance/", java_script_enabled=False)
    page.select_option("select[name=by]", "band")
    page.select_option("select[name=family]", "phone")
    page.click("form.filters button")
    expect(page.locator("#rates tbody tr")).to_have_count(3)
    page.click("#rates tbody tr:has-text('40m') td[data-label=Contacts] a")
    expect(page.locator("tbody tr")).to_have_count(8)
    assert "40m; voice." in page.inner_text(".lead")
    page.click("text=Farthest first")
    assert "Contacts, farthest first" in page.inner_text("caption")
    page.click("p.above a")
    assert page.input_value("select[name=by]") == "band" and page.input_value("select[name=family]") == "phone"
