"""What the file pages read: a file's summary in words, what an undo takes along, and what an export will hold."""

import datetime
import re
from dataclasses import dataclass

from django.db.models import Count, Max, Min, Q
from django.urls import reverse

from outings.adif import adi, ascii, tables
from outings.models import Contact

LOOKED_AT = 20_000  # contacts that the export page looks through for letters that ADI cannot hold
TEXT_COLUMNS = (
    "name", "qth", "comment", "notes", "county", "country", "their_programme", "their_reference", "qsl_note",
)


@dataclass(frozen=True)
class Number:
    """A number of records of one kind, with the address of its list where there is one."""

    label: str
    number: int
    href: str = ""

    @property
    def text(self):
        """Number and label, a single one in the singular."""
        label = re.sub(r"\b(contact|outing|site|stint)s\b", r"\1", self.label) if self.number == 1 else self.label
        return f"{self.number} {label}"


@dataclass(frozen=True)
class Summary:
    """What is in an uploaded file, and what an import of it did."""

    records: int
    first: datetime.datetime | None
    last: datetime.datetime | None
    calls: tuple
    bands: tuple
    modes: tuple
    program: str
    encoding: str
    letters: tuple  # texts with other letters than ASCII, where the encoding is guessed or was chosen
    odd_bytes: bool
    version: str
    counts: tuple
    result: tuple
    faults: tuple
    waiting: int  # acts of a phone that its copy carries


COUNTS = (
    ("new", "new", ""), ("known", "in your log already, as they are", ""),
    ("changed", "in your log, but different", "changed"),
    ("twice", "repeated within the file", "twice"), ("deleted", "deleted in your log", "deleted"),
    ("lost", "refused", "refused"), ("marked", "with values that are not to the standard", "marked"),
)
RESULT = (
    ("handed_in", "acts of the phone handed in, as it would itself"), ("not_taken", "acts of the phone refused"),
    ("new", "contacts added"), ("updated", "contacts updated"), ("outings", "outings made"), ("sites", "sites made"),
    ("stints", "stints inferred"), ("joined", "contacts that joined recorded stints"),
    ("stintless", "contacts without band or mode, in no stint"), ("known", "were in the log already"),
    ("twice", "repeated, taken once"), ("deleted", "left out, since deleted"), ("lost", "refused"),
)
ENCODINGS = {**adi.ENCODINGS, "ascii": "plain ASCII"}


def address_of(imported):
    return reverse("outings:file", args=[imported.pk])


def summary_of(imported):
    """The summary of a file that was read; None before."""
    found = imported.summary
    if "records" not in found:
        return None
    counts = []
    for key, label, kind in COUNTS:
        number = found["counts"].get(key, 0)
        if number or key == "new":
            href = reverse("outings:file_findings", args=[imported.pk, kind]) if kind else ""
            counts.append(Number(label, number, href))
    result = tuple(Number(label, number) for key, label in RESULT if (number := found.get("result", {}).get(key)))
    return Summary(
        found["records"], moment(found["first"]), moment(found["last"]), tuple(found["calls"].items()),
        tuple(sorted(found["bands"].items(), key=lambda pair: tables.band_order(pair[0]))),
        tuple(found["modes"].items()), found["program"], ENCODINGS.get(found["encoding"], found["encoding"]),
        tuple(found.get("letters", ())), found.get("odd_bytes", False),
        found["version"], tuple(counts), result, tuple(map(tuple, found.get("header_faults", ()))),
        found.get("waiting", 0),
    )


def moment(seconds):
    return None if seconds is None else datetime.datetime.fromtimestamp(seconds, datetime.UTC)


def undo_in_words(imported):
    """What an undo takes along."""
    rows = Contact.objects.of(imported.owner_id).filter(imported_by=imported)
    count, edited = rows.aggregate(count=Count("pk"), edited=Count("pk", filter=Q(revision__gt=1))).values()
    text = "1 contact that it added leaves" if count == 1 else f"{count} contacts that it added leave"
    text += " the log, with the stints, outings and sites made for it."
    if edited:
        text += f" {edited} of them {'was' if edited == 1 else 'were'} edited since; your edits go too."
    updated = imported.summary.get("result", {}).get("updated")
    if updated:
        get = "contact that it changed gets its" if updated == 1 else "contacts that it changed get their"
        text += f" {updated} {get} former values back."
    return text + " The file stays here and can be imported again."


@dataclass(frozen=True)
class ExportPreview:
    """What an export will hold: contacts, their span, and values that ADI writes in their nearest ASCII."""

    count: int
    first: datetime.datetime | None
    last: datetime.datetime | None
    converted: tuple
    complete: bool


def export_preview(contacts):
    """Look at what an export of these contacts will hold."""
    span = contacts.order_by().aggregate(count=Count("*"), first=Min("started_at"), last=Max("started_at"))
    found = {}
    rows = contacts.order_by("started_at", "pk").values_list(*TEXT_COLUMNS)[:LOOKED_AT]
    for values in rows.iterator(1000):
        for name, value in zip(TEXT_COLUMNS, values, strict=True):
            if value and not (value.isascii() or ascii.is_plain(value)):
                label = str(Contact._meta.get_field(name).verbose_name)
                entry = found.setdefault(label, [0, value[:60], ascii.nearest(value[:60])])
                entry[0] += 1
    converted = tuple((label, *entry) for label, entry in sorted(found.items()))
    return ExportPreview(span["count"], span["first"], span["last"], converted, span["count"] <= LOOKED_AT)

