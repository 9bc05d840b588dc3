"""Performance notes: what was learned, tied to gear and outings."""

from django.db import models

from equipment.models import Arrangement, Pack, Radio, Recorded

from .outings import Outing


class Note(Recorded):
    """A note in Markdown, shown with the gear and the outings that it is tied to."""

    title = models.CharField(max_length=120)
    text = models.TextField(blank=True)
    arrangements = models.ManyToManyField(Arrangement, blank=True, related_name="performance_notes")
    packs = models.ManyToManyField(Pack, blank=True, related_name="performance_notes")
    radios = models.ManyToManyField(Radio, blank=True, related_name="performance_notes")
    outings = models.ManyToManyField(Outing, blank=True, related_name="performance_notes")

    class Meta(Recorded.Meta):
        ordering = ["-changed_at", "-id"]
        constraints = [models.UniqueConstraint(fields=["owner", "uuid"], name="note_uuid")]

    def __str__(self):
        return self.title
