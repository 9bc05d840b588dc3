"""Sites, plans and checklists in a browser: with and without script, on phone and laptop, in every theme."""

import pytest

from outings.models import ChecklistLine, Outing, Site, StandingLine
from tests.browsing import PHONE, looks_wrong, until
from tests.making import a_kit, a_member, a_pack, a_radio, a_site, an_antenna, an_arrangement, an_operator, an_outing


def a_planned_outing(owner):
    """An outing with all that its pages can show."""
    site = a_site(owner, permission="Ask the warden before noon.", noise="A fence hums on 80m.")
    arrangement = an_arrangement(
        an_antenna(owner, "Whip"), "on the tripod", bands=("20m",), element_length_m=5.18, radials=4, radial_length_m=3
    )
    kit = a_kit(
        owner, items=[a_radio(owner, "Little radio", weight_kg=0.9), (a_pack(owner), 2)], arrangements=[arrangement]
    )
    return an_outing(
        site=site, start="2199-06-21 20:00", hours=6, kit=kit, bands=["20m", "17m"], goal_contacts=44,
        conditions="Quiet", solar_flux=142.5, k_index=2,
    )


@pytest.mark.parametrize("script", [True, False], ids=["with script", "without script"])
def test_from_a_site_to_a_ticked_checklist_on_a_phone(signed_in_page, script):
    owner = an_operator()
    a_kit(owner, items=[a_radio(owner, "Little radio")])
    page = signed_in_page(owner, "/sites/", viewport=PHONE, java_script_enabled=script)
    page.locator("#content").get_by_role("link", name="Add a site").first.click()
    page.get_by_label("Name").fill("Dune Edge")
    page.get_by_label("Coordinates (optional)").fill("north of the lake")
    page.get_by_label("Noise").fill("A fence hums.")
    page.get_by_role("button", name="Save the site").click()
    page.get_by_text("Examples:").first.wait_for()  # a position that cannot be read is refused
    assert page.get_by_label("Noise").input_value() == "A fence hums.", "what was typed is kept"
    page.get_by_label("Coordinates (optional)").fill("54° 06.0' N 8° 18.0' E")
    page.get_by_label("Programme 1").fill("Shorelines")
    page.get_by_label("Reference 1").fill("QS-0042")
    page.get_by_role("button", name="Save the site").click()
    page.get_by_role("heading", name="Dune Edge").wait_for()
    assert Site.objects.get().latitude_deg == pytest.approx(54.1)

    page.get_by_role("link", name="Plan an outing here").click()
    page.get_by_label("Call sign used on the air").fill("q1abc/p")
    page.get_by_label("Date", exact=True).fill("2199-06-21")
    page.get_by_label("From").fill("22:00")
    page.get_by_label("Until").fill("03:00")
    page.get_by_label("20m", exact=True).check()
    page.get_by_label("Kit").select_option(label="Shore kit")
    page.get_by_role("button", name="Save the plan").click()
    page.get_by_text("The plan is saved.").wait_for()
    outing = Outing.objects.get()
    assert (outing.station_call, outing.references[0]["reference"]) == ("Q1ABC/P", "QS-0042")
    page.get_by_text("No arrangement in this kit is set for 20m.").wait_for()
    page.get_by_text("The sun over the window, as a table").click()
    assert page.get_by_role("table", name="Height of the sun").is_visible()
    if script:
        page.locator("figure svg").first.wait_for()

    page.get_by_role("link", name="Make the checklist").click()
    page.get_by_role("button", name="Make the checklist").click()
    page.wait_for_load_state()  # else it is sent without script
    box = page.get_by_role("checkbox", name="Little radio")
    assert box.get_attribute("aria-checked") == "false"
    box.focus()
    page.keyboard.press("Enter")
    page.get_by_text("All 1 ticked.").wait_for()
    assert page.get_by_role("checkbox", name="Little radio").get_attribute("aria-checked") == "true"
    if script:
        until(page, "document.activeElement.id.startsWith('tick-')")  # the keyboard stays where it was
    assert ChecklistLine.objects.get().ticked_at
    page.get_by_label("Text").fill("Thermos")
    page.get_by_role("button", name="Add", exact=True).click()
    page.get_by_text("1 of 2 ticked.").wait_for()
    page.get_by_role("link", name="Change the order").click()
    page.wait_for_load_state()
    up = page.get_by_role("button", name="Up Thermos")
    up.focus()
    page.keyboard.press("Enter")
    page.locator("ul.checks li:first-child", has_text="Thermos").wait_for()
    if script:
        until(page, "document.activeElement.id.startsWith('up-')")
    page.get_by_role("link", name="Order is right").click()

    page.goto("/outings/standing-lines/")
    page.get_by_role("button", name="Begin with those lines").click()
    page.get_by_text("These are yours now").wait_for()
    page.goto(f"/outings/{outing.pk}/checklist/")
    page.get_by_role("button", name="Bring it up to date").click()
    page.get_by_text(f"1 of {2 + StandingLine.objects.count()} ticked.").wait_for()


