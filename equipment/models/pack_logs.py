"""Logs of a pack kept whole: capacity tests and charges, each with what they show and the file they came from."""

import zlib

from django.core.validators import MinValueValidator
from django.db import models
from django.urls import reverse

from .history import LivingManager, OwnedQuerySet, Recorded
from .items import NOT_NEGATIVE, Pack


class PackLogQuerySet(OwnedQuerySet):
    """Capacity tests and charges."""

    def tests(self):
        return self.filter(kind=PackLog.Kind.TEST)

    def charges(self):
        return self.filter(kind=PackLog.Kind.CHARGE)

    def complete(self):
        """Those that went all the way: down to the lowest voltage, or up to a small current at the limit."""
        return self.filter(is_complete=True)

    def without_file(self):
        return self.defer("packed_file")


class PackLog(Recorded):
    """One discharge or charge from a file of times, voltages and currents."""

    class Kind(models.TextChoices):
        TEST = "test", "capacity test"
        CHARGE = "charge", "charge"

    pack = models.ForeignKey(Pack, on_delete=models.CASCADE, related_name="logs")
    kind = models.CharField(max_length=6, choices=Kind)
    started_at = models.DateTimeField("began")
    duration_s = models.FloatField("duration", validators=NOT_NEGATIVE)
    ah = models.FloatField("charge", validators=NOT_NEGATIVE)
    wh = models.FloatField("energy", validators=NOT_NEGATIVE)
    end_v = models.FloatField("voltage at the end")
    end_a = models.FloatField("current at the end")
    cutoff_v = models.FloatField("lowest voltage", null=True, blank=True, validators=NOT_NEGATIVE)
    is_complete = models.BooleanField("complete", default=False)
    longest_gap_share = models.FloatField(default=0.0)
    resistance_ohm = models.FloatField("internal resistance", null=True, blank=True, validators=NOT_NEGATIVE)
    resistance_error_ohm = models.FloatField(null=True, blank=True, validators=NOT_NEGATIVE)
    load_steps = models.PositiveIntegerField("load steps", default=0)
    temperature_c = models.FloatField("temperature", null=True, blank=True)
    readings = models.PositiveIntegerField("readings in the file", validators=[MinValueValidator(2)])
    file_name = models.CharField("file", max_length=200)
    packed_file = models.BinaryField(editable=False)
    read_as = models.JSONField(default=dict)  # the columns and units that were chosen, to read the file again
    note = models.CharField(max_length=200, blank=True)

    UNTRACKED = Recorded.UNTRACKED | {"packed_file"}

    objects = LivingManager.from_queryset(PackLogQuerySet)()
    everything = PackLogQuerySet.as_manager()

    class Meta(Recorded.Meta):
        ordering = ["-started_at", "-id"]
        constraints = [models.UniqueConstraint(fields=["owner", "uuid"], name="pack_log_uuid")]
        indexes = [models.Index(fields=["pack", "kind", "started_at"], name="pack_log_at")]

    def __str__(self):
        return f"{self.get_kind_display()} of {self.started_at:%Y-%m-%d}"

    def get_absolute_url(self):
        return reverse("equipment:pack_log", args=[self.pk])

    @property
    def duration_h(self):
        return self.duration_s / 3600

    @property
    def file(self):
        """The file as it came."""
        return zlib.decompress(bytes(self.packed_file))

    @file.setter
    def file(self, content):
        self.packed_file = zlib.compress(content, 9)

    def take(self, name, content, log, found, read_as=None):
        """Take over a file: its name and bytes, what was read in it (a LogRead) and what it shows (a LogLook)."""
        self.file_name, self.file = name[-200:] or "log", content
        self.readings, self.read_as = len(log.seconds), read_as or {}
        self.kind, self.duration_s, self.ah, self.wh = found.kind, found.seconds, found.ah, found.wh
        self.end_v, self.end_a, self.cutoff_v = found.end_v, found.end_a, found.cutoff_v
        self.is_complete, self.longest_gap_share = found.is_complete, found.longest_gap_share
        if found.resistance:
            self.resistance_ohm, self.resistance_error_ohm = found.resistance.ohm, found.resistance.error_ohm
            self.load_steps = found.resistance.steps

    def use_for_pack(self):
        """Make what this log shows the measured values of its pack."""
        pack, changed = self.pack, []
        if self.kind == self.Kind.TEST and self.is_complete:
            pack.measured_ah, pack.measured_on = self.ah, self.started_at.date()
            changed += ["measured_ah", "measured_on"]
        if self.resistance_ohm is not None:
            pack.resistance_ohm = self.resistance_ohm
            changed.append("resistance_ohm")
        if changed:
            pack.save(update_fields=changed)
        return changed
