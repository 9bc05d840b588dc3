"""The pictures of the guide fit the light of the page, and by a red lamp they are red alone."""

import io

import pytest
from PIL import Image

from tests import making
from tests.browsing import until, use_theme

pytestmark = [pytest.mark.django_db(transaction=True), pytest.mark.anywhere]
LOADED = "[...document.images].filter((image) => image.checkVisibility()).every((image) => image.complete)"
SHOWN = "[...document.images].filter((image) => image.checkVisibility()).map((image) => image.src)"


def shown(page):
    """The addresses of the pictures that are to be seen, once they are there."""
    page.locator(".photo").first.scroll_into_view_if_needed()
    until(page, LOADED)
    return page.evaluate(SHOWN)


@pytest.mark.parametrize(("theme", "device", "dark"), [
    ("light", "dark", False), ("dark", "light", True), ("red", "light", True), ("auto", "light", False),
    ("auto", "dark", True),
])
def test_a_picture_is_as_dark_as_its_page_and_light_on_paper(signed_in_page, theme, device, dark):
    page = signed_in_page(making.an_operator(), "/help/evidence/", theme=theme, color_scheme=device)
    pictures = shown(page)
    assert pictures and all(("-dark" in picture) == dark for picture in pictures)
    page.emulate_media(media="print")
    assert not any("-dark" in picture for picture in page.evaluate(SHOWN))


def test_by_red_light_nothing_but_red_comes_from_a_picture(signed_in_page):
    operator = making.an_operator()
    page = signed_in_page(operator, "/help/phone/", theme="red")
    shown(page)
    red, *others = Image.open(io.BytesIO(page.locator(".photo").screenshot())).convert("RGB").getextrema()
    assert red[1] > 150, "it can be read"
    assert max(high for _, high in others) <= 2
    use_theme(operator, "light")
    page.reload()
    shown(page)
    light = Image.open(io.BytesIO(page.locator(".photo").screenshot())).convert("RGB").getextrema()
    assert min(high for _, high in light) > 200
