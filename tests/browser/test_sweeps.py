"""Sweeps in a browser: a file chosen, looked at, kept, laid over another, on a laptop and on a phone."""

import pytest
from playwright.sync_api import expect

from tests import making
from tests.browsing import LAPTOP, PHONE, axe_serious, overflow_px, until

pytestmark = pytest.mark.django_db(transaction=True)


@pytest.mark.parametrize(("size", "theme"), [(LAPTOP, "light"), (PHONE, "red")])
def test_a_sweep_goes_from_its_file_to_a_comparison(signed_in_page, tmp_path, size, theme):
    line = making.a_feedline(line_type="RG-58", length_m=15)
    arrangement = making.an_arrangement(making.an_antenna(line.owner), bands=("20m",), feedline=line)
    making.a_sweep(arrangement, making.a_sweep_file(ohm=70, resonance_mhz=14.3), at="2026-03-01 10:00", place="garden")
    file = tmp_path / "meadow.s1p"
    file.write_bytes(making.a_sweep_file())
    page = signed_in_page(line.owner, arrangement.get_absolute_url(), viewport=size, theme=theme)
    expect(page.locator(".canvas > svg")).to_have_count(2)

    def is_in_order():
        assert axe_serious(page) == []
        assert overflow_px(page) <= 0

    is_in_order()
    page.get_by_role("link", name="Add a sweep").click()
    is_in_order()
    page.get_by_label("Sweep file").set_input_files(file)
    page.get_by_label("Place").fill("meadow")
    page.get_by_role("button", name="Read it").click()
    page.get_by_role("heading", name="Is this what was measured?").wait_for()
    expect(page.locator(".canvas > svg")).to_have_count(2)
    is_in_order()
    page.get_by_role("button", name="Keep this sweep").click()
    page.get_by_role("heading", name="Sweep of").wait_for()
    page.get_by_text("1.19", exact=True).first.wait_for()
    expect(page.locator(".canvas > svg")).to_have_count(2)
    assert "NaN" not in page.locator(".canvas").first.inner_html()
    is_in_order()

    page.get_by_role("link", name="Compare").click()
    page.get_by_text("2 chosen").wait_for()
    lines = page.locator("[data-picture=sweeps]").first.locator("[aria-label=line] path")
    expect(lines).to_have_count(2)
    page.get_by_label("Frequencies").select_option("20m")
    page.get_by_role("button", name="Show").click()
    until(page, "() => location.search.includes('band=20m') && location.search.split('sweep=').length === 3")
    expect(page.locator(".canvas > svg")).to_have_count(2)
    is_in_order()


@pytest.mark.anywhere
def test_the_picture_stands_where_the_figures_say(signed_in_page):
    """The lowest point of the curve lies at 14.15 MHz and SWR 1.19, read off the axes of the drawing."""
    sweep = making.a_sweep()
    page = signed_in_page(sweep.owner, sweep.get_absolute_url(), viewport=LAPTOP)
    picture = page.locator("[data-picture=sweeps]").first
    picture.locator("[aria-label=line] path").first.wait_for()
    middle = "(e => { const box = e.getBoundingClientRect(); return [box.x + box.width / 2, box.y + box.height / 2]; })"

    def ticks(axis, place):
        found = picture.locator(f"[aria-label='{axis}-axis tick label'] text").evaluate_all(
            f"all => all.map(e => [Number(e.textContent), {middle}(e)[{place}]])"
        )
        return found[0], found[-1]

    path = picture.locator("[aria-label=line] path").first
    x, y = path.evaluate("""e => {
        const at = Array.from({length: 2001}, (_, i) => e.getPointAtLength(e.getTotalLength() * i / 2000));
        const low = at.reduce((a, b) => (b.y > a.y ? b : a));
        const p = low.matrixTransform(e.getScreenCTM());
        return [p.x, p.y];
    }""")
    (low, left), (high, right) = ticks("x", 0)
    assert low + (x - left) / (right - left) * (high - low) == pytest.approx(14.15, abs=0.02)
    (one, bottom), (ten, top) = ticks("y", 1)
    assert (one, ten) == (1, 10)
    assert 10 ** ((y - bottom) / (top - bottom)) == pytest.approx(50 / 42, rel=0.03)
