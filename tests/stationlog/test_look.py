"""The head of every page, and how forms are set out."""

import json
import re

import pytest
from django.template import engines

from tests.browser.specimen import SpecimenForm
from tests.making import an_operator

pytestmark = pytest.mark.django_db


def test_htmx_neither_evaluates_nor_injects_styles(client_of):
    page = client_of(an_operator()).get("/").content.decode()
    config = json.loads(re.search(r"name=\"htmx-config\" content='([^']*)'", page)[1].replace("&quot;", '"'))
    assert config["allowEval"] is False
    assert config["includeIndicatorStyles"] is False


def test_no_page_carries_script_or_style_in_itself(client_of):
    page = client_of(an_operator()).get("/").content.decode()
    assert not re.search(r"<style|\sstyle=|\son\w+=|<script(?![^>]*\bsrc=)", page)


def render(form):
    return engines["django"].from_string("{{ form }}").render({"form": form})


def test_a_refused_form_names_each_field_at_the_top_and_keeps_what_was_typed():
    page = render(SpecimenForm({"length_m": "long", "notes": "<b>wet</b>"}))
    summary, rest = page.split("</div>", 1)
    assert '<a href="#id_length_m">Element length (m)</a>: Enter a number.' in summary
    assert '<a href="#id_calling">' in summary
    assert 'value="long"' in rest and "&lt;b&gt;wet&lt;/b&gt;" in rest
    assert 'id="id_length_m_error"' in rest and 'aria-describedby="id_length_m_error"' in rest


def test_a_fresh_form_has_no_summary():
    assert "error-summary" not in render(SpecimenForm())


def test_the_navigation_leads_to_every_part_and_marks_the_one_that_is_open(client_of):
    client = client_of(an_operator())
    page = client.get("/notes/").content.decode()
    links = re.findall(r'<li><a href="(/[a-z]*/?)"( aria-current="page")?>(\w+)</a></li>', page)
    assert [label for _, _, label in links] == [
        "Start", "Outings", "Sites", "Gear", "Bench", "Contacts", "Performance", "Evidence", "Notes", "Files",
        "Help",
    ]
    assert [label for _, current, label in links if current] == ["Notes"]
    assert all(client.get(href).status_code == 200 for href, _, _ in links)
