"""Pages of checklists and their papers: what they do and what they refuse."""

import io

import pypdf
import pytest
from django.test import Client
from django.urls import reverse

from outings.models import ChecklistLine, StandingLine
from tests.making import a_kit, a_radio, a_site, an_antenna, an_arrangement, an_operator, an_outing

pytestmark = pytest.mark.django_db


@pytest.fixture
def owner():
    return an_operator()


@pytest.fixture
def outing(owner):
    arrangement = an_arrangement(an_antenna(owner, "Whip"), "long", bands=("20m",), element_length_m=5.18)
    kit = a_kit(owner, items=[a_radio(owner, "Radio", weight_kg=0.9)], arrangements=[arrangement])
    return an_outing(owner, kit=kit, bands=["20m", "40m"], start="2026-06-21 12:00")


@pytest.fixture
def client(client_of, owner):
    return client_of(owner)


def address(name, *args):
    return reverse(f"outings:{name}", args=args)


def a_line(outing, text="Tea", **fields):
    line = ChecklistLine(owner=outing.owner, outing=outing, text=text, **fields)
    line.keep(outing.owner)
    return line


def text_of(answer):
    return " ".join(answer.content.decode().replace("\u00a0", " ").split())


def paper_text(answer):
    assert answer["Content-Type"] == "application/pdf"
    pages = pypdf.PdfReader(io.BytesIO(answer.content)).pages
    return pages, " ".join("\n".join(page.extract_text() for page in pages).replace("\u00a0", " ").split())


def test_a_checklist_is_made_shown_and_ticked(client, outing):
    assert "Make the checklist" in text_of(client.get(address("checklist", outing.pk)))
    answer = client.post(address("checklist_make", outing.pk), follow=True)
    assert "0 of 2 ticked." in text_of(answer)  # the radio, and the whip that an arrangement belongs to
    line = ChecklistLine.objects.get(text="Radio")
    answer = client.post(address("checklist_line_tick", outing.pk, line.pk), {"ticked": "1"}, follow=True)
    assert answer.redirect_chain[-1][0].endswith(f"/checklist/#line-{line.pk}")
    assert "1 of 2 ticked." in text_of(answer)
    assert line.history().first().cause == "tick"
    client.post(address("checklist_line_tick", outing.pk, line.pk), {"ticked": "0"})
    line.refresh_from_db()
    assert line.ticked_at is None


def test_a_tick_by_htmx_gives_back_the_line_and_the_count(client, outing):
    line = a_line(outing)
    answer = client.post(
        address("checklist_line_tick", outing.pk, line.pk), {"ticked": "1"}, headers={"HX-Request": "true"}
    )
    text = text_of(answer)
    assert 'aria-checked="true"' in text
    assert "All 1 ticked." in text
    assert "<html" not in text


def test_lines_are_added_changed_and_taken_off(client, outing):
    client.post(address("checklist_line_add", outing.pk), {"text": "Kettle", "section": "pack", "quantity": "1"})
    line = ChecklistLine.objects.get()
    changed = {"text": "Kettle, gas", "section": "before", "quantity": "2"}
    client.post(address("checklist_line_edit", outing.pk, line.pk), changed)
    line.refresh_from_db()
    assert (line.text, line.section, line.quantity) == ("Kettle, gas", "before", 2)
    client.post(address("checklist_line_edit", outing.pk, line.pk), {"take_off": "1"})
    assert not ChecklistLine.objects.exists()
    assert ChecklistLine.everything.get().deleted_at


@pytest.mark.parametrize(
    "data",
    [
        {"text": "", "section": "pack", "quantity": "1"}, {"text": "x" * 161, "section": "pack", "quantity": "1"},
        {"text": "Tea", "section": "sky", "quantity": "1"}, {"text": "Tea", "section": "pack", "quantity": "none"},
    ],
)
def test_a_bad_line_is_refused_and_stays_typed(client, outing, data):
    line = a_line(outing, "Soup")
    added = client.post(address("checklist_line_add", outing.pk), data)
    changed = client.post(address("checklist_line_edit", outing.pk, line.pk), data)
    assert (added.status_code, changed.status_code) == (422, 422)
    assert data["text"][:50] in text_of(added)
    assert list(ChecklistLine.objects.values_list("text", flat=True)) == ["Soup"]


