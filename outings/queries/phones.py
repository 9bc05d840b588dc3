"""What the page of phones reads: which phones handed in what and when, their clocks, conflicts, remarks."""

import datetime
import statistics
from collections import Counter
from dataclasses import dataclass
from urllib.parse import urlencode

from django.contrib.auth import get_user_model
from django.urls import reverse

from equipment.models.history import as_json, label
from outings.models import Contact, FieldEntry

from . import changes
from .contacts import Difference

SPREAD_S = 10  # errors of a clock that are no further apart than this are one error, measured several times
WORDS = {
    "outing": "changes of the outing", "stint": "stints", "pause": "pauses", "contact": "contacts",
    "reading": "readings", "remark": "remarks", "tick": "ticks",
}

NAMED_BY = {"outing": ("site",)}  # what the name of a row is made of


@dataclass(frozen=True)
class WrongClock:
    """A stretch of hand-ins by a phone whose clock was off: `error_s` is phone minus server, positive if fast.

    `contacts` is the number of those that still have the time that the phone gave; `mend` is the address where they can
    be shifted, with the shift filled in.
    """

    error_s: float
    least_s: float
    most_s: float
    contacts: int
    mend: str


@dataclass(frozen=True)
class Phone:
    """A phone and what it handed in: entries by kind, deletions and entries that came late, in words with numbers."""

    number: int
    name: str  # what its operator calls it, or what it is; "" of one that was never paired
    mark: str  # the beginning of its UUID
    call_sign: str
    entries: int
    kinds: tuple
    deletions: int
    older: int
    first_at: datetime.datetime
    last_at: datetime.datetime
    error_s: float
    clocks: tuple

    @property
    def at_once(self):
        """Whether it handed in within a minute."""
        return self.last_at - self.first_at < datetime.timedelta(minutes=1)


@dataclass(frozen=True)
class Conflict:
    """An entry that met another change of its row, with what is different; `row` is the row as it stands."""

    entry: FieldEntry
    row: object
    kind: str
    phone: int
    differences: tuple


@dataclass(frozen=True)
class HandedIn:
    """Everything on the page of phones of an outing."""

    phones: tuple
    conflicts: tuple
    remarks: tuple


def address_of(outing):
    """The address of the page of phones."""
    return reverse("outings:phones", args=[outing.pk])


def handed_in(outing):
    """What phones handed in from an outing; the number of queries does not depend on how much that is."""
    found = {}
    for phone, *rest in FieldEntry.objects.filter(outing=outing).order_by("id").values_list(
        "phone", "owner__call_sign", "kind", "action", "outcome", "received_at", "clock_error_s"
    ):
        found.setdefault(phone, []).append(rest)
    wrong = wrong_clocks(outing)
    names = names_of_phones(found)
    phones = tuple(
        phone_of(number, phone, names.get(phone, ""), entries, wrong.get(phone, ()))
        for number, (phone, entries) in enumerate(found.items(), 1)
    )
    numbers = {phone: number for number, phone in enumerate(found, 1)}
    return HandedIn(phones, conflicts(outing, numbers), tuple(outing.remarks(manager="objects").order_by("at", "id")))


def names_of_phones(phones):
    """{phone: name} of those that are paired, whoever's they are."""
    named = get_user_model().objects.filter(phones__phone__in=phones)
    rows = named.values_list("phones__phone", "phones__name", "phones__device")
    return {phone: name or device for phone, name, device in rows}


def phone_of(number, phone, name, entries, clocks):
    """A Phone from its entries (call sign, kind, action, outcome, received_at, clock_error_s) in order of arrival."""
    kinds = Counter(kind for _, kind, *_ in entries)
    return Phone(
        number=number, name=name, mark=str(phone)[:4], call_sign=entries[-1][0], entries=len(entries),
        kinds=tuple((WORDS[kind], kinds[kind]) for kind in WORDS if kinds[kind]),
        deletions=sum(action == "delete" for _, _, action, *_ in entries),
        older=sum(outcome == FieldEntry.Outcome.OLDER for _, _, _, outcome, *_ in entries),
        first_at=min(entry[4] for entry in entries), last_at=max(entry[4] for entry in entries),
        error_s=entries[-1][5], clocks=clocks,
    )


