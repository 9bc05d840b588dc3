"""Rows that remember: an owner, a UUID, a revision, a tombstone, and the history of every change."""

import datetime
import uuid
from dataclasses import dataclass

from django.apps import apps
from django.conf import settings
from django.core.serializers.json import DjangoJSONEncoder
from django.db import models, transaction
from django.utils import timezone

from equipment import progress

CHUNK = 500  # rows that are locked, compared and written at once; below SQLite's limit of bound values


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


def chunks(rows):
    """A list in pieces of at most CHUNK."""
    return (rows[start:start + CHUNK] for start in range(0, len(rows), CHUNK))


def as_json(value):
    """A column's value as the history keeps it: moments to the microsecond, days and UUIDs as text."""
    if isinstance(value, datetime.datetime):
        return value.astimezone(datetime.UTC).isoformat()
    if isinstance(value, datetime.date):
        return value.isoformat()
    if isinstance(value, uuid.UUID):
        return str(value)
    return value


def from_json(field, value):
    """A value kept in the history as the column takes it."""
    if value is None or isinstance(field, models.JSONField):
        return value
    return getattr(field, "target_field", field).to_python(value)


class Recorded(Owned):
    """A row that is edited in several places (laptop, phone, file) and never vanishes without a trace.

    It is identified by a UUID made where it was typed, unique within its owner's rows. Change it with `keep`,
    delete it with `withdraw`: both raise the revision and write a `Change`.
    """

    owner = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.CASCADE, related_name="+", db_index=False
    )  # the unique (owner, uuid) of each such model begins with it
    uuid = models.UUIDField(default=uuid.uuid4, editable=False)
    revision = models.PositiveIntegerField(default=1, editable=False)
    created_at = models.DateTimeField(default=timezone.now, editable=False)
    changed_at = models.DateTimeField(default=timezone.now, editable=False)
    deleted_at = models.DateTimeField(null=True, blank=True, editable=False)

    objects = LivingManager.from_queryset(OwnedQuerySet)()
    everything = OwnedQuerySet.as_manager()

    UNTRACKED = frozenset({"id", "owner", "uuid", "revision", "created_at", "changed_at"})
    DERIVED = ()  # columns that follow from others: brought up to date by `derive`, so the history need not repeat them

    class Meta:
        abstract = True
        base_manager_name = "everything"

    @classmethod
    def tracked(cls):
        """The columns whose changes are kept in the history."""
        return [f.attname for f in cls._meta.concrete_fields if f.name not in {*cls.UNTRACKED, *cls.DERIVED}]

    @classmethod
    def derive(cls, rows):
        """Bring the derived columns of rows up to date; called whenever rows are kept."""

    @classmethod
    def tracked_field(cls, column):
        """The field behind a column of the history; None where a later version has dropped it."""
        return field_of(cls, column)

    def keep(self, actor, *, cause="edit", batch=None):
        """Save and write what changed into the history, in one transaction; returns the Change, None if nothing did.

        `actor` is the operator who does it, `cause` a word for the history page (edit, undo, mend, sync, ...),
        `batch` a UUID shared by changes that are taken back together.
        """
        changes = self.keep_all([self], actor, cause=cause, batch=batch)
        return changes[0] if changes else None

    @classmethod
    def keep_all(cls, rows, actor, *, cause="edit", batch=None):
        """Save many rows of this model as `keep` does, all or none, with few queries; returns the Changes."""
        rows, written = list(rows), []
        with transaction.atomic():
            leads = batch is None or not rows or not Change.objects.of(rows[0].owner_id).filter(batch=batch).exists()
            with progress.step("Storing rows", len(rows)) as did:
                for part in chunks(rows):
                    changes = cls._kept(part, actor, cause, batch)
                    if batch and changes:
                        changes[0].leads, leads = leads, False
                    written += Change.objects.bulk_create(changes)
                    did(len(part))
        return written

    @classmethod
    def _kept(cls, rows, actor, cause, batch):
        """Store a chunk of rows; their Changes, not yet stored."""
        columns = cls.tracked()
        cls.derive(rows)
        known = {
            values["pk"]: values for values in
            cls.everything.select_for_update().filter(pk__in=[row.pk for row in rows if row.pk]).order_by("pk")
            .values("pk", "revision", *columns)
        }
        changes, differing_columns, new, changed, now = [], set(), [], [], timezone.now()
        for row in rows:
            stored = known.get(row.pk)
            if stored is None:
                differing, before, action = columns, {}, Change.Action.CREATE
                row.changed_at = now
                new.append(row)
            else:
                differing = [c for c in columns if stored[c] != getattr(row, c)]
                if not differing:
                    continue
                row.changed_at, row.revision = now, stored["revision"] + 1
                before, action = {c: as_json(stored[c]) for c in differing}, Change.Action.CHANGE
                if "deleted_at" in differing:
                    action = Change.Action.DELETE if row.deleted_at else Change.Action.RESTORE
                differing_columns.update(differing)
                changed.append(row)
            changes.append(Change(
                owner_id=row.owner_id, actor=actor, cause=cause, batch=batch, leads=batch is None,
                kind=cls._meta.label_lower, subject=row.uuid, revision=row.revision, action=action,
                before=before, after={c: as_json(getattr(row, c)) for c in differing},
            ))
        if len(new) > 1 and cls.save is models.Model.save:
            cls.everything.bulk_create(new)
        else:
            for row in new:
                row.save(force_insert=True)
        if len(changed) == 1:
            changed[0].save(force_update=True)
        elif changed:
            written = [f.name for f in cls._meta.concrete_fields if f.attname in differing_columns]
            cls.everything.bulk_update(changed, [*written, *cls.DERIVED, "revision", "changed_at"], batch_size=100)
        return changes

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

    def moved_on(self, expected):
        """The columns that no longer hold what the history says they held after a change: {column: value} in JSON."""
        found = []
        for column, value in expected.items():
            field = self.tracked_field(column)
            if field is not None and getattr(self, column) != from_json(field, value):
                found.append(column)
        return found


