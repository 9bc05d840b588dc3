"""The pictures in a browser: drawn from the page's data, in every theme, under the Content-Security-Policy."""

import re

import pytest
from playwright.sync_api import expect

from tests.browser.specimen import PICTURES
from tests.browsing import SCREENS, THEMES, axe_serious, overflow_px
from tests.making import an_operator

pytestmark = [pytest.mark.django_db(transaction=True), pytest.mark.urls("tests.browser.specimen"), pytest.mark.anywhere]


def drawn(page):
    expect(page.locator(".canvas > :first-child")).to_have_count(len(PICTURES))
    return page


# Each drawing is as wide as its frame, the panels of a timeline too; what is square is no wider than so many letters.
FITTING = """() => {
    const em = parseFloat(getComputedStyle(document.documentElement).fontSize) * 0.85;
    const most = { map: 46 * em, rose: 26 * em };
    return [...document.querySelectorAll(".canvas")].every(canvas => {
        const room = Math.min(canvas.clientWidth, most[canvas.parentNode.dataset.picture] ?? Infinity);
        const drawings = [...canvas.querySelectorAll("svg")].filter(svg => !svg.parentNode.closest("svg"));
        return drawings.length && drawings.every(svg => Math.abs(svg.getAttribute("width") - room) < 0.01);
    });
}"""


def all_fit(page):
    """Whether all drawings come to fit; asked from outside, as the page's policy rules out waiting inside."""
    for _ in range(50):
        if page.evaluate(FITTING):
            return True
        page.wait_for_timeout(100)
    return False


def test_every_picture_is_drawn_and_has_its_label(signed_in_page):
    page = drawn(signed_in_page(an_operator(), "/specimen/pictures/"))
    for kind in PICTURES:
        canvas = page.locator(f"[data-picture={kind}] .canvas")
        assert canvas.get_attribute("role") == "img"
        assert canvas.get_attribute("aria-label") == f"Specimen of {kind}."
        assert "NaN" not in canvas.inner_html()
    assert axe_serious(page) == []


def test_decimals_along_the_axes_stand_after_the_sign_that_the_operator_prefers(signed_in_page):
    for sign, other in (",.", ".,"):
        page = drawn(signed_in_page(an_operator(f"Q{ord(sign)}AB", decimal_sign=sign), "/specimen/pictures/"))
        ticks = " ".join(page.locator('[aria-label$="axis tick label"] text').all_text_contents())
        assert re.search(rf"[0-9]\{sign}[0-9]", ticks)
        assert sign == "." or not re.search(rf"[0-9]\{other}[0-9]", ticks)


def test_dots_stand_where_the_figures_say(signed_in_page):
    page = drawn(signed_in_page(an_operator(), "/specimen/pictures/"))
    place = "(e => { const box = e.getBoundingClientRect(); return [box.x + box.width / 2, box.y + box.height / 2]; })"
    rates = page.locator("[data-picture=rates]")
    dots = rates.locator("[aria-label=dot] circle").evaluate_all(f"all => all.map({place})")
    assert len(dots) == 2  # the third has no on-air time
    assert rates.get_by_text("no on-air time").count() == 1
    ticks = rates.locator("[aria-label='x-axis tick label'] text").evaluate_all(
        f"all => all.map(e => [Number(e.textContent), {place}(e)[0]])"
    )
    (low, left), (high, right) = ticks[0], ticks[-1]
    for (x, _), row in zip(dots, PICTURES["rates"]["rows"], strict=False):
        assert low + (x - left) / (right - left) * (high - low) == pytest.approx(row["value"], abs=0.15)
    assert dots[0][1] < dots[1][1]  # in the order of the rows

    contacts = page.locator("[data-picture=map] [aria-label=dot] circle")
    hollow = contacts.evaluate_all("all => all.filter(e => getComputedStyle(e).fill === 'none').length")
    assert hollow == len(PICTURES["map"]["around"])
    assert contacts.count() - hollow == len(PICTURES["map"]["contacts"])
    assert page.locator("[data-picture=map]").get_by_text("2,000 km").count() == 1
    light = page.locator("[data-picture=light]")
    assert light.get_by_text("06:00", exact=True).count() == 1  # UTC below
    assert light.get_by_text("08:00", exact=True).count() == 1  # and Berlin's summer time above


