"""The frame of all pages of the bench: inputs in the address, gear that fills in, answers while someone types."""

from urllib.parse import parse_qs, urlsplit

import pytest
from django.urls import reverse

from equipment.quantity_kinds import KINDS, unit_for
from equipment.queries.bench.answers import Figure
from equipment.queries.bench.questions import QUESTIONS
from equipment.templatetags.bench import shown, spread
from tests import making

pytestmark = pytest.mark.django_db

TYPED = {
    "chemistry_1": "LiFePO4", "cells_1": "4", "volts_1": "13,40", "ohm_1": "139 mΩ",
    "chemistry_2": "LiFePO4", "cells_2": "4", "volts_2": "13.35", "ohm_2": "0.152", "leads_ohm": "16 mΩ",
}


def test_the_bench_lists_every_question_and_each_has_its_page(client_of):
    client = client_of(making.an_operator())
    page = client.get("/bench/").content.decode()
    for question in QUESTIONS:
        address = reverse(f"equipment:{question.name}")
        assert f'<a href="{address}">{question.asks}</a>' in page
        answer = client.get(address)
        assert answer.status_code == 200
        assert f"<h1>{question.asks}</h1>" in answer.content.decode()


def test_a_page_without_inputs_says_what_is_needed_and_complains_about_nothing(client_of):
    page = client_of(making.an_operator()).get("/bench/joining/").content.decode()
    assert "Still needed" in page and "Resting voltage of pack 1" in page
    assert "Please look at this first" not in page


def test_the_answer_follows_from_the_address_alone_and_while_typing_only_it_is_sent(client_of):
    client = client_of(making.an_operator())
    whole = client.get("/bench/joining/", TYPED)
    assert "may be joined now" in whole.content.decode()
    assert 'value="13,40"' in whole.content.decode()
    part = client.get("/bench/joining/", {**TYPED, "pack_1": ""}, headers={"HX-Request": "true"})
    assert "may be joined now" in part.content.decode()
    assert "<h1>" not in part.content.decode()
    kept = parse_qs(urlsplit(part.headers["HX-Replace-Url"]).query)
    assert kept == {name: [value] for name, value in TYPED.items()}
    assert "HX-Request" in whole.headers["Vary"]


def test_what_cannot_be_read_is_named_and_leads_to_its_field(client_of):
    page = client_of(making.an_operator()).get("/bench/joining/", {**TYPED, "volts_2": "much"}).content.decode()
    assert '<a href="#id_volts_2">Resting voltage of pack 2</a>: “much” is not a voltage' in page
    assert "joined now" not in page


@pytest.mark.parametrize("query", [
    "pack_1=99999999999999999999999", "pack_1=%00", "volts_1=%00", "volts_1=1e999", "cells_1=9" + 5000 * "9",
    "chemistry_1=x", "typed_in=x", "volts_1=" + 5000 * "1", "pack_1=-1", "pack_1=½",
])
def test_an_address_that_makes_no_sense_still_gives_a_page(client_of, query):
    owner = making.an_operator()
    making.a_pack(owner)
    assert client_of(owner).get(f"/bench/joining/?{query}").status_code == 200


def test_a_chosen_pack_fills_what_is_empty_and_the_page_says_so(client_of):
    owner = making.an_operator()
    pack = making.a_pack(owner, "Old pack", resistance_ohm=0.139)
    making.a_reading(pack, 13.40, doing="resting")
    typed = {name: value for name, value in TYPED.items() if not name.endswith("_1")}
    page = client_of(owner).get("/bench/joining/", {**typed, "pack_1": pack.pk}).content.decode()
    assert "may be joined now" in page
    assert "Resting voltage of pack 1: 13.40\xa0V, read 2026-05-01 12:00 UTC, from Old pack" in page
    assert "volts_1=13.4&amp;" in page  # the link to send holds the values, not only the pack
    assert "chemistry_1=LiFePO4&amp;cells_1=4&amp;" in page
    again = client_of(owner).get("/bench/joining/", {**typed, "pack_1": pack.pk, "volts_1": "14.4"}).content.decode()
    assert "Resting voltage of pack 1:" not in again
    assert "Do not join them now" in again


def test_gear_of_another_operator_fills_nothing(client_of):
    pack = making.a_pack(making.an_operator("Q2DEF"), "Pack of another", resistance_ohm=0.1)
    mine = making.an_operator()
    making.a_pack(mine)
    page = client_of(mine).get("/bench/joining/", {**TYPED, "pack_1": pack.pk}).content.decode()
    assert "Pack of another" not in page
    assert "Select a valid choice" in page


def test_an_answer_is_kept_as_a_note_that_is_tied_to_its_gear(client_of):
    owner = making.an_operator()
    pack = making.a_pack(owner, resistance_ohm=0.139)
    client = client_of(owner)
    page = client.get("/bench/joining/", {**TYPED, "pack_1": pack.pk}).content.decode()
    href = page.split(">Keep as a note<")[0].rsplit('href="', 1)[1].split('"')[0].replace("&amp;", "&")
    form = client.get(href).context["form"]
    assert form["title"].value() == "Can I join these two packs?"
    assert "may be joined now" in form["text"].value()
    assert "](/bench/joining/?" in form["text"].value()
    assert form["packs"].value() == [str(pack.pk)]


@pytest.mark.parametrize(("figure", "units", "text"), [
    (Figure("x", 13.187, "voltage"), "metric", ("13.19", "V", "", "")),
    (Figure("x", 0.75, "current", 0.62, 0.94), "metric", ("0.75", "A", "0.62", "0.94")),
    (Figure("x", 0.0456, "resistance"), "metric", ("45.6", "mΩ", "", "")),
    (Figure("x", 0.5, "duration", 0.4, 0.7), "metric", ("30", "min", "24", "42")),
    (Figure("x", 5.18, "length"), "imperial", ("17.0", "ft", "", "")),
    (Figure("x", 14_285_000.0, "frequency"), "metric", ("14.3", "MHz", "", "")),
    (Figure("x", 12.7153, "voltage", 12.698, 12.7321), "metric", ("12.72", "V", "12.70", "12.73")),
    (Figure("x", 12.7153, "voltage", 12.7151, 12.7154), "metric", ("12.72", "V", "", "")),
    (Figure("x", 0.0123, "voltage"), "metric", ("12", "mV", "", "")),
    (Figure("x", None, "voltage"), "metric", (None, "", "", "")),
])
def test_a_figure_is_shown_in_a_unit_that_fits_and_rounded_to_its_range(figure, units, text):
    found = shown(figure, units)
    assert (found.value, found.unit, found.low, found.high) == text


@pytest.mark.parametrize("kind", KINDS)
def test_every_kind_has_a_unit_for_every_size_in_both_systems(kind):
    assert all(unit_for(kind, size, units) for size in (0, 1e-12, 1e12) for units in ("metric", "imperial"))


def test_a_spread_names_one_number_where_both_ends_look_the_same():
    assert spread(4.75, 6.69, "duration") == "4.8 to 6.7\xa0h"
    assert spread(5.0, 5.0, "duration") == "5.00\xa0h"
