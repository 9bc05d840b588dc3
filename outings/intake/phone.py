"""What phones hand in from the field: each entry taken once, in any order, merged with what others changed."""

import contextlib
import datetime
import itertools
import uuid
from collections import Counter
from dataclasses import dataclass

from django.db import IntegrityError, transaction
from django.db.models import Exists, OuterRef
from django.utils import timezone

from equipment.models import Arrangement, Change, Kit, Pack, PackReading, Radio
from equipment.models.history import as_json, from_json
from outings import calls
from outings.adif import tables
from outings.field import entries as shapes
from outings.models import Contact, FieldEntry, Outing, OutingMember, Remark, Site, Stint, SwitchingBlock

CAUSE = "phone"
HAPPENED = ("started_at", "at", "ticked_at")  # the columns that say when something was, by the phone's clock


@dataclass(frozen=True)
class Answer:
    """What became of one entry: "taken", "had" (it was here already) or "refused" with the reason."""

    identity: str
    outcome: str
    reason: str = ""
    revision: int | None = None
    conflict: bool = False


class NotTaken(Exception):
    """An entry that fits its shape but not this log; the message says why."""


class _Reach:
    """What an operator may write to, looked up once in a request."""

    def __init__(self, operator):
        self.operator, self.outings, self.stints = operator, {}, {}

    def outing(self, identity):
        """An outing, deleted ones too, with its site; NotTaken where there is none."""
        if identity not in self.outings:
            rows = Outing.everything.open_to(self.operator).select_related("site", "owner")
            found = list(rows.filter(uuid=identity)[:2])
            if not found:
                raise NotTaken("its outing is not known here")
            self.outings[identity] = next((one for one in found if one.owner_id == self.operator.pk), found[0])
        return self.outings[identity]

    def stint(self, outing, identity):
        """The key of a stint of an outing, deleted ones too; None where it is not here yet."""
        if (outing.pk, identity) not in self.stints:
            found = Stint.everything.filter(outing=outing, uuid=identity).values_list("pk", flat=True).first()
            if found is None:
                return None
            self.stints[outing.pk, identity] = found
        return self.stints[outing.pk, identity]

    def check(self, pk):
        """A member reaches the rows of joined outings, and no others of the same owner."""
        if not Outing.everything.open_to(self.operator).filter(pk=pk).exists():
            raise NotTaken("it is not known here")


def hand_in(operator, request, *, now):
    """Take a phone's request (outings.field.entries.Request) into the log of an operator; an Answer for every entry.

    Everything is committed together before the answers are given, so that an answer is a promise. An entry that comes
    again is answered "had" and changes nothing. `now` is the server's clock.
    """
    try:
        return _hand_in(operator, request, now)
    except IntegrityError:  # the same was being stored, by a request that the phone did not wait for: it is here now
        return _hand_in(operator, request, now)


def _hand_in(operator, request, now):
    error_s = request.clock_error_s
    if error_s is None:
        error_s = (request.phone_now - now).total_seconds()
    answers, reach = [], _Reach(operator)
    entries = [entry for entry in request.entries if isinstance(entry, shapes.Entry)]
    with transaction.atomic():
        identities = [entry.identity for entry in entries]
        known = {entry.identity: entry for entry in FieldEntry.objects.of(operator).filter(identity__in=identities)}
        unseen = _unseen(reach, [entry for entry in entries if entry.identity not in known])
        for together, group in itertools.groupby(request.entries, lambda entry: id(entry) in unseen):
            if together:
                for entry, stored in _take_unseen(reach, request.phone, list(group), error_s):
                    answers.append(_answer(entry, stored))
                continue
            for entry in group:
                if isinstance(entry, shapes.Refused):
                    answers.append(Answer(entry.identity, "refused", entry.reason))
                elif entry.identity in known:
                    answers.append(_answer(entry, known[entry.identity], "had"))
                else:
                    try:
                        with transaction.atomic():
                            stored = known[entry.identity] = _take(reach, request.phone, entry, error_s)
                    except NotTaken as problem:
                        stored = problem
                    answers.append(_answer(entry, stored))
        _withdraw_stand_ins(operator, [entry.subject for entry in entries])
    return answers


def _answer(entry, stored, outcome="taken"):
    """The answer to an entry that was stored, or was not for a reason."""
    if isinstance(stored, NotTaken):
        return Answer(str(entry.identity), "refused", str(stored))
    return Answer(str(entry.identity), outcome, "", stored.revision, stored.lost is not None)


