"""Performance notes where they belong: {% notes_about arrangement %} on a page of gear or of an outing."""

from django import template
from django.urls import reverse
from django.utils.safestring import mark_safe

from equipment.models import Antenna, Item
from outings import markdown
from outings.models import Note

register = template.Library()


@register.filter
def markdown_html(text):
    """Markdown as cleaned HTML."""
    return mark_safe(markdown.to_html(text))


@register.filter
def markdown_text(text):
    """Markdown as words in one line, to be cut."""
    return mark_safe(markdown.to_text(text))  # to_text leaves entities as they are


@register.inclusion_tag("outings/notes/_about.html", takes_context=True)
def notes_about(context, thing):
    """The operator's notes on an arrangement, antenna, pack, radio or outing, with a link to write one."""
    operator = context["request"].user
    if isinstance(thing, Item):
        thing = thing.as_kind()
    new = None
    if not isinstance(thing, Antenna):
        new = f"{reverse('outings:note_new')}?{Note.TIES[type(thing)]}={thing.pk}"
    return {"notes": Note.objects.of(operator).about(thing), "new": new, "thing": thing}
