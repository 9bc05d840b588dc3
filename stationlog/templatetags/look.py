"""What the head of every page shows: the main navigation, the themes, the settings of htmx."""

import json
from dataclasses import dataclass

from django import template
from django.urls import reverse
from django.utils.html import escape
from django.utils.safestring import mark_safe

from equipment import numerals
from stationlog.models import Operator

register = template.Library()

HTMX = {
    "includeIndicatorStyles": False,
    "allowEval": False,
    "allowScriptTags": False,
    "selfRequestsOnly": True,
    "historyCacheSize": 0,  # pages hold a log; the browser's own cache is enough
    "responseHandling": [
        {"code": "204", "swap": False},
        {"code": "[23]..", "swap": True},
        {"code": "422", "swap": True},  # a refused form comes back with what was typed
        {"code": "...", "swap": False, "error": True},
    ],
}

NAVIGATION = [
    ("Start", "start"),
    ("Outings", "outings:outing_list"),
    ("Sites", "outings:site_list"),
    ("Gear", "equipment:gear"),
    ("Bench", "equipment:bench"),
    ("Contacts", "outings:contact_list"),
    ("Performance", "outings:performance"),
    ("Evidence", "outings:evidence"),
    ("Notes", "outings:note_list"),
    ("Files", "outings:file_list"),
]


@dataclass(frozen=True)
class Entry:
    """One link of the main navigation."""

    label: str
    href: str
    is_current: bool


@register.simple_tag
def data_decimals():
    """The attribute by which scripts know that decimals stand after a comma; nothing for a point."""
    return mark_safe(' data-decimals=","') if numerals.sign() == numerals.COMMA else ""


@register.simple_tag(takes_context=True)
def main_navigation(context):
    """The links of the main navigation; the one that the page lies under is current."""
    path = context["request"].path if "request" in context else ""
    addresses = [(label, reverse(name), name) for label, name in NAVIGATION]
    return [
        Entry(label, href, path == href if name == "start" else path.startswith(href))
        for label, href, name in addresses
    ]


@register.simple_tag
def themes():
    """The themes to choose from, as (value, short word)."""
    short = {Operator.Theme.RED: "red", Operator.Theme.AUTO: "as the device"}
    return [(value, short.get(value, label)) for value, label in Operator.Theme.choices]


@register.simple_tag
def htmx_config():
    """How htmx behaves under our Content-Security-Policy, for its meta element."""
    return mark_safe(escape(json.dumps(HTMX, separators=(",", ":"))))
