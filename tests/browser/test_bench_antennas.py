"""The bench for antennas in a browser: answers while someone types, pictures, people nearby."""

import pytest

from tests import making
from tests.browsing import LAPTOP, PHONE, axe_serious, overflow_px, until

pytestmark = [pytest.mark.django_db(transaction=True), pytest.mark.anywhere]


def test_another_whip_is_answered_while_it_is_typed_and_its_tap_map_is_drawn(signed_in_page):
    owner = making.an_operator()
    coil = making.a_coil(making.an_antenna(owner))
    for band in ("40m", "20m", "15m"):
        making.a_coil_tap(coil, band, 1.5)
    page = signed_in_page(owner, f"/bench/other-whips/?coil={coil.pk}", viewport=PHONE)
    assert "Still needed" in page.inner_text("#answer")
    page.fill("#id_whip_m", "17 ft")
    until(page, "document.querySelector('#answer').innerText.includes('no coil needed')")
    until(page, "document.querySelector('#answer figure svg') !== null")
    assert "whip_m=17" in page.url
    page.fill("#id_whip_m", "")
    page.keyboard.type("5 ft")
    until(page, "document.querySelector('#answer').innerText.includes('the tap found for 40m lands here')")
    assert axe_serious(page) == []
    assert overflow_px(page) <= 0


@pytest.mark.parametrize("theme", ["dark", "red"])
def test_wires_and_people_are_readable_in_the_dark(signed_in_page, theme):
    owner = making.an_operator()
    making.an_arrangement(making.an_antenna(owner), element_length_m=20.2, feedpoint_height_m=7.0)
    page = signed_in_page(owner, "/bench/wires/", viewport=LAPTOP, theme=theme)
    until(page, "document.querySelector('#answer figure svg') !== null")
    assert axe_serious(page) == []
    page.goto("/bench/people/?watts=100&length_m=2.5&bands=40m&bands=10m")
    assert "not on the safe side" in page.inner_text("#answer")
    assert axe_serious(page) == []
    assert overflow_px(page) <= 0
