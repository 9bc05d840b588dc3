"""The page that judges gear in a browser: picture beside table, every size and theme, by form alone without script."""

import datetime

import pytest
from playwright.sync_api import expect

from equipment.models import Antenna
from outings.evidence.comparison import Observation, compare
from outings.models import Contact
from tests.browsing import axe_serious, looks_wrong, overflow_px
from tests.making import a_stint, an_antenna, an_arrangement, an_operator, an_outing

pytestmark = pytest.mark.django_db(transaction=True)

WAYS = {"Long wire over the old reservoir wall": 9, "Whip": 20, "Loop": 0, "Dipole": 12}


def a_season(operator):
    """Four arrangements in turns on four outings, one of them without a contact; and one never used with the rest."""
    compare([Observation(name, 5, 1.0, ("o", "b", "m", 0)) for name in "ab"])  # loads scipy
    ways = [an_arrangement(an_antenna(operator, name), "sloping from the eleven metre mast") for name in WAYS]
    contacts = []
    for day in range(1, 5):
        outing = an_outing(operator, start=f"2026-05-{day:02} 12:00")
        for number, (way, count) in enumerate(zip(ways, WAYS.values(), strict=True)):
            start = f"2026-05-{day:02} {12 + number}:00"
            band = ("20m", "40m")[(day + number) % 2]
            stint = a_stint(outing, arrangement=way, start=start, minutes=40, band=band, inferred=day == 4)
            contacts += [
                Contact(
                    owner=operator, outing=outing, stint=stint, call=f"Q{n}AB", band=band, mode="SSB",
                    station_call="Q1ABC/P", started_at=stint.started_at + datetime.timedelta(minutes=n),
                ) for n in range(count)
            ]
    Contact.objects.bulk_create(contacts)
    alone = an_arrangement(an_antenna(operator, "Kite"), "up")
    a_stint(an_outing(operator, start="2026-06-01 12:00"), arrangement=alone, start="2026-06-01 12:00")


@pytest.mark.anywhere
def test_the_page_fits_every_screen_in_every_theme_and_draws_its_picture(signed_in_page):
    operator = an_operator()
    a_season(operator)
    page = signed_in_page(operator, "/evidence/")
    page.wait_for_selector("figure[data-picture=effects] svg")
    page.locator("details.more").evaluate_all("all => all.forEach(one => one.open = true)")
    assert looks_wrong(page) == []
    assert "NaN" not in page.locator("figure[data-picture=effects] .canvas").inner_html()
    assert page.locator("figure[data-picture=effects] text:text('cannot be told apart')").count() == 1
    page.goto("/evidence/?by=radio")
    assert overflow_px(page) <= 0 and axe_serious(page) == []


@pytest.mark.anywhere
def test_a_story_fits_every_screen_in_every_theme(signed_in_page):
    operator = an_operator()
    a_season(operator)
    whip = Antenna.objects.get(name="Whip")
    page = signed_in_page(operator, f"/gear/{whip.pk}/")
    page.click("text=What it did on the air")
    page.wait_for_selector("figure[data-picture=rates] svg")
    assert looks_wrong(page) == []
    assert page.locator("#verdicts tbody tr").count() == 3 and page.locator("#outings li").count() == 4


@pytest.mark.anywhere
def test_a_question_is_asked_and_its_figures_are_opened_without_script(signed_in_page):
    operator = an_operator()
    a_season(operator)
    page = signed_in_page(operator, "/evidence/", java_script_enabled=False)
    assert page.locator(".verdict").is_visible()
    page.select_option("select[name=by]", "antenna")
    page.select_option("select[name=band]", "20m")
    page.click("summary:has-text('More to filter by')")
    page.check("input[name=hold][value=power]")
    page.click("form.filters button")
    assert "by=antenna" in page.url and "hold=power" in page.url
    expect(page.locator("#figures tbody tr")).to_have_count(5)
    page.click("#figures tbody tr:has-text('Whip') td[data-label=Contacts] a")
    expect(page.locator("tbody tr")).to_have_count(40)
    assert "Whip; 20m." in page.inner_text(".lead")
