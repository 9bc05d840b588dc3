"""Files that contacts came from, and what was found in them."""

import uuid

from django.db import models

from equipment.models import Owned


def upload_path(imported, filename):
    """Where an uploaded log is stored; the name is ours."""
    return f"imports/{imported.owner_id}/{imported.uuid.hex}.log"


class ImportedFile(Owned):
    """One uploaded log: staged, previewed, imported whole or not at all, undone whole."""

    class Status(models.TextChoices):
        READING = "reading", "being read"
        READ = "read", "read, not yet imported"
        IMPORTING = "importing", "being imported"
        IMPORTED = "imported", "imported"
        UNDONE = "undone", "undone"
        FAILED = "failed", "failed"

    class Format(models.TextChoices):
        ADI = "adi", "ADI"
        ADX = "adx", "ADX"

    uuid = models.UUIDField(default=uuid.uuid4, editable=False, unique=True)
    name = models.CharField(max_length=200)
    file = models.FileField(upload_to=upload_path, blank=True)
    size_bytes = models.BigIntegerField(default=0)
    sha256 = models.CharField(max_length=64, blank=True)
    format = models.CharField(max_length=3, choices=Format, blank=True)
    status = models.CharField(max_length=10, choices=Status, default=Status.READING)
    uploaded_at = models.DateTimeField(auto_now_add=True)
    finished_at = models.DateTimeField(null=True, blank=True)
    progress = models.PositiveIntegerField(default=0)
    total = models.PositiveIntegerField(null=True, blank=True)
    message = models.TextField(blank=True)
    choices = models.JSONField(default=dict, blank=True)  # by the operator: outing, equipment, gap rule
    summary = models.JSONField(default=dict, blank=True)  # header, encoding, span, call signs, bands, counts

    class Meta:
        ordering = ["-uploaded_at", "-id"]
        indexes = [models.Index(fields=["owner", "-uploaded_at"], name="import_owner_at")]

    def __str__(self):
        return self.name


class ImportFinding(models.Model):
    """Something in an imported file that the operator should see: refused, changed, twice in the file, marked."""

    class Kind(models.TextChoices):
        REFUSED = "refused", "refused"
        CHANGED = "changed", "differs from the log"
        TWICE = "twice", "twice in this file"
        MARKED = "marked", "kept, with a value that is not to the standard"

    imported_file = models.ForeignKey(ImportedFile, on_delete=models.CASCADE, related_name="findings")
    kind = models.CharField(max_length=8, choices=Kind)
    record = models.PositiveIntegerField()
    line = models.PositiveIntegerField(null=True, blank=True)
    field = models.CharField(max_length=80, blank=True)
    reason = models.TextField()
    excerpt = models.TextField(blank=True)

    class Meta:
        ordering = ["record", "id"]
        indexes = [models.Index(fields=["imported_file", "kind", "record"], name="finding_file_kind")]

    def __str__(self):
        return self.reason
