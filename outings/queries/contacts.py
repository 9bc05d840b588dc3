"""What the pages of contacts read: the list, in pages that cost the same in a log of any length."""

import datetime
from dataclasses import dataclass

from django.db import models

from equipment.models.history import from_json, label
from outings.models import Contact, ContactConflict, Outing, Stint

PAGE = 50
COUNTED = 10_000  # counting stops here: a page need not wait for the exact number of a long log

ORDERS = {
    "": ("started_at", True), "oldest": ("started_at", False), "call": ("call", False), "-call": ("call", True),
    "farthest": ("distance_km", True),
}


@dataclass(frozen=True)
class ContactPage:
    """Contacts of a page in order, and where the pages beside it begin (None where there is none).

    `count` is how many the filter names, `counted` says whether that is all or the counting stopped there.
    """

    contacts: tuple
    count: int
    counted: bool
    previous: str | None
    next: str | None


def contact_page(operator, chosen, *, after="", before="", size=PAGE):
    """One page of an operator's contacts under a ContactFilter.

    `after` and `before` are the marks of the neighbouring pages; a mark that cannot be read gives the first page.
    """
    rows = chosen.filtered(Contact.objects.of(operator))
    column, descending = ORDERS[chosen.cleaned_data.get("sort", "") if chosen.is_valid() else ""]
    if column == "distance_km":
        rows = rows.filter(distance_km__isnull=False)
    count = rows.order_by()[:COUNTED + 1].values("pk").count()
    mark = read_mark(column, before or after)
    backwards = bool(before and mark)
    if mark:
        rows = beyond(rows, column, mark, descending != backwards)
    sign = "-" if descending != backwards else ""
    rows = rows.order_by(f"{sign}{column}", f"{sign}id").select_related("outing__site").defer("raw", "notes").annotate(
        in_conflict=models.Exists(
            ContactConflict.objects.filter(contact=models.OuterRef("pk"), settled_at__isnull=True)
        ),
    )
    found = list(rows[:size + 1])
    more, found = len(found) > size, found[:size]
    if backwards:
        found.reverse()
    first, last = (written_mark(column, found[0]), written_mark(column, found[-1])) if found else (None, None)
    return ContactPage(
        contacts=tuple(found), count=min(count, COUNTED), counted=count <= COUNTED,
        previous=first if (more if backwards else mark) else None,
        next=last if (more or backwards) else None,
    )


def beyond(rows, column, mark, descending):
    """Rows that come after a mark; said so that the index on the column is read from there on."""
    value, pk = mark
    if descending:
        return rows.filter(**{f"{column}__lte": value}).exclude(**{column: value, "pk__gte": pk})
    return rows.filter(**{f"{column}__gte": value}).exclude(**{column: value, "pk__lte": pk})


def written_mark(column, contact):
    """Where a contact stands in an order, as text for an address."""
    value = getattr(contact, column)
    return f"{value.isoformat() if column == 'started_at' else value}~{contact.pk}"


def read_mark(column, text):
    """(value, primary key) of a mark; None for one that cannot be read."""
    value, _, pk = text.rpartition("~")
    try:
        if column == "started_at":
            value = datetime.datetime.fromisoformat(value)
            if value.tzinfo is None:
                return None
        elif column == "distance_km":
            value = float(value)
        pk = int(pk)
    except ValueError:
        return None
    return (value, pk) if 0 < pk < 2**63 and "\0" not in str(value) else None


def station_calls(operator):
    """The calls that an operator has used on the air, to choose from: those of the outings, in order."""
    calls = Outing.objects.of(operator).exclude(station_call="").order_by("station_call")
    return tuple(calls.values_list("station_call", flat=True).distinct())


@dataclass(frozen=True)
class Difference:
    """A column in which the version of a conflict differs from the log."""

    column: str
    label: str
    in_log: object
    other: object


@dataclass(frozen=True)
class Conflict:
    """A conflict that is to be settled, with what is different in it."""

    row: ContactConflict
    differences: tuple


def conflicts_of(contact):
    """The conflicts of a contact that nobody has settled yet, newest first."""
    found = []
    for row in ContactConflict.objects.filter(contact=contact, settled_at__isnull=True):
        differences = []
        for column, value in row.values.items():
            field = Contact.tracked_field(column)
            if field is None or column not in Contact.tracked():
                continue
            in_log, other = getattr(contact, column), from_json(field, value)
            if in_log != other:
                if column == "stint_id":
                    in_log, other = (Stint.everything.filter(pk=key).first() for key in (in_log, other))
                differences.append(Difference(column, label(Contact, column), in_log, other))
        found.append(Conflict(row, tuple(differences)))
    return tuple(found)
