"""Files that contacts came from, and what was found in them."""

import contextlib
import datetime
import uuid

from django.conf import settings
from django.db import DatabaseError, models
from django.utils import timezone

from equipment.models import Owned, OwnedQuerySet

SILENCE = datetime.timedelta(seconds=90)  # work that has given no sign for so long has been killed


def upload_path(imported, filename):
    """Where an uploaded log is stored; the name is ours."""
    return f"imports/{imported.owner_id}/{imported.uuid.hex}.log"


class ImportedFileQuerySet(OwnedQuerySet):
    """Uploaded logs."""

    def with_content(self, sha256):
        """Files with the same content that are in the log now."""
        return self.filter(sha256=sha256, status=ImportedFile.Status.IMPORTED)


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

    owner = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.CASCADE, related_name="+", db_index=False
    )  # the index import_owner_at begins with it
    uuid = models.UUIDField(default=uuid.uuid4, editable=False, unique=True)
    name = models.CharField(max_length=200)
    file = models.FileField(upload_to=upload_path, blank=True)
    size_bytes = models.BigIntegerField(default=0)
    sha256 = models.CharField(max_length=64, blank=True)
    format = models.CharField(max_length=3, choices=Format, blank=True)
    status = models.CharField(max_length=10, choices=Status, default=Status.READING)
    uploaded_at = models.DateTimeField(default=timezone.now)
    finished_at = models.DateTimeField(null=True, blank=True)
    progress = models.PositiveIntegerField(default=0)
    total = models.PositiveIntegerField(null=True, blank=True)
    sign_at = models.DateTimeField(default=timezone.now, editable=False)  # when the work on it last gave a sign of life
    message = models.TextField(blank=True)
    choices = models.JSONField(default=dict, blank=True)  # by the operator: outing, equipment, gap rule
    summary = models.JSONField(default=dict, blank=True)  # header, encoding, span, call signs, bands, counts

    objects = ImportedFileQuerySet.as_manager()

    class Meta:
        ordering = ["-uploaded_at", "-id"]
        indexes = [models.Index(fields=["owner", "-uploaded_at"], name="import_owner_at")]

    def __str__(self):
        return self.name

    @property
    def is_at_work(self):
        """Whether it is being read or imported."""
        return self.status in (self.Status.READING, self.Status.IMPORTING)

    @property
    def percent(self):
        """How far the work is, as far as that is known."""
        return min(100, round(100 * self.progress / self.total)) if self.total else 0

    def earlier(self):
        """Another upload of the same content that is in the log; None where there is none."""
        return type(self).objects.of(self.owner_id).with_content(self.sha256).exclude(pk=self.pk).first()

    def begin(self, status):
        """Say that the work on it begins."""
        self.status, self.progress, self.message = status, 0, ""
        self.sign_at = timezone.now()
        self.save(update_fields=["status", "progress", "message", "sign_at"])

    def give_sign(self, progress, message=""):
        """Say how far the work is. Written at once, outside any transaction, so that a page can read it."""
        self.progress, self.message, self.sign_at = progress, message, timezone.now()
        type(self).objects.filter(pk=self.pk).update(progress=progress, message=message, sign_at=self.sign_at)

    def fail(self, message):
        """Say that the work ended without a result; nothing of it is in the log."""
        self.status, self.message, self.finished_at = self.Status.FAILED, message, timezone.now()
        self.save(update_fields=["status", "message", "finished_at"])

    def give_up_if_silent(self, now):
        """Where the work was killed, say so; the log is as it was, since an import is stored in one transaction."""
        if self.is_at_work and abs(now - self.sign_at) > SILENCE:  # a sign from ahead is of before the clock was set
            with contextlib.suppress(DatabaseError):  # a disk that takes nothing more can still be read
                ended = type(self).objects.filter(pk=self.pk, status=self.status, sign_at=self.sign_at).update(
                    status=self.Status.FAILED, finished_at=now,
                    message="The work on this file was interrupted. Nothing of it is in the log. Start it again.",
                )
                if ended:
                    self.refresh_from_db()

    def discard(self):
        """Forget an upload that is not in the log, with what was stored of it."""
        stored = self.file.name and self.file.storage
        name = self.file.name
        self.delete()
        if stored:
            stored.delete(name)


class ImportFinding(models.Model):
    """Something in an imported file that the operator should see: refused, changed, twice in the file, marked."""

    class Kind(models.TextChoices):
        REFUSED = "refused", "refused"
        CHANGED = "changed", "differs from the log"
        TWICE = "twice", "twice in this file"
        DELETED = "deleted", "deleted in the log"
        MARKED = "marked", "taken, with a value that is not to the standard"

    imported_file = models.ForeignKey(
        ImportedFile, on_delete=models.CASCADE, related_name="findings", db_index=False
    )  # the index finding_file_kind begins with it
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
