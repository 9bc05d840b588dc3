"""Pages for others in a browser: made, read without an account in every light, withdrawn."""

import pytest

from outings.models import SharedPage
from tests import making
from tests.browsing import PHONE, axe_serious, looks_wrong, overflow_px

pytestmark = pytest.mark.django_db(transaction=True)


def test_a_site_is_shared_read_by_a_visitor_and_withdrawn(signed_in_page):
    site = making.a_site(supports="Two alders")
    page = signed_in_page(site.owner, site.get_absolute_url())
    page.get_by_role("link", name="Share").click()
    page.get_by_role("button", name="Make an address").click()
    address = page.get_by_role("link", name="/shared/").get_attribute("href")
    visitor = signed_in_page(None, address)
    assert visitor.get_by_text("Two alders").is_visible() and visitor.get_by_text("JO62", exact=True).first.is_visible()
    page.get_by_role("button", name="Withdraw").click()
    page.get_by_text("leads nowhere any more").wait_for()
    visitor.reload()
    assert visitor.get_by_role("heading", name="Nothing is shared here").is_visible()
    assert axe_serious(visitor) == []


@pytest.mark.anywhere
def test_what_is_shared_can_be_read_in_every_light(signed_in_page):
    outing = making.an_outing()
    owner = outing.owner
    arrangements = [making.an_arrangement(making.an_antenna(owner, name), bands=("20m",)) for name in ("Wire", "Whip")]
    for hour, arrangement in enumerate(arrangements, 13):
        stint = making.a_stint(outing, start=f"2026-05-01 {hour}:00", minutes=50, arrangement=arrangement)
        for minute in range(10):
            making.a_contact(outing, stint=stint, call=f"Q{hour}X{minute}", at=f"2026-05-01 {hour}:{minute + 5:02d}",
                             their_grid="IO91wm")
    kit = making.a_kit(owner, arrangements=arrangements)
    pages = [
        making.a_shared_page(kind, thing, with_notes=True) for kind, thing in (
            ("outing", outing), ("arrangement", arrangements[0]), ("kit", kit), ("site", outing.site),
            ("note", making.a_note(owner)),
        )
    ]
    assert {page.kind for page in pages} <= SharedPage.KINDS.keys()
    page = signed_in_page(None, pages[0].get_absolute_url(), viewport=PHONE, reduced_motion="reduce")
    for shared in pages:
        page.goto(shared.get_absolute_url())
        assert looks_wrong(page) == [], shared.kind
    own = signed_in_page(owner, "/sharing/", viewport=PHONE)
    assert axe_serious(own) == [] and overflow_px(own) <= 0
    own.goto(f"/sharing/site/{outing.site.pk}/")
    assert axe_serious(own) == [] and overflow_px(own) <= 0
