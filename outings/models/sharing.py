"""Pages that an operator shows to everybody who has their address."""

import secrets

from django.db import models
from django.utils import timezone

from equipment.models import Owned, OwnedQuerySet

from .outings import Outing


def a_token():
    """32 bytes by chance, which nobody guesses."""
    return secrets.token_urlsafe(32)


class SharedReportQuerySet(OwnedQuerySet):
    """Reports of outings that are shown to others."""

    def open(self):
        """Those that were not withdrawn, of outings that were not deleted and accounts that are not closed."""
        return self.filter(withdrawn_at=None, outing__deleted_at=None, owner__is_active=True)


class SharedReport(Owned):
    """The report of one outing behind an address that works without an account until it is withdrawn."""

    outing = models.ForeignKey(Outing, on_delete=models.CASCADE, related_name="shared_reports")
    token = models.CharField(max_length=43, unique=True, default=a_token, editable=False)
    with_notes = models.BooleanField("with my notes", default=False)
    shared_at = models.DateTimeField(default=timezone.now, editable=False)
    withdrawn_at = models.DateTimeField(null=True, blank=True, editable=False)

    objects = SharedReportQuerySet.as_manager()

    class Meta:
        ordering = ["-shared_at", "-id"]

    def __str__(self):
        return f"{self.outing}, shared {self.shared_at:%Y-%m-%d}"

    def withdraw(self, now):
        """From now on the address leads nowhere."""
        self.withdrawn_at = now
        self.save(update_fields=["withdrawn_at"])