def _unseen(reach, entries):
    """The id() of those that put a contact which nobody has seen yet: most of what phones hand in."""
    often = Counter(entry.subject for entry in entries) + Counter(entry.identity for entry in entries)
    found, owners = [], {reach.operator.pk}
    for entry in entries:
        if entry.kind == "contact" and entry.action == "put" and often[entry.subject] == often[entry.identity] == 1:
            with contextlib.suppress(NotTaken):
                owners.add(reach.outing(entry.values["outing"]).owner_id)
                found.append(entry)
    subjects = [entry.subject for entry in found]
    seen = {*FieldEntry.objects.of(reach.operator).filter(subject__in=subjects).values_list("subject", flat=True)}
    rows = Contact.everything.filter(owner__in=owners, uuid__in=subjects)
    seen |= {*rows.order_by().values_list("uuid", flat=True)}
    return {id(entry) for entry in found if entry.subject not in seen}


def _withdraw_stand_ins(operator, subjects):
    """Withdraw what an import had only inferred, once the phone has put the contacts where they belong.

    A copy saved on the phone may be imported before the phone hands in; stints inferred from it, and an outing made for
    it, are empty then. Others of the same import stay.
    """
    joined = OutingMember.objects.joined().filter(operator=operator)
    owners = {operator.pk, *joined.values_list("outing__owner", flat=True)}
    imports = list(
        Contact.everything.filter(owner__in=owners, uuid__in=subjects, imported_by__isnull=False)
        .values_list("imported_by", flat=True).order_by().distinct()
    )
    if not imports:
        return
    stints = Stint.objects.filter(
        ~Exists(Contact.objects.filter(stint=OuterRef("pk"))), owner__in=owners, imported_by__in=imports, inferred=True,
    )
    for stint in stints:
        stint.deleted_at = timezone.now()
    Stint.keep_all(stints, operator, cause=CAUSE)
    empty = Outing.objects.filter(
        ~Exists(Contact.objects.filter(outing=OuterRef("pk"))), ~Exists(Stint.objects.filter(outing=OuterRef("pk"))),
        imported_by__in=imports,
    )
    for outing in empty.exclude(checklist__isnull=False):
        outing.withdraw(operator, cause=CAUSE)


def _as_it_came(operator, phone, entry, error_s):
    """An entry as it is to be stored."""
    return FieldEntry(
        owner=operator, identity=entry.identity, phone=phone, kind=entry.kind, action=entry.action,
        subject=entry.subject, seq=entry.seq, edited_at=entry.edited_at, clock_error_s=error_s, values=entry.sent,
        outcome=FieldEntry.Outcome.TAKEN,
        happened_at=next((entry.values[name] for name in HAPPENED if entry.values.get(name)), None),
    )


def _take_unseen(reach, phone, entries, error_s):
    """Store entries that each put a contact which nobody has seen yet; (entry, stored entry or NotTaken) pairs."""
    taken, contacts = [], []
    for entry in entries:
        stored = _as_it_came(reach.operator, phone, entry, error_s)
        try:
            owner, columns = _columns(reach, entry, stored)
        except NotTaken as problem:
            taken.append((entry, problem))
            continue
        contact = Contact(owner=owner, uuid=entry.subject, **columns)
        contact.outing = reach.outing(entry.values["outing"])
        stored.revision, stored.outing_id = contact.revision, contact.outing_id
        contacts.append(contact)
        taken.append((entry, stored))
    Contact.keep_all(contacts, reach.operator, cause=CAUSE)
    FieldEntry.objects.bulk_create([stored for _, stored in taken if isinstance(stored, FieldEntry)])
    return taken


def _take(reach, phone, entry, error_s):
    """Apply one entry and store it as it came."""
    operator = reach.operator
    stored = _as_it_came(operator, phone, entry, error_s)
    mine = FieldEntry.objects.of(operator).filter(subject=entry.subject, phone=phone, kind=entry.kind)
    latest = mine.order_by("-seq", "-id").first()
    if latest:
        stored.outing_id = latest.outing_id
    elif entry.kind == "reading" or entry.action == "delete":  # of others the row knows it
        stored.outing_id = _named_outing(operator, entry)
    if latest and latest.seq >= entry.seq:
        stored.outcome = FieldEntry.Outcome.OLDER
        stored.revision = latest.revision
        stored.save()
        return stored
    _apply(reach, entry, stored, latest)
    stored.save()
    if entry.kind in ("outing", "stint"):
        reach.outings.clear()
        reach.stints.clear()
    if entry.kind == "stint" and entry.action == "put":
        _join_waiting(reach, entry.subject)
    return stored