def test_gear_no_longer_in_the_kit_is_asked_about(client, outing):
    client.post(address("checklist_make", outing.pk))
    outing.kit.lines.all().delete()
    page = text_of(client.get(address("checklist", outing.pk)))
    assert "1 no longer in the kit." in page
    assert "Take off: no longer in the kit" in text_of(client.get(address("checklist_make", outing.pk)))
    client.post(address("checklist_make", outing.pk))
    assert ChecklistLine.objects.filter(text="Radio").exists()
    line = ChecklistLine.objects.get(text="Radio")
    client.post(address("checklist_make", outing.pk), {"take_off": [line.pk]})
    assert not ChecklistLine.objects.filter(text="Radio").exists()


def in_order(outing, section="pack"):
    rows = ChecklistLine.objects.filter(outing=outing, section=section).order_by("position", "id")
    return list(rows.values_list("text", flat=True))


def test_a_line_moves_up_and_down_within_its_section(client, outing):
    tea, mug, water = (a_line(outing, text) for text in ("Tea", "Mug", "Water"))
    a_line(outing, "Weather", section="before")
    page = text_of(client.get(address("checklist", outing.pk) + "?order=1"))
    assert "Order is right" in page
    move = address("checklist_line_move", outing.pk, water.pk)
    assert client.post(move, {"way": "up"}).url.endswith(f"/checklist/?order=1#line-{water.pk}")
    assert in_order(outing) == ["Tea", "Water", "Mug"]
    client.post(move, {"way": "up"})
    client.post(move, {"way": "up"})  # nothing is above it
    assert in_order(outing) == ["Water", "Tea", "Mug"]
    move_tea = address("checklist_line_move", outing.pk, tea.pk)
    answer = client.post(move_tea, {"way": "down"}, headers={"HX-Request": "true"})
    assert "<html" not in text_of(answer)
    assert in_order(outing) == ["Water", "Mug", "Tea"]
    client.post(move_tea, {"way": "down"})
    assert in_order(outing) == ["Water", "Mug", "Tea"]
    assert tea.history().first().cause == "order"
    tea.history().first().take_back_batch(outing.owner)
    assert in_order(outing) == ["Water", "Tea", "Mug"]
    changed = {"text": "Mug", "section": "before", "quantity": "1"}
    client.post(address("checklist_line_edit", outing.pk, mug.pk), changed)
    assert in_order(outing, "before") == ["Weather", "Mug"], "a line goes to the end of a section that is new to it"


def test_standing_lines_are_kept_changed_and_deleted_on_one_page(client, owner):
    page = text_of(client.get(address("standing_lines")))
    assert "Begin with those lines" in page
    client.post(address("standing_starters"))
    assert "Begin with those lines" not in text_of(client.get(address("standing_lines")))
    first, *_, last = StandingLine.objects.of(owner)
    rows = list(StandingLine.objects.of(owner))
    data = {"form-TOTAL_FORMS": len(rows) + 1, "form-INITIAL_FORMS": len(rows)}
    for number, row in enumerate(rows):
        data |= {f"form-{number}-id": row.pk, f"form-{number}-text": row.text, f"form-{number}-section": row.section,
                 f"form-{number}-position": row.position}
    data["form-0-text"] = "Spare socks"
    data[f"form-{len(rows) - 1}-DELETE"] = "on"
    new = f"form-{len(rows)}"
    data |= {f"{new}-id": "", f"{new}-text": "Thermos", f"{new}-section": "pack", f"{new}-position": ""}
    assert client.post(address("standing_lines"), data).status_code == 302
    texts = set(StandingLine.objects.of(owner).values_list("text", flat=True))
    assert {"Spare socks", "Thermos"} <= texts
    assert last.text not in texts
    assert first.text not in texts


def test_a_bad_standing_line_is_refused(client, owner):
    data = {"form-TOTAL_FORMS": 1, "form-INITIAL_FORMS": 0, "form-0-text": "Thermos", "form-0-section": "sky"}
    answer = client.post(address("standing_lines"), data)
    assert answer.status_code == 422
    assert "Thermos" in text_of(answer)
    assert not StandingLine.objects.exists()


def test_the_standing_lines_of_another_operator_cannot_be_changed(client_of, owner):
    row = StandingLine.objects.create(owner=owner, text="Water")
    data = {"form-TOTAL_FORMS": 1, "form-INITIAL_FORMS": 1, "form-0-id": row.pk, "form-0-text": "Wine",
            "form-0-section": "pack"}
    client_of(an_operator("Q2DEF")).post(address("standing_lines"), data)
    assert StandingLine.objects.get().text == "Water"


