"""What phones handed in from the field, as it came, and remarks made there."""

from django.core.serializers.json import DjangoJSONEncoder
from django.db import models

from equipment.models import Owned, OwnedQuerySet, Recorded

from .outings import Outing


class Remark(Recorded):
    """Something noted at an outing at a time: words, the noise level, a voltage of a source that is no pack of ours."""

    class About(models.TextChoices):
        NOTE = "note", "note"
        NOISE = "noise", "noise level"
        VOLTAGE = "voltage", "supply voltage"

    outing = models.ForeignKey(Outing, on_delete=models.CASCADE, related_name="remarks")
    at = models.DateTimeField()
    about = models.CharField(max_length=8, choices=About, default=About.NOTE)
    value = models.FloatField(null=True, blank=True)  # S units or dB for noise as the radio shows it, volts for voltage
    text = models.TextField(blank=True)

    class Meta(Recorded.Meta):
        ordering = ["at", "id"]
        constraints = [models.UniqueConstraint(fields=["owner", "uuid"], name="remark_uuid")]
        indexes = [models.Index(fields=["outing", "at"], name="remark_outing_at")]

    def __str__(self):
        return self.text or f"{self.get_about_display()} {self.value}"


class FieldEntryQuerySet(OwnedQuerySet):
    """Entries that phones handed in."""

    def open_conflicts(self):
        """Those where two places had changed the same row and nobody has looked at it yet."""
        return self.filter(outcome=FieldEntry.Outcome.CONFLICT, settled_at__isnull=True)


class FieldEntry(Owned):
    """One entry of a phone as it came, and what became of it; kept so that nothing is lost and none is taken twice."""

    class Outcome(models.TextChoices):
        TAKEN = "taken", "taken"
        OLDER = "older", "kept, but a later entry of the same phone was here already"
        CONFLICT = "conflict", "two places had changed the same row"

    identity = models.UUIDField()
    phone = models.UUIDField()
    received_at = models.DateTimeField(auto_now_add=True)
    kind = models.CharField(max_length=8)
    action = models.CharField(max_length=6)
    subject = models.UUIDField()
    seq = models.PositiveIntegerField()
    edited_at = models.DateTimeField()
    clock_error_s = models.FloatField(default=0)  # phone minus server when it was handed in
    values = models.JSONField(encoder=DjangoJSONEncoder)
    refers_to = models.UUIDField(null=True, blank=True)  # a row that was not here yet: joined when it comes
    outcome = models.CharField(max_length=8, choices=Outcome)
    revision = models.PositiveIntegerField(null=True, blank=True)  # of the row, after this entry
    lost = models.JSONField(null=True, blank=True, encoder=DjangoJSONEncoder)  # the version that gave way
    settled_at = models.DateTimeField(null=True, blank=True)

    objects = FieldEntryQuerySet.as_manager()

    class Meta:
        ordering = ["id"]
        constraints = [models.UniqueConstraint(fields=["owner", "identity"], name="field_entry_once")]
        indexes = [
            models.Index(fields=["owner", "subject"], name="field_entry_subject"),
            models.Index(
                fields=["owner", "refers_to"], name="field_entry_waits", condition=models.Q(refers_to__isnull=False)
            ),
        ]

    def __str__(self):
        return f"{self.kind} {self.subject}"