def _apply(reach, entry, stored, latest):
    """Write what an entry says into its row; fills outcome, revision, refers_to and lost of `stored`."""
    operator, model = reach.operator, stored.row_model
    if entry.action == "put":
        owner, columns = _columns(reach, entry, stored)
        if columns is None:  # its stint is not here yet; it is written when the stint comes
            return
    else:
        outing = Outing.everything.open_to(operator).select_related("owner").filter(pk=stored.outing_id).first()
        owner, columns = outing.owner if outing else operator, {"deleted_at": entry.edited_at}
    row = _row(model, operator, owner, entry.subject)
    if row is not None and owner != operator:
        reach.check(_outing_of(entry, row))
    if row is None:
        if entry.action == "delete":
            return
        row = model(owner=owner, uuid=entry.subject, **columns)
        if entry.kind == "contact":
            row.outing = reach.outing(entry.values["outing"])  # with its site, which distances are from
        _finish(row, entry)
        row.keep(operator, cause=CAUSE)
    else:
        if entry.action == "put":
            columns["deleted_at"] = row.deleted_at if row.deleted_at and not _deleted_here(latest) else None
        merged, lost = _merged(row, columns, max(entry.base, latest.revision or 0 if latest else 0), stored)
        if lost:
            stored.outcome, stored.lost = FieldEntry.Outcome.CONFLICT, lost
        for column, value in merged.items():
            setattr(row, column, value)
        _finish(row, entry)
        row.keep(operator, cause=CAUSE)
    if entry.kind == "pause":
        row.stint.keep(operator, cause=CAUSE)
    stored.revision = row.revision
    stored.outing_id = _outing_of(entry, row) or stored.outing_id


def _outing_of(entry, row):
    """The key of the outing that a row belongs to; None of a reading, which belongs to its pack."""
    if entry.kind == "outing":
        return row.pk
    if entry.kind == "pause":
        return row.stint.outing_id
    return None if entry.kind == "reading" else row.outing_id


def _named_outing(operator, entry):
    """The key of the outing that an entry names; None where that is none of the operator's."""
    try:
        identity = shapes.identity()(entry.sent.get("outing"), "outing")
    except shapes.BadEntry:
        return None
    found = Outing.everything.open_to(operator).filter(uuid=identity) if identity else Outing.objects.none()
    return found.values_list("pk", flat=True).first()


def _deleted_here(latest):
    """Was the last thing that this phone did with the row to delete it? Then a later edit of its brings it back."""
    return latest is not None and latest.action == "delete"


def _row(model, operator, owner, subject):
    """The row that an entry is about, tombstones included; locked. None if it is not here."""
    rows = model.everything.select_for_update(of=("self",)).filter(uuid=subject)
    return rows.filter(owner=owner).first() or (rows.filter(owner=operator).first() if owner != operator else None)


def _merged(row, columns, base, stored):
    """Three-way merge of a row with what a phone says: {column: value} to set, and what lost, {column: value} in JSON.

    What the phone had seen is the row as it stands with all changes after revision `base` turned back. A column that
    only one side changed takes that change; where both did, the later edit wins and the other's value is kept.
    """
    since = list(
        Change.objects.of(row.owner_id)
        .filter(kind=row._meta.label_lower, subject=row.uuid, revision__gt=base).order_by("-revision", "-id")
    )
    current = {column: as_json(getattr(row, column)) for column in columns}
    seen, theirs, last = dict(current), set(), None
    edited = any(change.action == Change.Action.CHANGE for change in since)
    for change in since:
        seen.update({column: value for column, value in change.before.items() if column in columns})
        if change.action != Change.Action.CREATE:
            theirs |= set(change.after) & set(columns)
            last = max(last, change.at) if last else change.at
    edited_at = stored.edited_at - datetime.timedelta(seconds=stored.clock_error_s)
    phone_wins = last is None or edited_at >= last
    merged, lost = {}, {}
    for column, value in columns.items():
        wanted = as_json(value)
        if wanted == current[column]:
            continue
        if column in theirs:
            if wanted == seen[column]:
                continue  # the phone never touched it; the other side did
            if not phone_wins:
                lost[column] = wanted
                continue
            lost[column] = current[column]
        merged[column] = value
    deletes = merged.get("deleted_at") is not None and edited
    edits_deleted = "deleted_at" not in merged and columns.get("deleted_at") is not None and merged
    if deletes or edits_deleted:  # one side deleted what the other edited: the living version gave way
        lost["deleted_at"] = None
    return merged, lost


def _stint(operator, identity):
    """A stint of an outing that the operator may write to; None where it is not here."""
    return Stint.everything.filter(outing__in=Outing.everything.open_to(operator), uuid=identity).first()


def _owned(model, operator, pk, what):
    """A piece of gear or a site by its key; NotTaken where it is not the operator's."""
    if pk is None:
        return None
    found = model.objects.of(operator).filter(pk=pk).first()
    if found is None:
        raise NotTaken(f"that {what} is not known here")
    return found