@pytest.mark.anywhere
def test_pages_of_a_shared_and_of_a_deleted_outing_fit_every_screen_in_every_theme(signed_in_page):
    owner = an_operator()
    outing = a_planned_outing(owner)
    an_outing(site=outing.site, start="2199-03-01 10:00").withdraw(owner)
    StandingLine.objects.create(owner=owner, text="Water and something warm to drink, more than seems needed")
    for text in ("Little radio", "x" * 160):
        ChecklistLine(owner=owner, outing=outing, text=text, quantity=2).keep(owner)
    other = an_operator("Q2DEF", name="Kim Moor")
    a_member(outing, other)
    a_member(an_outing(other, start="2199-05-01 10:00"), owner, joined_at=None)
    page = signed_in_page(owner, "/sites/")
    here = f"/outings/{outing.pk}"
    for path in ("/outings/", "/outings/?show=deleted", f"{here}/", f"{here}/checklist/?order=1", f"{here}/members/"):
        page.goto(path)
        assert looks_wrong(page) == [], path


@pytest.mark.anywhere
def test_the_position_of_the_device_is_taken_where_the_browser_gives_it(signed_in_page):
    owner = an_operator(units="imperial")
    page = signed_in_page(
        owner, "/sites/new/", viewport=PHONE, permissions=["geolocation"],
        geolocation={"latitude": 52.5213, "longitude": 13.3702, "accuracy": 9},
    )
    page.get_by_label("Name").fill("Here")
    page.get_by_role("button", name="Use this device’s position").click()
    page.get_by_text("Position taken, good to 30 ft.").wait_for()
    page.get_by_role("button", name="Save the site").click()
    page.get_by_role("heading", name="Here", exact=True).wait_for()
    site = Site.objects.get()
    assert (site.latitude_deg, site.longitude_deg, site.position_from) == (52.5213, 13.3702, "phone")
    assert site.position_error_m == pytest.approx(30 * 0.3048)


@pytest.mark.anywhere
def test_a_position_that_the_device_refuses_is_told_and_can_be_typed(signed_in_page):
    page = signed_in_page(an_operator(), "/sites/new/", permissions=[])
    page.get_by_role("button", name="Use this device’s position").click()
    page.get_by_text("or type it.").last.wait_for()
    assert page.get_by_role("button", name="Use this device’s position").is_enabled()


@pytest.mark.anywhere
def test_without_script_no_button_is_dead(signed_in_page):
    page = signed_in_page(an_operator(), "/sites/new/", java_script_enabled=False)
    assert not page.get_by_role("button", name="Use this device’s position").is_visible()


@pytest.mark.anywhere
def test_lists_follow_the_search_while_it_is_typed_and_keep_their_order(signed_in_page):
    owner = an_operator()
    for name in ("Aspen Hill", "Birch Bay", "Birch Point"):
        an_outing(site=a_site(owner, name=name), start="2199-06-01 10:00")
    page = signed_in_page(owner, "/sites/?order=-name")
    page.get_by_label("Search").press_sequentially("birch")
    until(page, "location.search.includes('q=birch')")
    page.get_by_text("2 sites").wait_for()
    assert page.locator("tbody th").all_inner_texts() == ["Birch Point", "Birch Bay"]
    page.goto("/outings/")
    page.get_by_label("Search").press_sequentially("aspen")
    page.get_by_text("1 outing ahead").wait_for()
    page.reload()
    assert page.get_by_role("heading", name="Outings").is_visible(), "the address leads to the whole page"
