"""What the pages of contacts read: the list, in pages that cost the same in a log of any length."""

from dataclasses import dataclass

from django.db import models

from equipment.models.history import from_json, label
from outings.models import Contact, ContactConflict, Outing, Stint

from . import marks

PAGE = 50
COUNTED = 2_000  # counting stops here: a page need not wait for the exact number of a long log

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


def contact_page(contacts, chosen, *, after="", before="", size=PAGE):
    """One page of an operator's contacts under a ContactFilter.

    `after` and `before` are the marks of the neighbouring pages; a mark that cannot be read gives the first page.
    """
    column, descending = ORDERS[chosen.cleaned_data.get("sort", "") if chosen.is_valid() else ""]
    if column == "distance_km":
        contacts = contacts.filter(distance_km__isnull=False)
    # in the order of an index, else PostgreSQL may go through the contacts of others until it has found so many
    order = () if chosen.is_valid() and chosen.cleaned_data.get("call") else (column,)
    found = list(chosen.filtered(contacts).order_by(*order).values_list("pk", flat=True)[:COUNTED + 1])
    count = len(found)
    # few ones are known now, so that the log is not searched through again; of many a page is soon found
    rows = chosen.walked(contacts) if count > COUNTED else contacts.filter(pk__in=found)
    rows = rows.select_related("outing__site").defer("raw", "notes").annotate(
        in_conflict=models.Exists(
            ContactConflict.objects.filter(contact=models.OuterRef("pk"), settled_at__isnull=True)
        ),
    )
    found, previous, onwards = marks.page(rows, column, descending, after=after, before=before, size=size)
    return ContactPage(
        contacts=found, count=min(count, COUNTED), counted=count <= COUNTED, previous=previous, next=onwards,
    )


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