def test_the_paper_says_what_the_plan_says(client, outing):
    client.post(address("checklist_make", outing.pk))
    answer = client.get(address("checklist_paper", outing.pk))
    _, text = paper_text(answer)
    for part in (
        "Reed Point", "JO62qm", "Q1ABC/P", "2026-06-21 12:00 to 15:00 UTC", "Sunday 2026-06-21 14:00 to 17:00",
        "Shorelines QS-0042", "Kit: Shore kit, 900 g and 1 not weighed", "Whip: long", "element 5.18 m",
        "nothing in this kit is set for it", "Radio", "Power lines", "Lightning", "Batteries", "sunset",
        "19:33", "21:33", "http://testserver" + outing.get_absolute_url(), "Log sheet 1", "of daylight are left",
    ):
        assert part in text, part
    assert answer["Content-Disposition"] == 'inline; filename="checklist_reed-point_2026-06-21.pdf"'


def test_the_paper_follows_preference_and_address(client_of, outing):
    owner = outing.owner
    owner.paper, owner.units = "Letter", "imperial"
    owner.save()
    client = client_of(owner)
    plain = client.get(address("checklist_paper", outing.pk))
    pages, text = paper_text(plain)
    assert pages[0].mediabox.width == 612
    assert "element 16 ft" in text or "element 17 ft" in text
    pages, _ = paper_text(client.get(address("checklist_paper", outing.pk) + "?paper=A4&log_pages=3"))
    assert round(float(pages[0].mediabox.width)) == 595
    assert sum("Log sheet" in page.extract_text() for page in pages) == 3
    _, text = paper_text(client.get(address("checklist_paper", outing.pk) + "?paper=A0&log_pages=-1"))
    assert "Log sheet 1" in text
    _, text = paper_text(client.get(address("checklist_paper", outing.pk) + "?log_pages=0"))
    assert "Log sheet" not in text


def test_a_polar_night_and_an_empty_kit_print_too(client, owner):
    site = a_site(owner, name="Холм <b>&", latitude_deg=69.65, longitude_deg=18.96, grid="JP99lp",
                  time_zone="Europe/Oslo", permission="Ask.\n" * 300)
    outing = an_outing(site=site, start="2026-12-21 10:00", window_end=None, kit=a_kit(owner))
    _, text = paper_text(client.get(address("checklist_paper", outing.pk)))
    assert "Холм <b>&" in text
    assert "The sun does not rise on this date." in text


ONE = ["checklist", "checklist_make", "checklist_line_add", "checklist_paper"]
LINE = ["checklist_line_edit", "checklist_line_tick", "checklist_line_move"]


@pytest.mark.parametrize("name", [*ONE, *LINE])
@pytest.mark.parametrize("method", ["get", "post"])
def test_the_checklist_of_another_operator_is_not_there(client_of, outing, name, method):
    line = a_line(outing)
    args = [outing.pk, *([line.pk] if name in LINE else [])]
    data = {"ticked": "1", "text": "Wine", "section": "pack", "quantity": "1", "way": "up"}
    answer = getattr(client_of(an_operator("Q2DEF")), method)(address(name, *args), data)
    assert answer.status_code in (404, 405)
    assert list(ChecklistLine.objects.values_list("text", "ticked_at")) == [("Tea", None)]


@pytest.mark.parametrize("name", [*ONE, *LINE, "standing_lines", "standing_starters"])
def test_a_visitor_is_sent_to_the_login(outing, name):
    line = a_line(outing)
    args = [outing.pk] if name in ONE else [outing.pk, line.pk] if name in LINE else []
    for method in ("get", "post"):
        answer = getattr(Client(), method)(address(name, *args), {"ticked": "1"})
        assert answer.status_code == 302
        assert answer.url.startswith(reverse("login"))
    assert ChecklistLine.objects.get().ticked_at is None
    assert not StandingLine.objects.exists()


def test_a_line_of_another_outing_or_of_a_deleted_one_is_not_there(client, outing):
    line = a_line(outing)
    other = an_outing(site=outing.site)
    assert client.post(address("checklist_line_tick", other.pk, line.pk), {"ticked": "1"}).status_code == 404
    outing.withdraw(outing.owner)
    assert client.post(address("checklist_line_tick", outing.pk, line.pk), {"ticked": "1"}).status_code == 404
