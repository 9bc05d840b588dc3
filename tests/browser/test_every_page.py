"""Every page of a log of long names: on every screen, enlarged twice, without motion, in every theme, and on paper."""

from pathlib import Path

import pytest

from tests import pages
from tests.browsing import THEMES, looks_wrong, until

LAYOUT = (Path(__file__).parent / "layout.js").read_text()
PAPER = (Path(__file__).parent / "paper.js").read_text()
DRAWN = """[...document.querySelectorAll("figure[data-picture]")].every((figure) => !figure.clientWidth
    || figure.dataset.width === String(Math.floor(figure.querySelector(":scope > .canvas")?.clientWidth)))"""
MOVES = """[...document.querySelectorAll("*")].filter((element) => [null, "::before", "::after"].some((part) => {
    const style = getComputedStyle(element, part);
    const seconds = `${style.transitionDuration},${style.animationDuration}`.split(",").map(parseFloat);
    return seconds.some((length) => length > 0.01) || style.scrollBehavior === "smooth";
})).map((element) => element.outerHTML.slice(0, 80))"""
SIZES = (  # what it is, CSS pixels, and the size of the root's text
    ("a laptop at 200 %", {"width": 640, "height": 400}, ""),
    ("text at 200 %", {"width": 1280, "height": 800}, "32px"),
    ("the smallest phone", {"width": 360, "height": 640}, ""),
)


@pytest.mark.anywhere
@pytest.mark.django_db(transaction=True)
def test_nothing_is_cut_off_when_enlarged_or_hard_to_read_or_moves_unasked_or_is_lost_on_paper(signed_in_page):
    owner = pages.a_log_of_long_names()
    addresses = [*pages.walk(owner), ("field", "/field/")]
    assert len(addresses) > 100
    page = signed_in_page(owner, "/help/", device_scale_factor=2, reduced_motion="reduce")
    found = []
    for number, (route, address) in enumerate(addresses):
        page.emulate_media(media="screen")
        page.set_viewport_size(SIZES[0][1])
        page.goto(address)
        for what, size, text in SIZES:
            page.set_viewport_size(size)
            page.evaluate("(size) => { document.documentElement.style.fontSize = size; }", text)
            until(page, DRAWN)
            found += [f"{route}, {what}: {fault}" for fault in page.evaluate(LAYOUT)]
        found += [f"{route} moves: {element}" for element in page.evaluate(MOVES)]
        found += [f"{route}: {fault}" for fault in looks_wrong(page)]
        page.emulate_media(media="print")
        page.set_viewport_size({"width": 718, "height": 1000})  # A4 without margins
        theme = THEMES[number % len(THEMES)]
        found += [f"{route}, on paper in {theme}: {fault}" for fault in page.evaluate(PAPER, theme)]
    assert not found, "\n".join(found)
