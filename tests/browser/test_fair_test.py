"""A fair test: run on the phone without a network, its switches told, set-up apart; planned on the laptop."""

import pytest
from playwright.sync_api import expect

from outings.models import Stint, SwitchingPlan
from tests import browsing, making
from tests.browser.test_field import go_on_air, hand_in, kept, opened, says

pytestmark = pytest.mark.django_db(transaction=True)


@pytest.fixture
def outing():
    operator = making.an_operator()
    making.a_power_setting(making.a_radio(operator))
    making.a_pack(operator)
    return making.an_outing(operator, start=making.tomorrow())


def test_a_fair_test_runs_on_the_phone_without_a_network(signed_in_page, outing):
    plan = making.a_fair_test(outing, block_min=0.05, change_min=0)
    first, second = plan.blocks.all()[:2]
    page = opened(signed_in_page, outing)
    kept(page)
    go_on_air(page)
    says(page, "#fair-test", "Ready. First: Wire antenna: upright, block 1 of")
    assert browsing.axe_serious(page) == []
    page.context.set_offline(True)
    page.click("text=It is up: on the air")
    says(page, "#fair-test", "upright is on the air")
    says(page, "#on-air", "upright")
    says(page, "#fair-test", "Time is over: switch to Wire antenna: sloping")
    page.click("text=Off the air, to switch")
    says(page, "#fair-test", "Set-up since")
    page.reload()
    page.wait_for_selector("#day:not([hidden])")
    says(page, "#fair-test", "Off the air. Next: Wire antenna: sloping")
    page.click("text=It is up: on the air")
    says(page, "#fair-test", "block 2 of")
    page.click("#pause")
    says(page, "#fair-time", "Paused")
    page.click("#pause")
    page.click("text=Switched: Wire antenna: sloping")  # ABBA: once more the same
    says(page, "#fair-test", "block 3 of")
    page.click("text=Off the air, to switch")
    page.click("text=Leave this block out")
    page.context.set_offline(False)
    hand_in(page)
    stints = {stint.block_id: stint for stint in Stint.objects.filter(block__isnull=False)}
    assert set(stints) == {block.pk for block in plan.blocks.all()[:3]}
    assert stints[first.pk].on_air_s >= 2  # three seconds, begun and ended to the second
    assert stints[second.pk].setup_min is not None
    assert stints[second.pk].band == "20m"
    assert stints[second.pk].arrangement == second.arrangement
    assert browsing.overflow_px(page) == 0


def test_a_fair_test_is_planned_on_the_laptop(signed_in_page, outing):
    antenna = making.an_antenna(outing.owner)
    for name in ("upright", "sloping"):
        making.an_arrangement(antenna, name)
    page = signed_in_page(outing.owner, f"/outings/{outing.pk}/fair-test/")
    for name in ("upright", "sloping"):
        page.check(f"text=Wire antenna: {name}")
    page.fill("[name=minutes]", "90")
    page.fill("[name=block_min]", "10")
    page.fill("[name=change_min]", "1")
    page.click("text=Show what it could tell")
    expect(page.locator("#outlook")).to_contain_text("This will not show a difference of 20")
    assert browsing.axe_serious(page) == []
    page.click("text=Make this test")
    expect(page.locator("#fair-test")).to_contain_text("Ready to begin with block 1 of 8")
    assert browsing.overflow_px(page) == 0
    assert SwitchingPlan.objects.get().blocks.count() == 8
