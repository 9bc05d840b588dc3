"""What left a pack since it was full, where outings know of it: {% used_since_full pack %} on the page of a pack."""

from urllib.parse import urlencode

from django import template
from django.urls import reverse

from equipment.templatetags.units import trimmed
from outings.queries.energy import use_since_full

register = template.Library()


@register.inclusion_tag("outings/_used_since_full.html", takes_context=True)
def used_since_full(context, pack):
    """Hours on the air since the last full charge, and about how much they used, with a link to the bench."""
    found = use_since_full(context["request"].user, pack)
    ask = ""
    if found and found.used_ah is not None:
        query = urlencode({"pack": pack.pk, "used_ah": trimmed(found.used_ah, 2)})
        ask = f"{reverse('equipment:charge_state')}?{query}"
    return {"found": found, "ask": ask}
