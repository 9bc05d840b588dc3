"""What is in a staged file, before anything of it is in the log: a summary, and findings to look at."""

from collections import Counter

from equipment.numerals import Numeral
from outings.adif.records import NotADIF
from outings.models import Contact, ImportedFile, ImportFinding, Site

from . import copies, gear, logs, places
from .known import Known
from .sorting import BATCH, Sign, sorted_batches, without_collector

MOST_FINDINGS = 10_000  # kept of each kind; the counts go on
FEW_LETTERS = 6  # texts with letters beyond ASCII that are shown, to judge the encoding by
WRITTEN = ("name", "qth", "comment")
Kind = ImportFinding.Kind


def read_through(imported):
    """Read a staged file and note what is in it: a summary, and findings to look at. Changes no log."""
    imported.begin(ImportedFile.Status.READING)
    imported.findings.all().delete()
    try:
        with logs.opened(imported) as log, without_collector():
            imported.format = log.format
            imported.summary = _summary(imported, log)
    except NotADIF as error:
        imported.findings.all().delete()
        imported.fail(str(error))
        return
    imported.status, imported.message = ImportedFile.Status.READ, ""
    imported.total = imported.progress = imported.summary["records"]
    imported.save(update_fields=["format", "summary", "status", "message", "total", "progress"])


def _summary(imported, log):
    operator = imported.owner
    counts, calls, bands, modes, years = Counter(), Counter(), Counter(), Counter(), Counter()
    guessed = log.encoding not in ("ascii", "utf-8") or "encoding" in imported.choices
    spots, named = Counter(), {kind: Counter() for kind in gear.KINDS}
    first = last = None
    notes, sign, letters = _Findings(imported, log), Sign(imported, log), {}
    for found in sorted_batches(log, Known(operator), operator.call_sign):
        batch, new = found.batch, [*found.new, *found.undone]
        counts["new"] += len(new)
        for name in ("known", "changed", "deleted", "lost"):
            counts[name] += len(getattr(found, name))
        counts["twice"] += len(found.again)
        taken = batch.some([*new, *found.known, *(position for position, *_ in found.changed)])
        if len(taken):
            times = taken.column("at")
            first = min(times) if first is None else min(first, *times)
            last = max(times) if last is None else max(last, *times)
            calls.update(taken.column("station_call"))
            bands.update(band or "" for band in taken.column("band"))
            modes.update(map(_shown_mode, taken.column("submode"), taken.column("mode")))
            years.update(day[:4] for day in taken.column("day"))
            counts["marked"] += len(taken.problems)
            if guessed and len(letters) < FEW_LETTERS:
                written = [text for name in WRITTEN for text in taken.column(name) if text]
                letters |= {text: None for text in written if not text.isascii()}
        fresh = batch.some(new)
        spots.update(map(places.spot, *map(fresh.column, places.FIELDS)))
        for kind, (field, _) in gear.KINDS.items():
            if field in fresh.columns:
                named[kind].update(name for name in fresh.columns[field] if name is not None)
        notes.take(found)
        sign.give(found.number)
    notes.store()
    records, header = found.number, log.header
    waiting = len(copies.waiting(header))
    if not records and not waiting:
        raise NotADIF("There is no contact in this file.")
    return {
        "records": records, "waiting": waiting, "counts": dict(counts), "first": first, "last": last,
        "calls": dict(calls.most_common(50)), "bands": dict(bands), "modes": dict(modes.most_common(50)),
        "years": dict(years), "places": _places(spots, operator), "gear": _gear(named, operator),
        "encoding": log.encoding, "odd_bytes": log.odd_bytes, "letters": list(letters)[:FEW_LETTERS],
        "program": header.fields.get("PROGRAMID", ""),
        "version": header.fields.get("ADIF_VER", ""), "findings": dict(notes.counts), "kept": MOST_FINDINGS,
        "header_faults": [[fault.field, fault.reason] for fault in header.faults[:20]],
        "defined": [[field.name, field.type, field.limits] for field in header.defined.values()],
    }


def _places(spots, operator):
    """Each place of the new contacts, with the site that it most likely is; one entry a key."""
    sites = list(Site.objects.of(operator).in_use())
    found = {}
    for spot, count in spots.most_common():
        entry = found.get(spot.key)
        if entry:
            entry["count"] += count
            continue
        site = places.likely_site(spot, sites)
        found[spot.key] = {
            "key": spot.key, "label": spot.label, "count": count, "positioned": spot.has_position,
            "site": site.pk if site else None,
        }
    return list(found.values())


def _gear(named, operator):
    """Each name of gear in the file, with the piece that it most likely means."""
    found = {}
    for kind, names in named.items():
        pieces = list(gear.owned(kind, operator)) if names else []
        found[kind] = [
            {"text": text, "count": count, "piece": piece.pk if (piece := gear.likely(text, pieces)) else None}
            for text, count in names.most_common(200)
        ]
    return found


class _Findings:
    """Collects what the operator should see, and stores it in batches."""

    def __init__(self, imported, log):
        self.imported, self.log, self.counts, self.waiting = imported, log, Counter(), []

    def note(self, kind, number, line, field, reason, excerpt=""):
        self.counts[kind] += 1
        if self.counts[kind] <= MOST_FINDINGS:
            self.waiting.append(ImportFinding(
                imported_file=self.imported, kind=kind, record=number, line=line, field=field[:80], reason=reason,
                excerpt=excerpt[:300],
            ))

    def take(self, found):
        for number, loss in found.lost:
            self.note(Kind.REFUSED, number, loss.line, loss.field, loss.reason, loss.excerpt)
        batch = found.batch
        for position, first in found.again:
            reason = f"the same contact as record {first}; taken once" if first else "repeats a contact; taken once"
            self.note_record(Kind.TWICE, batch, position, "", reason)
        for position, _ in found.deleted:
            self.note_record(Kind.DELETED, batch, position, "", "was deleted in your log; left out")
        for position, _, changes in found.changed:
            for name, (ours, theirs) in changes.items():
                label = str(Contact._meta.get_field(name).verbose_name)
                reason = f"the log has {shown(ours)}, the file {shown(theirs)}"
                self.note_record(Kind.CHANGED, batch, position, label, reason)
        fresh = {*found.new, *found.undone}
        for position in sorted(fresh & batch.problems.keys()):
            for field, why in batch.problems[position]:
                self.note_record(Kind.MARKED, batch, position, field, why)
        if len(self.waiting) >= BATCH:
            self.store()

    def note_record(self, kind, batch, position, field, reason):
        if self.counts[kind] >= MOST_FINDINGS:
            self.counts[kind] += 1
            return
        place = batch.places[position]
        line = self.log.line_of_field(place, field) if kind == Kind.MARKED else self.log.line_of(place)
        self.note(kind, batch.numbers[position], line, field, reason, in_words(batch.row(position)))

    def store(self):
        ImportFinding.objects.bulk_create(self.waiting, batch_size=100)
        self.waiting = []


def in_words(row):
    """A record in a few words."""
    mode = row.get("submode") or row.get("mode", "")
    return f"{row['call']} {row['started_at'][:16]} UTC {row.get('band', '')} {mode}"


def _shown_mode(submode, mode):
    return submode or mode or ""


def shown(value):
    return "nothing" if value in (None, "") else str(Numeral(value) if isinstance(value, float) else value)
