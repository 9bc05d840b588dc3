"""Gear in a browser: on a phone and a laptop, by keyboard, without script, in every theme."""

import datetime
import io

import pytest
from PIL import Image

from equipment.models import Arrangement, Kit, Radio
from tests import making
from tests.browsing import PHONE, axe_serious, looks_wrong, until


def much_gear(owner):
    """Everything that the pages of the gear can show, with some long words."""
    radio = making.a_radio(
        owner, "Blue box", maker="Hilltop Radio", model="HR-5", serial="00417", weight_kg=0.31, modes=["CW", "OLIVIA"],
        acquired_on=datetime.date(2025, 3, 2), notes="Fan is noisy.",
    )
    making.a_power_setting(radio, "low", 0.5, transmit_a=0.31, measured_on=datetime.date(2026, 4, 1))
    wire = making.an_arrangement(
        making.an_antenna(owner, weight_kg=0.42), "sloping from the tallest mast that could be carried there",
        element_length_m=12.5, counterpoise_m=5, feedpoint_height_m=1.2, orientation="sloping", azimuth_deg=225,
        coil="air coil", tap="3", transformer="49:1", bands=["40m"],
    )
    making.a_band_setting(wire, "20m", element_length_m=10.1, tuner=True, note="fold the end back")
    pack = making.a_pack(owner, measured_ah=5.6, resistance_ohm=0.045)
    making.a_reading(pack, doing="transmitting", current_a=1.1, note="at high power")
    making.a_feedline(owner, line_type="RG-316", length_m=7.5)
    kit = making.a_kit(owner, items=[radio, (pack, 2)], arrangements=[wire])
    return radio, wire, pack, kit


@pytest.mark.anywhere
def test_pages_of_few_and_of_much_gear_fit_every_screen_in_every_theme(signed_in_page):
    owner = making.an_operator(units="imperial")
    radio, wire, pack, kit = much_gear(owner)
    page = signed_in_page(owner, "/gear/")
    for path in (
        "/gear/?q=absent", f"/gear/{radio.pk}/edit/", f"/gear/arrangements/{wire.pk}/edit/", f"/gear/{pack.pk}/",
        f"/gear/kits/{kit.pk}/edit/",
    ):
        page.goto(path)
        assert looks_wrong(page) == [], path


@pytest.mark.anywhere
def test_the_list_is_searched_as_one_types_and_walked_by_keyboard(signed_in_page):
    owner = making.an_operator()
    for number in range(12):
        making.an_accessory(owner, f"Clamp {number:02d}")
    making.a_radio(owner, "Blue box", notes="noisy fan")
    making.a_radio(owner, "Clamp radio")
    page = signed_in_page(owner, "/gear/")
    page.keyboard.press("/")
    page.keyboard.type("clamp 0")
    page.get_by_text("11 pieces").wait_for()
    assert "q=clamp" in page.url
    page.keyboard.press("ArrowDown")
    page.keyboard.press("ArrowDown")
    assert page.locator(":focus").inner_text() == "Clamp 01"
    page.keyboard.press("ArrowUp")
    page.keyboard.press("ArrowUp")
    assert page.locator(":focus").get_attribute("name") == "q"
    page.get_by_label("Search").fill("/")
    assert page.get_by_label("Search").input_value() == "/", "a stroke can be searched for"
    page.get_by_text("Nothing fits").wait_for()
    page.get_by_label("Search").fill("clamp")
    page.get_by_label("Kind").select_option("radio")
    page.get_by_text("1 piece", exact=True).wait_for()
    page.reload()
    assert page.get_by_label("Search").input_value() == "clamp", "the address holds all of it"
    page.keyboard.press("/")
    page.keyboard.press("ArrowDown")
    page.keyboard.press("Enter")
    page.get_by_role("heading", name="Clamp radio").wait_for()
    page.go_back()
    page.get_by_label("Search").wait_for()
    assert "q=clamp" in page.url
    assert page.locator("[data-row]").count() == 1


