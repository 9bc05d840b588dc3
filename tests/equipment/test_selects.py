"""The select with many options writes what Django's own writes."""

import pytest
from django import forms
from django.test.html import parse_html

from equipment.forms.selects import LongSelect

CHOICES = [("", "–"), ("Radios", [(1, "Blue <box>"), (2, "Q1ABC & \"friends\"")]), ("x'", "An 'x'")]


@pytest.mark.parametrize("value", [None, "", 1, "2", "x'", "absent"])
def test_it_writes_the_same_as_the_select_that_it_stands_in_for(value):
    mine, own = (
        widget(choices=CHOICES, attrs={"class": "short", "required": True}).render("item", value, {"id": "id_item"})
        for widget in (LongSelect, forms.Select)
    )

    assert parse_html(mine) == parse_html(own)
