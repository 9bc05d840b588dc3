"""Sweeps: reflection over frequency of an arrangement as it was measured, with the file that it came in."""

from functools import cached_property

from django.core.validators import MinValueValidator
from django.db import models
from django.urls import reverse

from equipment.physics import sweep as sweeps

from .history import LivingManager, OwnedQuerySet, Recorded
from .items import NOT_NEGATIVE, Arrangement, Feedline


class SweepQuerySet(OwnedQuerySet):
    """Sweeps of arrangements."""

    def newest_first(self):
        return self.order_by("-taken_at", "-id")

    def withdrawn(self):
        """Those that can be brought back, of `everything`."""
        return self.filter(deleted_at__isnull=False).newest_first()


class LivingSweepManager(LivingManager.from_queryset(SweepQuerySet)):
    """Leaves out those that were withdrawn, and does not load the files."""

    def get_queryset(self):
        return super().get_queryset().defer("original")


class Sweep(Recorded):
    """One measured sweep of an arrangement; what it shows is in its curve, its file is kept byte for byte."""

    class Plane(models.TextChoices):
        FEEDPOINT = "feedpoint", "at the feedpoint"
        LINE = "line", "through the feedline"

    arrangement = models.ForeignKey(Arrangement, on_delete=models.CASCADE, related_name="sweeps")
    band = models.CharField("set for", max_length=8, blank=True)  # whose tap and length; empty where one serves for all
    taken_at = models.DateTimeField("taken")
    place = models.CharField(max_length=120, blank=True)
    feedpoint_height_m = models.FloatField("feedpoint height", null=True, blank=True, validators=NOT_NEGATIVE)
    conditions = models.CharField("weather and ground", max_length=200, blank=True)
    plane = models.CharField("measured", max_length=9, choices=Plane, default=Plane.FEEDPOINT)
    feedline = models.ForeignKey(Feedline, on_delete=models.PROTECT, null=True, blank=True, related_name="sweeps")
    file_name = models.CharField(max_length=120, editable=False)
    original = models.BinaryField(editable=False)
    is_csv = models.BooleanField(default=False, editable=False)
    points = models.BinaryField(editable=False)
    z0_ohm = models.FloatField("reference", default=50.0, editable=False, validators=[MinValueValidator(0)])
    phase_known = models.BooleanField(default=True, editable=False)
    low_hz = models.FloatField("from", editable=False)
    high_hz = models.FloatField("to", editable=False)

    objects = LivingSweepManager()
    everything = SweepQuerySet.as_manager()

    # What came with the file never changes; the history need not repeat it.
    UNTRACKED = Recorded.UNTRACKED | {
        "file_name", "original", "is_csv", "points", "z0_ohm", "phase_known", "low_hz", "high_hz"
    }

    class Meta(Recorded.Meta):
        ordering = ["-taken_at", "-id"]
        constraints = [models.UniqueConstraint(fields=["owner", "uuid"], name="sweep_uuid")]
        indexes = [models.Index(fields=["arrangement", "-taken_at"], name="sweep_arrangement_taken")]

    def __str__(self):
        return f"sweep of {self.taken_at:%Y-%m-%d %H:%M}"

    def get_absolute_url(self):
        return reverse("equipment:sweep", args=[self.pk])

    def take(self, name, content, read):
        """Take over a file: its name, its bytes, and what `sweep_files.read` found in them."""
        curve = read.curve
        self.file_name, self.original, self.is_csv = name[-120:], content, read.is_csv
        self.points, self.z0_ohm, self.phase_known = sweeps.packed(curve), curve.z0_ohm, curve.phase_known
        self.low_hz, self.high_hz = curve.frequency_hz[0], curve.frequency_hz[-1]
        self.__dict__.pop("curve", None)

    @cached_property
    def curve(self):
        """The points as they were measured."""
        return sweeps.unpacked(bytes(self.points), self.z0_ohm, self.phase_known)