@dataclass(frozen=True)
class Conflict:
    """Why a change cannot be taken back: the column has moved on, or what it named is gone (column "" is the row)."""

    kind: str
    subject: uuid.UUID
    row: str
    column: str
    was: object
    now: object
    reason: str


class CannotTakeBack(Exception):
    """Something was changed again since, so that taking back would undo more than was asked."""

    def __init__(self, conflicts):
        super().__init__("; ".join(f"{c.row}: {c.reason}" for c in conflicts[:5]))
        self.conflicts = conflicts


class ChangeQuerySet(OwnedQuerySet):
    """Lines of history."""

    def leading(self):
        """Single changes, and one for each batch, newest first: the lines of a history page."""
        return self.filter(leads=True).order_by("-id")

    def of_kinds(self, *models_):
        return self.filter(kind__in=[model._meta.label_lower for model in models_])

    def take_back(self, actor, *, cause="take back", dry_run=False):
        """Restore what stood before these changes, all or nothing; the number of rows that were restored.

        A created row is withdrawn, a deleted one comes back. The rows' later changes must have left the columns
        concerned alone: otherwise CannotTakeBack says which have moved on. `dry_run` only looks. The restoring is
        itself a batch of changes, so that it can be taken back in turn.
        """
        from . import gear_history

        gear = list(self.filter(whole__isnull=False).order_by("-id"))
        if gear:
            with transaction.atomic():
                count = gear_history.take_back(gear, apps.get_model, actor)
                count += self.filter(whole=None).take_back(actor, cause=cause, dry_run=dry_run)
                if dry_run:
                    transaction.set_rollback(True)
            return count
        subjects = {}
        lines = self.order_by("id").values("kind", "subject", "before", "after", "action")
        for line in progress.each(lines.iterator(CHUNK), "Reading the history", self.count):
            net = subjects.setdefault(line["kind"], {}).setdefault(
                line["subject"], {"created": False, "before": {}, "after": {}}
            )
            net["created"] |= line["action"] == Change.Action.CREATE
            net["before"] = {**line["before"], **net["before"]}
            net["after"].update(line["after"])
        owners = list(self.order_by().values_list("owner_id", flat=True).distinct()[:2])
        if len(owners) != 1:
            return 0
        batch, conflicts, restored = uuid.uuid4(), [], 0
        with transaction.atomic(), progress.step("Taking rows back", sum(map(len, subjects.values()))) as did:
            for kind, nets in subjects.items():
                model = apps.get_model(kind)
                for part in chunks(list(nets)):
                    rows, found = restorable(model, owners[0], {s: nets[s] for s in part}, subjects)
                    conflicts += found
                    if rows and not conflicts and not dry_run:
                        model.keep_all(rows, actor, cause=cause, batch=batch)
                    restored += len(rows)
                    did(len(part))
            if conflicts:
                raise CannotTakeBack(conflicts)
        return restored