@pytest.mark.parametrize("script", [True, False], ids=["with script", "without script"])
def test_a_radio_with_five_settings_is_typed_on_a_phone(signed_in_page, script):
    owner = making.an_operator()
    page = signed_in_page(owner, "/gear/new/radio/", viewport=PHONE, java_script_enabled=script)
    page.get_by_label("Name", exact=True).fill("Blue box")
    page.get_by_label("Weight in kg").fill("0,31")
    page.get_by_label("CW").check()
    for number in range(5):
        if page.get_by_label("Setting", exact=True).count() <= number:
            page.locator("button[name=more]").click()
        page.get_by_label("Setting", exact=True).nth(number).fill(f"step {number}")
        page.get_by_label("Output in W").nth(number).fill(str(number + 1))
    page.get_by_label("Output in W").nth(4).fill("loud")
    page.get_by_label("Output in W").nth(4).press("Enter")
    page.get_by_text("“loud” is not a power").first.wait_for()
    assert page.get_by_label("Weight in kg").input_value() == "0,31", "what was typed is kept as it was typed"
    if script:
        assert page.locator(":focus").get_attribute("class") == "error-summary"
        assert axe_serious(page) == []
    page.get_by_label("Output in W").nth(4).fill("500 mW")
    page.get_by_role("button", name="Save").last.click()
    page.get_by_text("Blue box is kept.").wait_for()
    radio = Radio.objects.get()
    assert (radio.weight_kg, radio.modes, radio.power_settings.count()) == (0.31, ["CW"], 5)
    page.get_by_role("link", name="Edit", exact=True).click()
    page.get_by_label("Remove").first.check()
    page.get_by_role("button", name="Save").last.click()
    page.get_by_text("Blue box is saved.").wait_for()
    assert radio.power_settings.count() == 4


def test_from_an_antenna_to_a_kit_with_a_picture_on_the_way(signed_in_page):
    owner = making.an_operator(units="imperial")
    radio = making.a_radio(owner, weight_kg=0.45359237)
    page = signed_in_page(owner, "/gear/new/antenna/")
    page.get_by_label("Name", exact=True).fill("Whip")
    page.get_by_label("Name", exact=True).press("Enter")
    page.get_by_role("link", name="Add an arrangement").click()
    page.get_by_label("Name", exact=True).fill("on the tripod")
    page.get_by_label("Element length in ft").fill("16' 5\"")
    page.get_by_label("Band", exact=True).first.select_option("20m")
    page.get_by_label("Needs the tuner").first.check()
    page.get_by_role("button", name="Save").last.click()
    page.get_by_text("on the tripod is kept.").wait_for()
    page.get_by_text("16\u00a0ft 5\u00a0in").first.wait_for()
    assert Arrangement.objects.get().element_length_m == 5.0038
    page.get_by_role("button", name="Copy").click()
    assert page.get_by_label("Name", exact=True).input_value() == "on the tripod (copy)"
    assert page.get_by_label("Band", exact=True).first.input_value() == "20m"
    page.goto("/gear/kits/new/")
    page.get_by_label("Name", exact=True).fill("Hill kit")
    page.get_by_label("Item", exact=True).first.select_option(label="Little radio")
    page.get_by_label("on the tripod", exact=True).check()
    page.get_by_role("button", name="Save").last.click()
    page.get_by_text("Hill kit is kept.").wait_for()
    page.get_by_role("row", name="1 of 2 not weighed").wait_for()
    assert Kit.objects.get().lines.count() == 2
    out = io.BytesIO()
    Image.new("RGB", (60, 40), "teal").save(out, "PNG")
    page.goto(f"/gear/{radio.pk}/picture/")
    page.get_by_label("Picture").set_input_files({"name": "a.png", "mimeType": "image/png", "buffer": out.getvalue()})
    page.get_by_role("button", name="Keep this picture").click()
    page.get_by_text("is kept.").wait_for()
    picture = page.get_by_role("img", name="Little radio")
    picture.scroll_into_view_if_needed()
    until(page, "image => image.complete && image.naturalWidth === 60", picture.element_handle())
    page.get_by_role("link", name="Delete").click()
    page.get_by_text("1 place in a kit").wait_for()
    page.get_by_role("button", name="Retire it").click()
    page.get_by_text("Little radio is retired.").wait_for()
    assert Radio.objects.get().is_retired
