"""The history of gear and sites: each row that is saved, linked or deleted leaves a Change, by whatever door it came.

Rows of gear carry no UUID or revision; in the history their key stands as a UUID, and what belongs to a whole (a
radio's power settings, a kit's lines) names it, so that a page of the whole can show all of it. What is deleted can be
brought back under its old key, since keys are never used twice.
"""

import contextlib
import uuid
from contextvars import ContextVar
from dataclasses import dataclass, field

from django.core.exceptions import ObjectDoesNotExist
from django.db import models, transaction
from django.db.models.signals import m2m_changed, post_delete, post_save, pre_save

from .history import CannotTakeBack, Change, Conflict, as_json, field_of, from_json, label

FOLLOWED = {}  # {model: name of the field that leads to the whole; "" for a whole}


@dataclass
class Acting:
    """Who is at work, and the batch that what they change belongs to."""

    actor: object
    cause: str = "edit"
    batch: uuid.UUID = field(default_factory=uuid.uuid4)
    leads: set = field(default_factory=set)  # owners that have a first change of it


_acting = ContextVar("acting", default=None)
_unrecorded = ContextVar("unrecorded", default=False)


@contextlib.contextmanager
def acting_as(actor, cause="edit"):
    """Changes of gear inside are this operator's, and belong together."""
    token = _acting.set(Acting(actor, cause))
    try:
        yield
    finally:
        _acting.reset(token)


@contextlib.contextmanager
def unrecorded():
    """Changes of gear inside leave no history: the demo scenario comes and goes as a whole."""
    token = _unrecorded.set(True)
    try:
        yield
    finally:
        _unrecorded.reset(token)


def follow(model, whole="", links=()):
    """Record what happens to the rows of a model, and to its links to others."""
    FOLLOWED[model] = whole
    name = model._meta.label_lower
    pre_save.connect(_before_save, model, dispatch_uid=f"history {name}")
    post_save.connect(_after_save, model, dispatch_uid=f"history {name}")
    post_delete.connect(_after_delete, model, dispatch_uid=f"history {name}")
    for link in links:
        m2m_changed.connect(_linked, getattr(model, link).through, dispatch_uid=f"history {name} {link}")


def identity(pk):
    """The key of a row as the history names it."""
    return uuid.UUID(int=pk)


def columns(model):
    """The columns whose changes are kept: all but keys, owners and files, which are replaced whole."""
    return [
        f.attname for f in model._meta.concrete_fields
        if not (f.primary_key or f.name == "owner" or getattr(f.remote_field, "parent_link", False)
                or isinstance(f, models.FileField | models.BinaryField) or f.name == "id")
    ]


def values_of(row):
    return {column: as_json(getattr(row, column)) for column in columns(type(row))}


def whole_of(row):
    """The row that a row belongs to; itself for a whole. None where that is gone."""
    name = FOLLOWED[type(row)]
    try:
        return getattr(row, name) if name else row
    except ObjectDoesNotExist:
        return None


def _before_save(sender, instance, raw, **_):
    if raw or _unrecorded.get():
        return
    stored = sender._base_manager.filter(pk=instance.pk).values(*columns(sender)).first() if instance.pk else None
    instance._stored = stored and {column: as_json(value) for column, value in stored.items()}


def _after_save(sender, instance, raw, created, **_):
    if raw or _unrecorded.get():
        return
    before, now = getattr(instance, "_stored", None), values_of(instance)
    if created or before is None:
        _write(instance, Change.Action.CREATE, {}, now)
        return
    differing = [column for column in now if now[column] != before[column]]
    if differing:
        _write(
            instance, Change.Action.CHANGE, {c: before[c] for c in differing}, {c: now[c] for c in differing}
        )


def _after_delete(sender, instance, **_):
    if not _unrecorded.get():
        _write(instance, Change.Action.DELETE, values_of(instance), {})


