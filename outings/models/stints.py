"""Stints: stretches of on-air time with one radio, arrangement, source, power, band and mode."""

from django.core.validators import MinValueValidator
from django.db import models

from equipment.models import Arrangement, LivingManager, OwnedQuerySet, Pack, Radio, Recorded

from .outings import Outing


class StintQuerySet(OwnedQuerySet):
    """Stretches of on-air time."""

    def running(self):
        return self.filter(ended_at__isnull=True)


class Stint(Recorded):
    """A stretch of on-air time; pauses are not on-air time, every rate is contacts over stint hours."""

    class Calling(models.TextChoices):
        CALLING = "calling", "calling"
        ANSWERING = "answering", "answering"
        BOTH = "both", "both"

    outing = models.ForeignKey(Outing, on_delete=models.CASCADE, related_name="stints")
    radio = models.ForeignKey(Radio, on_delete=models.PROTECT, null=True, blank=True, related_name="stints")
    arrangement = models.ForeignKey(Arrangement, on_delete=models.PROTECT, null=True, blank=True, related_name="stints")
    pack = models.ForeignKey(Pack, on_delete=models.PROTECT, null=True, blank=True, related_name="stints")
    other_source = models.CharField(max_length=40, blank=True)  # mains, solar, inside the radio
    power_w = models.FloatField("power", null=True, blank=True, validators=[MinValueValidator(0)])
    band = models.CharField(max_length=8)
    frequency_hz = models.BigIntegerField("frequency", null=True, blank=True, validators=[MinValueValidator(0)])
    mode = models.CharField(max_length=20)
    submode = models.CharField(max_length=20, blank=True)
    tuner_in = models.BooleanField("tuner in line", null=True, blank=True)
    calling = models.CharField(max_length=9, choices=Calling, blank=True)
    swr_at_radio = models.FloatField("SWR at the radio", null=True, blank=True, validators=[MinValueValidator(1)])
    started_at = models.DateTimeField()
    ended_at = models.DateTimeField(null=True, blank=True)
    on_air_s = models.PositiveIntegerField(null=True, blank=True, editable=False)  # without pauses; None while running
    setup_min = models.FloatField("set-up minutes", null=True, blank=True, validators=[MinValueValidator(0)])
    takedown_min = models.FloatField("take-down minutes", null=True, blank=True, validators=[MinValueValidator(0)])
    note = models.CharField(max_length=200, blank=True)
    inferred = models.BooleanField(default=False, editable=False)
    inferred_rule = models.CharField(max_length=200, blank=True, editable=False)
    imported_by = models.ForeignKey(
        "outings.ImportedFile", on_delete=models.SET_NULL, null=True, blank=True, related_name="stints", editable=False
    )

    objects = LivingManager.from_queryset(StintQuerySet)()
    everything = StintQuerySet.as_manager()

    class Meta(Recorded.Meta):
        ordering = ["started_at", "id"]
        constraints = [models.UniqueConstraint(fields=["owner", "uuid"], name="stint_uuid")]
        indexes = [
            models.Index(fields=["outing", "started_at"], name="stint_outing_start"),
            models.Index(fields=["owner", "arrangement"], name="stint_owner_arrangement"),
        ]

    def __str__(self):
        return f"{self.band} {self.submode or self.mode} {self.started_at:%H:%M}"


class Pause(models.Model):
    """A break within a stint; it is not on-air time."""

    stint = models.ForeignKey(Stint, on_delete=models.CASCADE, related_name="pauses")
    started_at = models.DateTimeField()
    ended_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering = ["started_at", "id"]

    def __str__(self):
        return f"{self.started_at:%H:%M}"