def wrong_clocks(outing):
    """{phone: WrongClocks}: where the clock was off, and which contacts still have its time."""
    times = dict(Contact.objects.filter(outing=outing).timed_by(
        FieldEntry.objects.by_a_wrong_clock()
    ).values_list("uuid", "started_at"))
    measured = {}
    for phone, subject, error_s, at in FieldEntry.objects.filter(outing=outing, kind="contact").by_a_wrong_clock(
    ).order_by("clock_error_s").values_list("phone", "subject", "clock_error_s", "happened_at"):
        measured.setdefault(phone, []).append((error_s, subject if at and times.get(subject) == at else None))
    found = {}
    for phone, errors in measured.items():
        stretches = [[errors[0]]]
        for one in errors[1:]:
            if one[0] - stretches[-1][-1][0] > SPREAD_S:
                stretches.append([])
            stretches[-1].append(one)
        found[phone] = tuple(wrong_clock(outing, phone, stretch) for stretch in stretches)
    return found


def wrong_clock(outing, phone, stretch):
    """A WrongClock of (error in seconds, contact that still has its time or None), in order of the error."""
    errors = [error_s for error_s, _ in stretch]
    error_s, least_s, most_s = statistics.median(errors), errors[0], errors[-1]
    query = urlencode({
        "outing": outing.pk, "phone": phone, "least_s": least_s - 1, "most_s": most_s + 1,
        "shift": f"{round(-error_s)} s", "stints": "correct",
    })
    contacts = {subject for _, subject in stretch} - {None}
    return WrongClock(error_s, least_s, most_s, len(contacts), f"{reverse('outings:contact_mend')}?{query}")


def conflicts(outing, numbers):
    """The conflicts of an outing that nobody has settled yet, oldest first."""
    entries = list(FieldEntry.objects.filter(outing=outing).open_conflicts().order_by("id"))
    rows = rows_of(outing, entries)
    values = {
        entry.pk: {
            column: (as_json(getattr(rows[entry.kind, entry.subject], column)), value)
            for column, value in (entry.lost or {}).items()
            if entry.row_model.tracked_field(column) is not None
        } if (entry.kind, entry.subject) in rows else {} for entry in entries
    }
    names = names_of(entries, values)
    found = []
    for entry in entries:
        differences = tuple(
            Difference(column, label(entry.row_model, column), *(
                changes.named(entry.row_model, column, value, names) for value in pair
            )) for column, pair in values[entry.pk].items() if pair[0] != pair[1]
        )
        found.append(Conflict(
            entry, rows.get((entry.kind, entry.subject)), str(entry.row_model._meta.verbose_name),
            numbers.get(entry.phone, 0), differences,
        ))
    return tuple(found)


def rows_of(outing, entries):
    """The rows that entries are about, as they stand, deleted ones too: {(kind, uuid): row}."""
    wanted = {}
    for entry in entries:
        wanted.setdefault(entry.kind, set()).add(entry.subject)
    found = {}
    for kind, subjects in wanted.items():
        model = FieldEntry(kind=kind).row_model
        rows = model.everything.filter(owner=outing.owner_id, uuid__in=subjects).select_related(*NAMED_BY.get(kind, ()))
        found.update({(kind, row.uuid): row for row in rows})
    return found


def names_of(entries, values):
    """The names of rows that columns in conflict point to: {(model, primary key): name}."""
    wanted = {}
    for entry in entries:
        for column, pair in values[entry.pk].items():
            field = entry.row_model.tracked_field(column)
            if field.is_relation:
                wanted.setdefault(field.related_model, set()).update(set(pair) - {None})
    return {
        (model, row.pk): str(row) for model, keys in wanted.items() if keys
        for row in changes.with_names(model._base_manager.filter(pk__in=keys))
    }
