"""Rows that remember: an owner, a UUID, a revision, a tombstone, and the history of every change."""

import uuid

from django.conf import settings
from django.core.serializers.json import DjangoJSONEncoder
from django.db import models, transaction
from django.utils import timezone


class OwnedQuerySet(models.QuerySet):
    """Rows that belong to an account."""

    def of(self, operator):
        """Keep the rows of one operator; every read in a view begins with this."""
        return self.filter(owner=operator)


class Owned(models.Model):
    """A row that belongs to exactly one operator account."""

    owner = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.CASCADE, related_name="+")

    objects = OwnedQuerySet.as_manager()

    class Meta:
        abstract = True


class LivingManager(models.Manager):
    """Leaves out rows that were deleted."""

    def get_queryset(self):
        return super().get_queryset().filter(deleted_at__isnull=True)


class Recorded(Owned):
    """A row that is edited in several places (laptop, phone, file) and never vanishes without a trace.

    It is identified by a UUID made where it was typed, unique within its owner's rows. Change it with `keep`,
    delete it with `withdraw`: both raise the revision and write a `Change`.
    """

    uuid = models.UUIDField(default=uuid.uuid4, editable=False)
    revision = models.PositiveIntegerField(default=1, editable=False)
    created_at = models.DateTimeField(default=timezone.now, editable=False)
    changed_at = models.DateTimeField(default=timezone.now, editable=False)
    deleted_at = models.DateTimeField(null=True, blank=True, editable=False)

    objects = LivingManager.from_queryset(OwnedQuerySet)()
    everything = OwnedQuerySet.as_manager()

    UNTRACKED = frozenset({"id", "owner", "uuid", "revision", "created_at", "changed_at"})

    class Meta:
        abstract = True
        base_manager_name = "everything"

    @classmethod
    def tracked(cls):
        """The columns whose changes are kept in the history."""
        return [f.attname for f in cls._meta.concrete_fields if f.name not in cls.UNTRACKED]

    def keep(self, actor, *, cause="edit", batch=None):
        """Save and write what changed into the history, in one transaction; returns the Change, None if nothing did.

        `actor` is the operator who does it, `cause` a word for the history page (edit, undo, mend, sync, ...),
        `batch` a UUID shared by changes that are taken back together.
        """
        columns = self.tracked()
        with transaction.atomic():
            stored = None
            if self.pk:
                row = type(self).everything.select_for_update().filter(pk=self.pk)
                stored = row.values("revision", *columns).first()
            self.changed_at = timezone.now()
            if stored is None:
                self.save(force_insert=True)
                before, after, action = {}, {c: getattr(self, c) for c in columns}, Change.Action.CREATE
            else:
                differing = [c for c in columns if stored[c] != getattr(self, c)]
                if not differing:
                    return None
                self.revision = stored["revision"] + 1
                self.save()
                before, after = {c: stored[c] for c in differing}, {c: getattr(self, c) for c in differing}
                action = Change.Action.CHANGE
                if "deleted_at" in differing:
                    action = Change.Action.DELETE if self.deleted_at else Change.Action.RESTORE
            return Change.objects.create(
                owner_id=self.owner_id, actor=actor, cause=cause, batch=batch, kind=self._meta.label_lower,
                subject=self.uuid, revision=self.revision, action=action, before=before, after=after,
            )

    def withdraw(self, actor, *, cause="delete", batch=None):
        """Delete with a trace: the row stays as a tombstone and can be brought back."""
        self.deleted_at = timezone.now()
        return self.keep(actor, cause=cause, batch=batch)

    def bring_back(self, actor, *, cause="restore", batch=None):
        """Undo a deletion."""
        self.deleted_at = None
        return self.keep(actor, cause=cause, batch=batch)

    def history(self):
        """All changes of this row, newest first."""
        return Change.objects.of(self.owner_id).filter(kind=self._meta.label_lower, subject=self.uuid).order_by("-id")


class Change(Owned):
    """One line of history: who changed which row, when, from what to what."""

    class Action(models.TextChoices):
        CREATE = "create", "created"
        CHANGE = "change", "changed"
        DELETE = "delete", "deleted"
        RESTORE = "restore", "brought back"

    actor = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.SET_NULL, null=True, related_name="+")
    at = models.DateTimeField(default=timezone.now)
    cause = models.CharField(max_length=40)
    batch = models.UUIDField(null=True, blank=True)
    kind = models.CharField(max_length=40)
    subject = models.UUIDField()
    revision = models.PositiveIntegerField()
    action = models.CharField(max_length=8, choices=Action)
    before = models.JSONField(default=dict, encoder=DjangoJSONEncoder)
    after = models.JSONField(default=dict, encoder=DjangoJSONEncoder)

    class Meta:
        indexes = [
            models.Index(fields=["owner", "kind", "subject"], name="change_subject"),
            models.Index(fields=["owner", "batch"], name="change_batch", condition=models.Q(batch__isnull=False)),
        ]

    def __str__(self):
        return f"{self.kind} {self.subject} {self.action}"
