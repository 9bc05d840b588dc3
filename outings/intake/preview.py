"""What is in a staged file, before anything of it is in the log: a summary, and findings to look at."""

from collections import Counter

from outings.adif.records import NotADIF
from outings.models import Contact, ImportedFile, ImportFinding, Site

from . import copies, gear, logs, places
from .known import Known
from .sorting import BATCH, Sign, sorted_records, without_collector

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
    for batch in sorted_records(log, Known(operator), operator.call_sign):
        counts["new"] += len(batch.new)
        counts["known"] += len(batch.known)
        for name in ("changed", "deleted", "lost"):
            counts[name] += len(getattr(batch, name))
        counts["twice"] += len(batch.again)
        records = [record for record, _ in batch.new] + batch.known + [record for record, *_ in batch.changed]
        for _, _, row, _, problems in records:
            at = row["at"]
            first = at if first is None or at < first else first
            last = at if last is None or at > last else last
            calls[row["station_call"]] += 1
            bands[row.get("band", "")] += 1
            modes[row.get("submode") or row.get("mode", "")] += 1
            years[row["started_at"][:4]] += 1
            if guessed and len(letters) < FEW_LETTERS:
                letters |= {text: None for name in WRITTEN if not (text := row.get(name, "")).isascii()}
            counts["marked"] += bool(problems)
        for record, _ in batch.new:
            row = record[2]
            spots[places.spot(*map(row.get, places.FIELDS))] += 1
            for kind, (field, _) in gear.KINDS.items():
                if field in row:
                    named[kind][row[field]] += 1
        notes.take(batch)
        sign.give(batch.number)
    notes.store()
    records = batch.number
    header = log.header
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

    def take(self, batch):
        log, full = self.log, MOST_FINDINGS
        for number, loss in batch.lost:
            self.note(Kind.REFUSED, number, loss.line, loss.field, loss.reason, loss.excerpt)
        for record, first in batch.again:
            reason = f"the same contact as record {first}; taken once" if first else "repeats a contact; taken once"
            self.note(Kind.TWICE, record[0], log.line_of(record[1]), "", reason, in_words(record[2]))
        for record, _ in batch.deleted:
            reason = "was deleted in your log; left out"
            self.note(Kind.DELETED, record[0], log.line_of(record[1]), "", reason, in_words(record[2]))
        for record, _, changes in batch.changed:
            for name, (ours, theirs) in changes.items():
                label = str(Contact._meta.get_field(name).verbose_name)
                reason = f"the log has {shown(ours)}, the file {shown(theirs)}"
                self.note(Kind.CHANGED, record[0], log.line_of(record[1]), label, reason, in_words(record[2]))
        for record, _ in batch.new:
            if record[4]:
                for field, why in record[4]:
                    line = log.line_of_field(record[1], field) if self.counts[Kind.MARKED] < full else None
                    self.note(Kind.MARKED, record[0], line, field, why, in_words(record[2]))
        if len(self.waiting) >= BATCH:
            self.store()

    def store(self):
        ImportFinding.objects.bulk_create(self.waiting, batch_size=100)
        self.waiting = []


def in_words(row):
    """A record in a few words."""
    mode = row.get("submode") or row.get("mode", "")
    return f"{row['call']} {row['started_at'][:16]} UTC {row.get('band', '')} {mode}"


def shown(value):
    return "nothing" if value in (None, "") else str(value)
