"""Reception reports: who heard this station at an outing, when and how well, as receivers reported it."""

from django.core.validators import MinValueValidator
from django.db import models

from equipment.models import Owned
from equipment.numerals import Numeral

from .outings import Outing


class ReceptionFile(Owned):
    """One file of reports as it was brought in; deleting it takes its reports along."""

    outing = models.ForeignKey(Outing, on_delete=models.CASCADE, related_name="reception_files")
    name = models.CharField(max_length=120)
    added_at = models.DateTimeField(auto_now_add=True)
    lines = models.PositiveIntegerField()
    problems = models.JSONField(default=list)  # [[line number, why it was not taken], ...]

    class Meta:
        ordering = ["-added_at", "-id"]

    def __str__(self):
        return self.name


class ReceptionReport(Owned):
    """One report: a receiver heard this station at a moment on a frequency, so many decibels over the noise."""

    file = models.ForeignKey(ReceptionFile, on_delete=models.CASCADE, related_name="reports")
    outing = models.ForeignKey(Outing, on_delete=models.CASCADE, related_name="reception_reports", db_index=False)
    at = models.DateTimeField()
    receiver = models.CharField(max_length=30)  # its call, else its grid square
    grid = models.CharField(max_length=12, blank=True)
    frequency_hz = models.BigIntegerField("frequency", validators=[MinValueValidator(0)])
    band = models.CharField(max_length=8, blank=True)
    snr_db = models.FloatField("SNR")

    class Meta:
        ordering = ["at", "id"]
        constraints = [
            models.UniqueConstraint(fields=["outing", "receiver", "at", "frequency_hz"], name="reception_once"),
        ]

    def __str__(self):
        return f"{self.receiver} {self.at:%Y-%m-%d %H:%M} {Numeral(self.snr_db):g} dB"