def _columns(reach, entry, stored):
    """The owner of the row and the columns that an entry sets; columns None where it has to wait for its stint."""
    operator, values = reach.operator, dict(entry.values)
    if entry.kind == "outing":
        values["site_id"] = _owned(Site, operator, values.pop("site"), "site").pk
        if "kit" in values:
            kit = _owned(Kit, operator, values.pop("kit"), "kit")
            values["kit_id"] = kit.pk if kit else None
        values.pop("follows", None)
        if not values.get("exchange", True):
            values["exchange"] = Outing.Exchange.REPORT
        return operator, values
    if entry.kind == "pause":
        stint = _stint(operator, values.pop("stint"))
        if stint is None:
            stored.refers_to = entry.values["stint"]
            return operator, None
        return stint.owner, {**values, "stint_id": stint.pk}
    if entry.kind == "reading":
        pack = _owned(Pack, operator, values.pop("pack"), "pack")
        del values["outing"]
        values["doing"] = values["doing"] or PackReading.Doing.UNKNOWN
        return operator, {**values, "pack_id": pack.pk}
    outing = reach.outing(values.pop("outing"))
    values["outing_id"] = outing.pk
    if entry.kind == "stint":
        gear = {"radio": Radio, "arrangement": Arrangement, "pack": Pack}
        for name, model in gear.items():
            found = _owned(model, outing.owner, values.pop(name), name)
            if found and operator != outing.owner and found.pk not in outing.gear_at(name):
                raise NotTaken(f"that {name} is not known here")
            values[f"{name}_id"] = found.pk if found else None
        follows = values.pop("follows")
        before = Stint.everything.filter(owner=outing.owner, uuid=follows).first() if follows else None
        values["follows_id"] = before.pk if before else None
        block = values.pop("block")
        found = SwitchingBlock.objects.filter(plan__outing=outing, uuid=block).first() if block else None
        values["block_id"] = found.pk if found else None
        _fill_band(values)
    elif entry.kind == "contact":
        wanted = values.pop("stint")
        values["stint_id"] = reach.stint(outing, wanted) if wanted else None
        if wanted and values["stint_id"] is None:
            stored.refers_to = wanted
        values["call"] = calls.normalised(values["call"])
        values["pending"] = values["pending"] or "?" in values["call"]
        values["station_call"] = values["station_call"].upper() or outing.station_call
        values["operator_call"] = values["operator_call"].upper() or operator.call_sign
        _fill_band(values)
    elif entry.kind == "remark":
        values["about"] = values["about"] or Remark.About.NOTE
    elif entry.kind == "tick":
        values["section"] = values["section"] or "pack"
        values["quantity"] = values["quantity"] or 1
        values["position"] = values["position"] or 0
    return outing.owner, values


def _fill_band(values):
    if not values["band"] and values["frequency_hz"]:
        values["band"] = tables.band_of(values["frequency_hz"]) or ""


def _finish(row, entry):
    """What follows from the columns of a row."""
    if isinstance(row, Stint) and row.ended_at and row.ended_at < row.started_at:
        raise NotTaken("the stint would end before it began")


def _join_waiting(reach, stint_uuid):
    """Contacts and pauses that came before their stint find it now."""
    operator = reach.operator
    stint = _stint(operator, stint_uuid)
    if stint is None:
        return
    waiting = FieldEntry.objects.filter(refers_to=stint_uuid, owner__in=(operator.pk, stint.owner_id)).order_by("id")
    for stored in waiting:
        later = FieldEntry.objects.of(stored.owner_id).filter(
            subject=stored.subject, phone=stored.phone, seq__gt=stored.seq
        )
        if not later.exists():
            if stored.kind == "contact":
                contact = Contact.everything.filter(owner=stint.owner, uuid=stored.subject).first()
                if contact and contact.stint_id is None:
                    contact.stint = stint
                    contact.keep(operator, cause=CAUSE)
                    stored.revision = contact.revision
            else:
                entry = shapes.read_entry({
                    "id": str(stored.identity), "kind": stored.kind, "action": stored.action,
                    "subject": str(stored.subject), "seq": stored.seq, "base": 0,
                    "edited_at": stored.edited_at.astimezone(datetime.UTC).strftime("%Y-%m-%dT%H:%M:%S.%fZ"),
                    "values": stored.values,
                })
                stored.refers_to = None
                _apply(reach, entry, stored, None)
        stored.refers_to = None
        stored.save()


def settle(operator, stored, *, take_lost):
    """Close a conflict: the row stays as it is, or takes the values that gave way."""
    model = stored.row_model
    with transaction.atomic():
        row = _row(model, operator, operator, stored.subject)
        if take_lost and row is not None:
            for column, value in (stored.lost or {}).items():
                field = model.tracked_field(column)
                if field is not None:
                    setattr(row, column, from_json(field, value))
            row.keep(operator, cause="conflict settled", batch=uuid.uuid4())
        stored.settled_at = datetime.datetime.now(datetime.UTC)
        stored.save(update_fields=["settled_at"])