def restorable(model, owner_id, nets, together):
    """Rows of a model set to what stood before (not yet saved), and the conflicts that stand against it.

    `nets` maps a row's UUID to the sum of its changes: {"created": bool, "before": {...}, "after": {...}};
    `together` holds the UUIDs of all rows that are restored in one go, by kind.
    """
    rows, conflicts = [], []
    stored = {
        row.uuid: row
        for row in model.everything.select_for_update(of=("self",)).filter(owner=owner_id, uuid__in=list(nets))
    }
    gone = missing_targets(model, nets, together)
    for subject, net in nets.items():
        row = stored.get(subject)
        if row is None:
            conflicts.append(Conflict(model._meta.label_lower, subject, str(subject), "", None, None, "is gone"))
            continue
        name, against = str(row), []
        if row.deleted_at and "deleted_at" not in net["after"]:
            against.append(Conflict(
                model._meta.label_lower, subject, name, "deleted_at", None, as_json(row.deleted_at),
                "was deleted since; bring it back first",
            ))
        for column in row.moved_on(net["after"]):
            against.append(Conflict(
                model._meta.label_lower, subject, name, column, net["after"][column], as_json(getattr(row, column)),
                f"{label(model, column)} was changed again since",
            ))
        for column, value in net["before"].items():
            if column in gone and value in gone[column]:
                against.append(Conflict(
                    model._meta.label_lower, subject, name, column, value, as_json(getattr(row, column)),
                    f"the {label(model, column)} that it had is gone",
                ))
        conflicts += against
        if against:
            continue
        if net["created"]:
            row.deleted_at = timezone.now()
        else:
            for column, value in net["before"].items():
                field = model.tracked_field(column)
                if field is not None:
                    setattr(row, column, from_json(field, value))
        rows.append(row)
    return rows, conflicts


def missing_targets(model, nets, together):
    """Foreign keys of what stood before that point to rows that are gone and do not come back too: {column: values}."""
    missing = {}
    for field in model._meta.concrete_fields:
        if not field.is_relation:
            continue
        wanted = {net["before"].get(field.attname) for net in nets.values() if not net["created"]} - {None}
        if wanted:
            target = field.related_model
            there = models.Q(pk__in=wanted)
            if issubclass(target, Recorded):
                there &= models.Q(deleted_at=None) | models.Q(uuid__in=list(together.get(target._meta.label_lower, ())))
            found = target._base_manager.filter(there).values_list("pk", flat=True)
            missing[field.attname] = wanted - set(found)
    return missing


def field_of(model, column):
    """The field behind a column or link of the history; None where a later version has dropped it."""
    found = (f for f in (*model._meta.concrete_fields, *model._meta.many_to_many) if f.attname == column)
    return next(found, None)


def label(model, column):
    """What a column is called on a page."""
    field = field_of(model, column)
    if column == "deleted_at":
        return "deletion"
    return column.replace("_", " ") if field is None else str(field.verbose_name)


class Change(Owned):
    """One line of history: who changed which row, when, from what to what."""

    class Action(models.TextChoices):
        CREATE = "create", "created"
        CHANGE = "change", "changed"
        DELETE = "delete", "deleted"
        RESTORE = "restore", "brought back"

    owner = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.CASCADE, related_name="+", db_index=False
    )  # several indexes begin with it
    actor = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.SET_NULL, null=True, related_name="+", db_index=False
    )
    at = models.DateTimeField(default=timezone.now)
    cause = models.CharField(max_length=40)
    batch = models.UUIDField(null=True, blank=True)
    leads = models.BooleanField(default=True, editable=False)  # alone, or the first of its batch
    kind = models.CharField(max_length=40)
    subject = models.UUIDField()
    revision = models.PositiveIntegerField()
    action = models.CharField(max_length=8, choices=Action)
    before = models.JSONField(default=dict, encoder=DjangoJSONEncoder)
    after = models.JSONField(default=dict, encoder=DjangoJSONEncoder)
    whole_kind = models.CharField(max_length=40, blank=True, editable=False)  # of gear: what the row belongs to
    whole = models.UUIDField(null=True, blank=True, editable=False)

    objects = ChangeQuerySet.as_manager()

    class Meta:
        indexes = [
            models.Index(fields=["owner", "kind", "subject"], name="change_subject"),
            models.Index(fields=["owner", "batch"], name="change_batch", condition=models.Q(batch__isnull=False)),
            models.Index(
                fields=["owner", "whole_kind", "whole"], name="change_whole",
                condition=models.Q(whole__isnull=False),
            ),
            models.Index(fields=["owner", "-id"], name="change_leading", condition=models.Q(leads=True)),
        ]

    def __str__(self):
        return f"{self.kind} {self.subject} {self.action}"

    def together(self):
        """This change with all of its batch."""
        rows = Change.objects.filter(owner=self.owner_id)
        return rows.filter(batch=self.batch) if self.batch else rows.filter(pk=self.pk)

    def take_back(self, actor):
        """Restore what stood before this one change; raises CannotTakeBack where its columns have moved on since."""
        return Change.objects.filter(pk=self.pk).take_back(actor)

    def take_back_batch(self, actor):
        """Restore what stood before the whole batch that this change belongs to, all or nothing."""
        return self.together().take_back(actor)
