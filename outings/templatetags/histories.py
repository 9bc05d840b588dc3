"""The history of a row where it belongs: {% history_of sweep %} on a page of gear."""

from django import template

from outings.queries import changes

register = template.Library()


@register.inclusion_tag("outings/changes/_history.html", takes_context=True)
def history_of(context, row):
    """What was changed in a row, folded, with what can be taken back."""
    return {"entries": changes.history_of(row), "here": context["request"].path, "user": context["user"]}
