"""What phones handed in from the field, as it came, and remarks made there."""

from django.apps import apps
from django.conf import settings
from django.core.serializers.json import DjangoJSONEncoder
from django.db import models
from django.utils import timezone

from equipment.models import Owned, OwnedQuerySet, Recorded
from equipment.numerals import Numeral

from .outings import Outing


class Remark(Recorded):
    """Something noted at an outing at a time: words, the noise level, a voltage of a source that is no pack of ours."""

    class About(models.TextChoices):
        NOTE = "note", "note"
        NOISE = "noise", "noise level"
        VOLTAGE = "voltage", "supply voltage"

    outing = models.ForeignKey(
        Outing, on_delete=models.CASCADE, related_name="remarks", db_index=False
    )  # the index remark_outing_at begins with it
    at = models.DateTimeField()
    about = models.CharField(max_length=8, choices=About, default=About.NOTE)
    value = models.FloatField(null=True, blank=True)  # S units or dB for noise as the radio shows it, volts for voltage
    text = models.TextField(blank=True)

    class Meta(Recorded.Meta):
        ordering = ["at", "id"]
        constraints = [models.UniqueConstraint(fields=["owner", "uuid"], name="remark_uuid")]
        indexes = [models.Index(fields=["outing", "at"], name="remark_outing_at")]

    def __str__(self):
        return self.text or f"{self.get_about_display()} {Numeral(self.value)}"


CLOCK_OFF_S = 30  # a phone's clock that is further off than this is worth mending the times that it gave


class FieldEntryQuerySet(OwnedQuerySet):
    """Entries that phones handed in."""

    def by_a_wrong_clock(self):
        """Those handed in by a phone whose clock was off by more than CLOCK_OFF_S at that time."""
        return self.filter(models.Q(clock_error_s__gt=CLOCK_OFF_S) | models.Q(clock_error_s__lt=-CLOCK_OFF_S))

    def open_conflicts(self):
        """Those where two places had changed the same row and nobody has looked at it yet."""
        return self.filter(outcome=FieldEntry.Outcome.CONFLICT, settled_at__isnull=True)


class FieldEntry(Owned):
    """One entry of a phone as it came, and what became of it; kept so that nothing is lost and none is taken twice."""

    class Outcome(models.TextChoices):
        TAKEN = "taken", "taken"
        OLDER = "older", "kept, but a later entry of the same phone was here already"
        CONFLICT = "conflict", "two places had changed the same row"

    ROWS = {  # what an entry of each kind is about
        "outing": "outings.Outing", "stint": "outings.Stint", "pause": "outings.Pause", "contact": "outings.Contact",
        "reading": "equipment.PackReading", "remark": "outings.Remark", "tick": "outings.ChecklistLine",
    }

    owner = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.CASCADE, related_name="+", db_index=False
    )  # several indexes begin with it
    identity = models.UUIDField()
    phone = models.UUIDField()
    outing = models.ForeignKey(Outing, on_delete=models.SET_NULL, null=True, blank=True, related_name="field_entries")
    received_at = models.DateTimeField(default=timezone.now, editable=False)
    kind = models.CharField(max_length=8)
    action = models.CharField(max_length=6)
    subject = models.UUIDField()
    seq = models.PositiveIntegerField()
    edited_at = models.DateTimeField()
    happened_at = models.DateTimeField(null=True, blank=True)  # as the phone said, by its clock
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
            models.Index(fields=["phone", "-id"], name="field_entry_phone"),
            models.Index(
                fields=["owner", "refers_to"], name="field_entry_waits", condition=models.Q(refers_to__isnull=False)
            ),
            models.Index(
                fields=["outing"], name="field_entry_conflicts",
                condition=models.Q(outcome="conflict", settled_at__isnull=True),
            ),
        ]

    def __str__(self):
        return f"{self.kind} {self.subject}"

    @property
    def row_model(self):
        """The model of the row that it is about."""
        return apps.get_model(self.ROWS[self.kind])
