"""What refers to a piece of gear, in whichever app: as long as something does, it is retired and not deleted."""

from dataclasses import dataclass

from django.db import models

from equipment.models import Recorded


@dataclass(frozen=True)
class Reference:
    """How many rows of one kind refer to it; `deleted` of them are tombstones that could come back."""

    words: str
    words_for_many: str
    count: int
    deleted: int

    def __str__(self):
        living = self.count - self.deleted
        parts = []
        if living:
            parts.append(f"{living} {self.words if living == 1 else self.words_for_many}")
        if self.deleted:
            parts.append(
                f"{self.deleted} deleted {self.words if self.deleted == 1 else self.words_for_many} that can come back"
            )
        return " and ".join(parts)


def references(row):
    """What stands against deleting a row: a list of Reference, empty where it may go.

    Parts that have no life of their own (settings, lines) go with it; the arrangements of an antenna go too, unless
    something refers to one of them. Records (readings, stints) never go silently.
    """
    found = {}
    collect(type(row), [row.pk], found)
    return [
        Reference(str(model._meta.verbose_name), str(model._meta.verbose_name_plural), count, deleted)
        for model, (count, deleted) in found.items() if count
    ]


def collect(model, pks, found):
    """Count what refers to rows of a model, into `found`: {model: (count, deleted)}."""
    for relation in model._meta.get_fields(include_hidden=True):
        if not isinstance(relation, models.ForeignObjectRel) or getattr(relation, "parent_link", False):
            continue
        other = relation.related_model
        is_record = issubclass(other, Recorded)
        rows = (other.everything if is_record else other._base_manager).filter(**{f"{relation.field.name}__in": pks})
        if isinstance(relation, models.ManyToManyRel):
            add(found, other, rows.filter(deleted_at=None) if is_record else rows)
        elif other._meta.auto_created or relation.related_model is model:
            continue  # the table behind a many-to-many field, seen above
        elif relation.on_delete is models.CASCADE and not is_record:
            below = list(rows.values_list("pk", flat=True))
            if below:
                collect(other, below, found)
        elif relation.on_delete is models.PROTECT:
            add(found, other, rows, rows.exclude(deleted_at=None) if is_record else None)
        else:
            add(found, other, rows.filter(deleted_at=None) if is_record else rows)


def add(found, model, rows, deleted=None):
    count, gone = found.get(model, (0, 0))
    found[model] = (count + rows.distinct().count(), gone + (0 if deleted is None else deleted.distinct().count()))
