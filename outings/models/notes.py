"""Performance notes: what was learned, tied to gear and outings."""

from django.db import models
from django.urls import reverse

from equipment.models import Antenna, Arrangement, LivingManager, OwnedQuerySet, Pack, Radio, Recorded, any_holds

from .outings import Outing


def tied(model, condition):
    """Condition on notes: one of the rows of a model that a note is tied to meets another."""
    return models.Exists(model.objects.filter(condition, performance_notes=models.OuterRef("pk")))


class NoteQuerySet(OwnedQuerySet):
    """Performance notes."""

    def mentioning(self, text):
        """Every word of the text occurs in the title, the text, or the name of something that the note is tied to."""
        rows = self
        for word in text.split():
            rows = rows.filter(
                any_holds(word, "title", "text")
                | tied(Arrangement, any_holds(word, "name", "antenna__name")) | tied(Pack, any_holds(word, "name"))
                | tied(Radio, any_holds(word, "name")) | tied(Outing, any_holds(word, "title", "site__name"))
            )
        return rows

    def about(self, thing):
        """Notes tied to a piece of gear, an arrangement or an outing; for an antenna those of its arrangements."""
        if isinstance(thing, Antenna):
            ties = Note.arrangements.through.objects.filter(arrangement__antenna=thing)
        else:
            relation = getattr(Note, Note.TIES[type(thing)])
            ties = relation.through.objects.filter(**{relation.field.m2m_reverse_field_name(): thing})
        return self.filter(pk__in=ties.values("note"))

    def withdrawn(self):
        """Those that can be brought back, of `everything`."""
        return self.filter(deleted_at__isnull=False).order_by("-deleted_at", "-id")


class Note(Recorded):
    """A note in Markdown, shown with the gear and the outings that it is tied to.

    The history keeps its title and text; what it is tied to is as it stands.
    """

    title = models.CharField(max_length=120)
    text = models.TextField(blank=True)
    arrangements = models.ManyToManyField(Arrangement, blank=True, related_name="performance_notes")
    packs = models.ManyToManyField(Pack, blank=True, related_name="performance_notes")
    radios = models.ManyToManyField(Radio, blank=True, related_name="performance_notes")
    outings = models.ManyToManyField(Outing, blank=True, related_name="performance_notes")

    objects = LivingManager.from_queryset(NoteQuerySet)()
    everything = NoteQuerySet.as_manager()

    TIES = {Arrangement: "arrangements", Pack: "packs", Radio: "radios", Outing: "outings"}

    class Meta(Recorded.Meta):
        ordering = ["-changed_at", "-id"]
        constraints = [models.UniqueConstraint(fields=["owner", "uuid"], name="note_uuid")]

    def __str__(self):
        return self.title

    def get_absolute_url(self):
        return reverse("outings:note", args=[self.pk])
