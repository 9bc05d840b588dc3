"""What the pages of changes read: who changed what, when, from what to what, in words."""

from dataclasses import dataclass

from django.apps import apps
from django.db import models

from equipment.models import CannotTakeBack, Change, gear_history
from equipment.models.history import field_of, from_json, label
from outings.models import ChecklistLine, Contact, Outing, Pause, Remark, Stint

PAGE = 40
WHOLE_ROWS = (Change.Action.CREATE, Change.Action.DELETE)
HIDDEN = frozenset({"seconds_known", "imported_by_id", "raw", "problems", "position"})  # of no meaning to a reader


@dataclass(frozen=True)
class ColumnChange:
    """One column of a change; values as the column holds them, rows that it names as their names."""

    column: str
    label: str
    before: object
    after: object


@dataclass(frozen=True)
class Entry:
    """One line of a history page: a change, or (where `count` is more than 1) a batch that it stands for.

    `row` is the changed row itself, None where it is gone; `recent` says whether it still holds what this change
    gave it, so that it can be taken back without touching anything that came later.
    """

    change: Change
    kind: str
    row: object
    columns: tuple
    count: int
    recent: bool


def entries(changes, counts=None):
    """Lines of history in words, with one query for each kind of row that they concern or name."""
    changes = list(changes)
    rows, names = rows_of(changes), names_in(changes)
    found = []
    for change in changes:
        model = apps.get_model(change.kind)
        row = rows.get((change.kind, change.subject))
        columns = tuple(
            ColumnChange(column, label(model, column), *(
                named(model, column, values.get(column), names) for values in (change.before, change.after)
            ))
            for column in (change.after or change.before) if column not in HIDDEN and column != "deleted_at"
            and (change.action not in WHOLE_ROWS or told(change, column) not in (None, "", [], False))
        )
        if change.whole:
            recent = not gear_history.moved_on(row, change)
        else:
            recent = row is not None and not row.moved_on(change.after)
        found.append(Entry(
            change, str(model._meta.verbose_name), row, columns, (counts or {}).get(change.batch, 1), recent,
        ))
    return tuple(found)


def told(change, column):
    """What a line that tells of a whole row has for a column."""
    return (change.after or change.before)[column]


def rows_of(changes):
    """The rows that changes concern: {(kind, uuid): row}, the deleted ones too."""
    wanted, gear = {}, {}
    for change in changes:
        if change.whole:
            gear.setdefault(change.kind, set()).add(change.subject)
        else:
            wanted.setdefault((change.kind, change.owner_id), set()).add(change.subject)
    found = {
        (kind, gear_history.identity(row.pk)): row
        for kind, subjects in gear.items()
        for row in apps.get_model(kind)._base_manager.filter(pk__in=[subject.int for subject in subjects])
    }
    return found | {
        (kind, row.uuid): row
        for (kind, owner_id), subjects in wanted.items()
        for row in with_names(apps.get_model(kind).everything.filter(owner=owner_id, uuid__in=subjects))
    }


def with_names(rows):
    """Rows with what their names are made of."""
    return rows.select_related("site") if rows.model is Outing else rows


def names_in(changes):
    """The names of rows that changed columns point to: {(model, primary key): name}."""
    wanted = {}
    for change in changes:
        model = apps.get_model(change.kind)
        for column in {*change.before, *change.after}:
            field = field_of(model, column)
            if field is not None and field.is_relation and column not in HIDDEN:
                held = [change.before.get(column), change.after.get(column)]
                keys = {key for value in held for key in (value if isinstance(value, list) else [value])} - {None}
                wanted.setdefault(field.related_model, set()).update(keys)
    return {
        (model, row.pk): str(row)
        for model, keys in wanted.items() if keys
        for row in with_names(model._base_manager.filter(pk__in=keys))
    }


def named(model, column, value, names):
    """A value of the history as its column holds it, a row that it points to as its name."""
    field = field_of(model, column)
    if field is None or value is None:
        return value
    if field.many_to_many:
        return [names.get((field.related_model, key), "one that is gone") for key in value]
    if field.is_relation:
        return names.get((field.related_model, value), "one that is gone")
    value = from_json(field, value)
    return dict(field.flatchoices).get(value, value) if field.choices else value


def page_of(lines, before):
    """A page of changes, those before the one numbered `before`, and the number to go on from (None at the end)."""
    if before:
        lines = lines.filter(pk__lt=before)
    found = list(lines.select_related("actor")[:PAGE + 1])
    return found[:PAGE], found[PAGE - 1].pk if len(found) > PAGE else None


def history_of(row):
    """All entries of one row, newest first."""
    return entries(row.history().select_related("actor"))


def history_of_gear(thing):
    """The newest entries of a piece of gear or a site, and of what belongs to it."""
    return entries(gear_history.history_of(thing).select_related("actor")[:PAGE])


def all_changes(operator, before=None):
    """A page of everything that was changed, a batch as one line: (entries, number to go on from)."""
    found, onwards = page_of(Change.objects.of(operator).leading(), before)
    batches = [change.batch for change in found if change.batch]
    counts = dict(
        Change.objects.of(operator).filter(batch__in=batches).order_by().values("batch")
        .annotate(n=models.Count("pk")).values_list("batch", "n")
    ) if batches else {}
    return entries(found, counts), onwards


def outing_changes(outing, before=None):
    """A page of what was changed in an outing, its stints, pauses, contacts, remarks: (entries, where to go on)."""
    stints = Stint.everything.filter(outing=outing)
    # a union, each part of which is looked up in the index change_subject; with "or" the whole history is gone through
    parts = [
        Change.objects.of(outing.owner_id).filter(kind=rows.model._meta.label_lower, subject__in=rows.values("uuid"))
        .order_by().values("pk")
        for rows in (
            Outing.everything.filter(pk=outing.pk), stints, Pause.everything.filter(stint__in=stints),
            *(model.everything.filter(outing=outing) for model in (Contact, ChecklistLine, Remark)),
        )
    ]
    within = parts[0].union(*parts[1:], all=True)
    found, onwards = page_of(Change.objects.filter(pk__in=within).order_by("-id"), before)
    return entries(found), onwards


def batch_of(change, operator):
    """One change or its whole batch: its first lines, their number, and what stands against taking it back."""
    lines = change.together()
    try:
        lines.take_back(operator, dry_run=True)
        conflicts = ()
    except CannotTakeBack as refused:
        conflicts = tuple(refused.conflicts)
    return {
        "change": change, "count": lines.count(), "conflicts": conflicts[:PAGE], "conflict_count": len(conflicts),
        "entries": entries(lines.select_related("actor").order_by("id")[:PAGE]),
    }
