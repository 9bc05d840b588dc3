"""The history of a piece of gear or a site on its page: {% gear_changes thing %}."""

from django import template

from equipment.models import Item
from outings.queries import changes

register = template.Library()


@register.inclusion_tag("outings/changes/_of_gear.html", takes_context=True)
def gear_changes(context, thing):
    """What was changed in it and in what belongs to it, newest first, folded."""
    if type(thing) is Item:
        thing = thing.as_kind()
    return {"entries": changes.history_of_gear(thing), "here": context["request"].path}