def test_stints_lie_over_their_hours_and_apart_where_two_are_on_the_air(signed_in_page):
    page = drawn(signed_in_page(an_operator(), "/specimen/pictures/"))
    box = "all => all.map(e => { const {left, right, top} = e.getBoundingClientRect(); return [left, right, top]; })"
    bars = page.locator("[data-picture=timeline] svg").first.locator("[aria-label=rect] rect").evaluate_all(box)
    assert len(bars) == 3  # a stint with a pause is two
    (left, right, row), (_, _, same_row), (_, late, other_row) = sorted(bars)
    assert row == same_row and other_row > row
    minutes = (late - left) / (right - left) * 40  # from the first, which lasted 40, to 06:50
    assert minutes == pytest.approx(170, abs=1)


def test_the_areas_of_a_rose_stand_for_numbers(signed_in_page):
    page = drawn(signed_in_page(an_operator(), "/specimen/pictures/"))
    areas = page.locator("[data-picture=rose] path").evaluate_all(
        """all => all.map(path => {
            const far = [...Array(50).keys()].map(i => path.getPointAtLength(path.getTotalLength() * i / 50));
            return Math.max(...far.map(({x, y}) => x * x + y * y));
        })"""
    )
    values = [row["value"] for row in PICTURES["rose"]["rows"]]
    for area, value in zip(areas, values, strict=True):
        assert area / max(areas) == pytest.approx(value / max(values), abs=0.02)


def test_adjusted_figures_stand_where_they_say_on_a_logarithmic_axis(signed_in_page):
    page = drawn(signed_in_page(an_operator(), "/specimen/pictures/"))
    effects = page.locator("[data-picture=effects]")
    centre = "all => all.map(e => { const box = e.getBoundingClientRect(); return box.x + box.width / 2; })"
    words = effects.locator("[aria-label='x-axis tick label'] text").evaluate_all("all => all.map(e => e.textContent)")
    places = effects.locator("[aria-label='x-axis tick label'] text").evaluate_all(centre)
    ticks = {float(word.removeprefix("× ")): place for word, place in zip(words, places, strict=True)}
    (low, left), (high, right) = min(ticks.items()), max(ticks.items())

    def value_at(x):
        return low * (high / low) ** ((x - left) / (right - left))

    dots = effects.locator("[aria-label=dot] circle[r='6.5'], [aria-label=dot] path[d]").evaluate_all(centre)
    assert any(value_at(x) == pytest.approx(1.7, rel=0.05) for x in dots)
    assert any(value_at(x) == pytest.approx(1, rel=0.05) for x in dots)  # the reference
    assert effects.locator("[aria-label=link] path").count() == 3  # the ratio, the zero, the one without an upper end
    assert effects.get_by_text("cannot be told apart").count() == 1


def test_pictures_fit_and_follow_the_window_and_the_theme(signed_in_page):
    page = drawn(signed_in_page(operator := an_operator(), "/specimen/pictures/", theme="light"))
    colours = set()
    for theme in THEMES:
        operator.theme = theme
        operator.save()
        page.reload()
        drawn(page)
        colours.add(
            page.locator("[data-picture=rates] [aria-label=dot] circle").first.evaluate("e => getComputedStyle(e).fill")
        )
        for size in SCREENS:
            page.set_viewport_size(size)
            assert all_fit(page), f"{theme}, {size['width']} px"
            assert overflow_px(page) <= 0, f"{theme}, {size['width']} px"
    assert len(colours) == 3
    page.emulate_media(media="print")
    assert all_fit(page)
    dot = page.locator("[data-picture=rates] [aria-label=dot]").first
    assert dot.evaluate("e => getComputedStyle(e).fill") == "rgb(0, 0, 0)"


def test_without_script_the_captions_and_tables_remain(signed_in_page):
    page = signed_in_page(an_operator(), "/specimen/pictures/", java_script_enabled=False)
    assert page.get_by_text("Specimen of rates.").is_visible()
