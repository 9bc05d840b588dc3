"""A select with many options, quick enough to stand in many rows."""

from django import forms
from django.forms.utils import flatatt
from django.utils.html import escape
from django.utils.safestring import mark_safe


class LongSelect(forms.Select):
    """A select that writes its options itself; a template for each takes a second where there are thousands."""

    def render(self, name, value, attrs=None, renderer=None):
        chosen = "" if value is None else str(value)
        parts = [f"<select{flatatt(self.build_attrs(self.attrs, {**(attrs or {}), 'name': name}))}>"]
        for key, label in self.choices:
            if isinstance(label, (list, tuple)):
                parts.append(f'<optgroup label="{escape(key)}">')
                parts += [option(inner, text, chosen) for inner, text in label]
                parts.append("</optgroup>")
            else:
                parts.append(option(key, label, chosen))
        return mark_safe("".join([*parts, "</select>"]))


def option(value, label, chosen):
    """One option as HTML."""
    value = "" if value is None else str(value)
    return f'<option value="{escape(value)}"{" selected" if value == chosen else ""}>{escape(label)}</option>'