def _linked(sender, instance, action, reverse, pk_set, **_):
    if _unrecorded.get() or reverse or action not in ("pre_add", "pre_remove", "pre_clear"):
        return
    link = next(f for f in type(instance)._meta.many_to_many if f.remote_field.through is sender)
    before = sorted(getattr(instance, link.name).values_list("pk", flat=True))
    after = {"pre_add": {*before, *(pk_set or ())}, "pre_remove": {*before} - (pk_set or set()), "pre_clear": set()}
    after = sorted(after[action])
    if before != after:
        _write(instance, Change.Action.CHANGE, {link.name: before}, {link.name: after})


def _write(row, action, before, after):
    whole = whole_of(row)
    owner_id = whole.owner_id if whole is not None else None
    if owner_id is None:
        return
    acting = _acting.get()
    leads = acting is None or owner_id not in acting.leads
    if acting:
        acting.leads.add(owner_id)
    Change.objects.create(
        owner_id=owner_id, actor=acting.actor if acting else None, cause=acting.cause if acting else "edit",
        batch=acting.batch if acting else None, leads=leads,
        kind=row._meta.label_lower, subject=identity(row.pk), revision=1, action=action, before=before,
        after=after, whole_kind=whole._meta.label_lower, whole=identity(whole.pk),
    )


def history_of(thing):
    """All changes of a whole and of what belongs to it, newest first."""
    return Change.objects.of(thing.owner_id).filter(
        whole_kind=thing._meta.label_lower, whole=identity(thing.pk)
    ).order_by("-id")


def moved_on(row, change):
    """Whether a row no longer is as a change left it; `row` is None where it is gone."""
    if change.action == Change.Action.DELETE:
        return row is not None
    if row is None:
        return True
    model = type(row)
    return any(
        _now(row, column) != value for column, value in change.after.items() if field_of(model, column) is not None
    )


def _now(row, column):
    """What a column or link holds, as the history keeps it."""
    link = field_of(type(row), column)
    if link.many_to_many:
        return sorted(getattr(row, column).values_list("pk", flat=True))
    return as_json(getattr(row, column))


def take_back(changes, model_of, actor):
    """Undo changes of gear, the last first, all or nothing; how many. CannotTakeBack where something moved on since.

    `changes` is a list ordered newest first, all of followed models; `model_of` gives the model of a kind.
    """
    conflicts = []
    with transaction.atomic(), acting_as(actor, "take back"):
        for change in changes:
            model = model_of(change.kind)
            row = model._base_manager.filter(pk=change.subject.int).first()
            if moved_on(row, change):
                reason = "is there again" if change.action == Change.Action.DELETE else "was changed again since"
                conflicts.append(Conflict(
                    change.kind, change.subject, str(row or "that is gone"), "", None, None,
                    reason if row is not None else "is gone",
                ))
                continue
            try:
                with transaction.atomic():
                    _undo(change, model, row)
            except models.ProtectedError as error:
                users = ", ".join(sorted({str(one._meta.verbose_name) for one in error.protected_objects}))
                conflicts.append(Conflict(
                    change.kind, change.subject, str(row), "", None, None, f"is used since, by a {users}",
                ))
            except ObjectDoesNotExist as error:
                conflicts.append(Conflict(change.kind, change.subject, str(row or change), "", None, None, str(error)))
        if conflicts:
            raise CannotTakeBack(conflicts)
    return len(changes)


def _undo(change, model, row):
    if change.action == Change.Action.CREATE:
        row.delete()
        return
    if row is None:
        row = model(pk=change.subject.int)
        if any(f.name == "owner" for f in model._meta.concrete_fields):
            row.owner_id = change.owner_id
    links = {}
    for column, value in change.before.items():
        found = field_of(model, column)
        if found is None:
            continue
        if found.many_to_many:
            links[column] = value
            continue
        if found.is_relation and value is not None and not found.related_model._base_manager.filter(pk=value).exists():
            raise ObjectDoesNotExist(f"the {label(model, column)} that it had is gone")
        setattr(row, column, from_json(found, value))
    row.save()
    for name, keys in links.items():
        getattr(row, name).set(keys)
