"""The form that corrects many contacts at once: looked at before, done as one batch, taken back as one batch."""

import datetime
import hashlib
import re
import uuid
from dataclasses import dataclass

from django import forms
from django.db import models, transaction

from equipment import progress
from equipment.models import Arrangement
from equipment.models.history import chunks, label
from outings import dial
from outings.models import Contact, FieldEntry, Outing, Stint

from .contacts import QSL_RCVD, QSL_SENT, CallField, DialField

SHOWN = 50
SHIFT = re.compile(
    r"([+\-−]?)\s*(?:(\d{1,5})|(\d{1,3}):([0-5]\d)|(\d{1,3})\s*h(?:\s*(\d{1,2})\s*(?:min|m)?)?"
    r"|(\d{1,5})\s*min(?:\s*(\d{1,2})\s*s)?|(\d{1,7})\s*s)",
    re.ASCII,
)


def shift(typed):
    """By how much a clock is moved: `90` minutes, `-1:30`, `+2 h`, `-45 min`, `-47 s`. Raises ValidationError."""
    match = SHIFT.fullmatch(" ".join(typed.split()).lower())
    if not match:
        raise forms.ValidationError("Give minutes, hours and minutes, or seconds: 90, -1:30, +2 h, -47 s.")
    sign, bare, hours, minutes, whole_hours, rest, named, odd_s, only_s = (part or 0 for part in match.groups())
    by = datetime.timedelta(
        hours=int(hours or whole_hours), minutes=int(bare or named or minutes or rest), seconds=int(odd_s or only_s)
    )
    return -by if sign in ("-", "−") else by


@dataclass(frozen=True)
class Correction:
    """One column of a contact before and after."""

    column: str
    label: str
    before: object
    after: object


@dataclass(frozen=True)
class Line:
    """A contact in the preview, and its columns that change, stints as themselves."""

    contact: Contact
    columns: tuple


@dataclass(frozen=True)
class Preview:
    """What the correction would do.

    `count` contacts were chosen, `changing` of them change; of these `moving` go to another stint, `leaving` have none
    afterwards though they had one, `new_day` get another UTC day. `stints` are corrected themselves, and `bystanders`
    are contacts of these stints that were not chosen. `lines` are the first changes, `fingerprint` tells whether the
    log is still the same when it is done.
    """

    count: int
    changing: int
    moving: int
    leaving: int
    new_day: int
    stints: tuple
    bystanders: int
    lines: tuple
    fingerprint: str


class NearestOutings(forms.models.ModelChoiceIterator):
    """The outings nearest in time to the chosen contacts, the newest first: a long log has thousands."""

    SHOWN = 50  # before them and after them

    def __iter__(self):
        yield "", self.field.empty_label
        near = self.field.contacts.order_by("started_at").values_list("started_at", flat=True).first()
        outings = self.queryset.select_related("site")
        if near:
            later = list(outings.filter(window_start__gt=near).order_by("window_start", "id")[: self.SHOWN])
            shown = [*reversed(later), *outings.filter(window_start__lte=near)[: self.SHOWN]]
            yield from map(self.choice, shown)


class OutingNearbyField(forms.ModelChoiceField):
    """Any outing of the operator; offered are those nearest in time to `contacts`."""

    iterator = NearestOutings
    contacts = Contact.objects.none()


class MendForm(forms.Form):
    """Corrections of the chosen contacts; what is left empty stays as it is in each."""

    FOLLOW, CORRECT = "follow", "correct"

    shift = forms.CharField(
        label="Shift the clock by", required=False, max_length=20, help_text="minutes or more: 90, -1:30, +2 h, -47 s")
    tuned = DialField(dial.tuning, label="Band or frequency", help_text="a band alone clears a frequency outside it")
    way = DialField(dial.mode, label="Mode", help_text="or submode")
    power = DialField(dial.power_w, label="Own power", help_text="in watts, or 500 mW")
    station_call = CallField(label="Own call used", required=False)
    operator_call = CallField(label="Operator", required=False)
    arrangement = forms.ModelChoiceField(Arrangement.objects.none(), required=False, empty_label="As it is")
    outing = OutingNearbyField(
        Outing.objects.none(), label="Move to another outing", required=False, empty_label="As it is",
        help_text="a stint there that fits takes them in; distances are from its site")
    stints = forms.ChoiceField(
        label="Their stints", choices=[
            (FOLLOW, "stay as they are; contacts that no longer fit go to the stint that fits, or to none"),
            (CORRECT, "were wrong too: correct them likewise"),
        ], initial=FOLLOW, widget=forms.RadioSelect)
    qsl_sent = forms.ChoiceField(label="QSL sent", required=False, choices=[("", "as it is"), *QSL_SENT[1:]])
    qsl_sent_on = forms.DateField(label="Sent on", required=False)
    qsl_rcvd = forms.ChoiceField(label="QSL received", required=False, choices=[("", "as it is"), *QSL_RCVD[1:]])
    qsl_rcvd_on = forms.DateField(label="Received on", required=False)

    def __init__(self, *args, contacts, operator, **options):
        super().__init__(*args, **options)
        self.contacts, self.operator = contacts, operator
        self.fields["arrangement"].queryset = Arrangement.objects.of(operator).select_related("antenna")
        self.fields["arrangement"].label_from_instance = lambda a: f"{a.antenna}: {a}"
        self.fields["outing"].queryset = Outing.objects.of(operator).select_related("site", "owner")
        self.fields["outing"].contacts = contacts
        self.fields["shift"].widget.attrs["class"] = "short"

    def clean_shift(self):
        typed = self.cleaned_data["shift"]
        return shift(typed) if typed else datetime.timedelta(0)

    def clean(self):
        given = {name: value for name, value in self.cleaned_data.items() if name != "stints"}
        if not self.errors and not given.pop("shift") and all(value in (None, "") for value in given.values()):
            raise forms.ValidationError("Nothing to correct was given: fill in at least one of the fields.")
        if not self.errors and self.cleaned_data["outing"] and self.corrects_stints:
            self._refuse_to_part_stints()

    def _refuse_to_part_stints(self):
        """A stint moves to another outing with all of its contacts or not at all."""
        pks = self.chosen()
        left = self.bystanders(pks, self.corrected_stints(pks))
        if left:
            more = "contact that was" if left == 1 else "contacts that were"
            raise forms.ValidationError(
                f"These stints have {left} more {more} not chosen. Choose all of them, or let the stints stay at their "
                "outing."
            )

    @property
    def corrects_stints(self):
        return self.cleaned_data["stints"] == self.CORRECT

    def preview(self):
        """Work out what saving would do, without doing it; a Preview."""
        pks = self.chosen()
        stints, outings = self.corrected_stints(pks), {}
        changing = moving = leaving = new_day = 0
        lines, seal = [], hashlib.sha256()
        for contacts in self.contacts_of(pks, "Looking at contacts"):
            for contact in contacts:
                seal.update(f"{contact.pk}.{contact.revision}|".encode())
                before = {column: getattr(contact, column) for column in Contact.tracked()}
                had = {"stint_id": contact.stint, "outing_id": contact.outing}
                self.correct(contact, stints, outings)
                columns = tuple(
                    (column, value, getattr(contact, column)) for column, value in before.items()
                    if value != getattr(contact, column)
                )
                if not columns:
                    continue
                changing += 1
                changed = {column: (was, now) for column, was, now in columns}
                if "stint_id" in changed:
                    moving += changed["stint_id"][1] is not None
                    leaving += changed["stint_id"][1] is None
                if "started_at" in changed:
                    new_day += changed["started_at"][0].date() != changed["started_at"][1].date()
                if len(lines) < SHOWN:
                    lines.append(Line(contact, tuple(
                        Correction(
                            column, label(Contact, column),
                            *((had[column], getattr(contact, column[:-3])) if column in had else pair),
                        ) for column, *pair in columns
                    )))
        for stint in stints.values():
            seal.update(f"s{stint.pk}.{stint.revision}|".encode())
        return Preview(
            len(pks), changing, moving, leaving, new_day, tuple(stints.values()), self.bystanders(pks, stints),
            tuple(lines), seal.hexdigest(),
        )

    @staticmethod
    def bystanders(pks, stints):
        """How many contacts of these stints were not chosen."""
        if not stints:
            return 0
        chosen = (Contact.objects.filter(pk__in=part, stint__in=list(stints)).count() for part in chunks(pks))
        return Contact.objects.filter(stint__in=list(stints)).count() - sum(chosen)

    def keep(self, actor):
        """Do it, as one batch; returns the batch's UUID, None if nothing changed."""
        batch, written = uuid.uuid4(), 0
        with transaction.atomic():
            pks = self.chosen()
            stints, outings = self.corrected_stints(pks), {}
            for stint in stints.values():
                for pause in self.shifted_pauses(stint):
                    written += pause.keep(actor, cause="mend", batch=batch) is not None
                written += stint.keep(actor, cause="mend", batch=batch) is not None
            for contacts in self.contacts_of(pks, "Mending contacts"):
                for contact in contacts:
                    self.correct(contact, stints, outings)
                written += len(Contact.keep_all(contacts, actor, cause="mend", batch=batch))
        return batch if written else None

    def chosen(self):
        """The primary keys of the chosen contacts in the order of time, as they stand before anything is changed."""
        return list(self.contacts.order_by("started_at", "pk").values_list("pk", flat=True))

    def contacts_of(self, pks, words):
        """The chosen contacts in lists, with what is needed to find their stints; `words` say what is done to them."""
        with progress.step(words, len(pks)) as did:
            for part in chunks(pks):
                rows = Contact.objects.select_related("outing__site", "stint").in_bulk(part)
                yield [rows[pk] for pk in part if pk in rows]
                did(len(part))

    def corrected_stints(self, pks):
        """The stints that are corrected along with their contacts, not yet saved: {primary key: stint}."""
        given = self.cleaned_data
        if not self.corrects_stints or not (
            given["shift"] or given["tuned"] or given["way"] or given["power"] is not None or given["arrangement"]
            or given["outing"]
        ):
            return {}
        found = {}
        for part in chunks(pks):
            for stint in Stint.objects.filter(contacts__in=part).distinct():
                found[stint.pk] = stint
        for stint in found.values():
            stint.started_at += given["shift"]
            if stint.ended_at:
                stint.ended_at += given["shift"]
            self.retune(stint)
            if given["arrangement"]:
                stint.arrangement = given["arrangement"]
            if given["outing"]:
                stint.outing = given["outing"]
        return found

    def shifted_pauses(self, stint):
        """The pauses of a stint that moves, moved with it."""
        by = self.cleaned_data["shift"]
        pauses = list(stint.pauses.all()) if by else []
        for pause in pauses:
            pause.started_at += by
            if pause.ended_at:
                pause.ended_at += by
        return pauses

    def retune(self, row):
        """Set band, frequency, mode and power of a contact or a stint."""
        given = self.cleaned_data
        if given["tuned"]:
            if given["tuned"].frequency_hz is not None or row.band != given["tuned"].band:
                row.frequency_hz = given["tuned"].frequency_hz
            row.band = given["tuned"].band
        if given["way"]:
            row.mode, row.submode = given["way"]
        if given["power"] is not None:
            row.power_w = given["power"]

    def correct(self, contact, stints, outings):
        """Set what was given in one contact, not yet saved.

        `stints` are those that are corrected themselves; `outings` remembers the stints of each outing.
        """
        given = self.cleaned_data
        if given["shift"]:
            by = given["shift"]
            contact.started_at += by
            if contact.ended_at:
                contact.ended_at += by
        if given["outing"]:
            contact.outing = given["outing"]
        self.retune(contact)
        for column in ("station_call", "operator_call", "qsl_sent", "qsl_sent_on", "qsl_rcvd", "qsl_rcvd_on"):
            if given[column]:
                setattr(contact, column, given[column])
        if contact.stint_id in stints:
            contact.stint = stints[contact.stint_id]
            return
        if given["shift"] or given["tuned"] or given["way"] or given["arrangement"] or given["outing"]:
            self.find_stint(contact, stints, outings)

    def find_stint(self, contact, stints, outings):
        """Keep the stint that still fits; else take the one of the outing that does, or none."""
        wanted = self.cleaned_data["arrangement"]

        def fits(stint):
            return stint.outing_id == contact.outing_id and stint.covers(contact) and stint.suits(contact) and (
                wanted is None or stint.arrangement_id == wanted.pk
            )

        if contact.stint is not None and fits(contact.stint):
            return
        if contact.outing_id not in outings:
            outings[contact.outing_id] = [stints.get(s.pk, s) for s in Stint.objects.filter(outing=contact.outing_id)]
        if contact.stint is None and wanted is None and not (self.cleaned_data["shift"] or self.cleaned_data["outing"]):
            return
        fitting = [stint for stint in outings[contact.outing_id] if fits(stint)]
        contact.stint = max(fitting, key=lambda stint: (stint.started_at, stint.pk)) if fitting else None


class WrongClockForm(forms.Form):
    """Which contacts: those of an outing whose time a phone gave while its clock was off by about so many seconds."""

    outing = forms.ModelChoiceField(Outing.objects.none())
    phone = forms.UUIDField()
    least_s = forms.FloatField()
    most_s = forms.FloatField()

    def __init__(self, data, operator):
        super().__init__(data)
        self.fields["outing"].queryset = Outing.objects.of(operator)

    def contacts(self):
        """The contacts as a QuerySet; none where the address cannot be read."""
        if not self.is_valid():
            return Contact.objects.none()
        asked = self.cleaned_data
        entries = FieldEntry.objects.filter(
            phone=asked["phone"], clock_error_s__gte=asked["least_s"], clock_error_s__lte=asked["most_s"]
        )
        return asked["outing"].contacts(manager="objects").timed_by(entries.by_a_wrong_clock())


def chosen_contacts(operator, pks):
    """Contacts of an operator that were ticked one by one."""
    numbers = [int(pk) for pk in pks if re.fullmatch(r"[0-9]{1,18}", pk)]
    found = models.Q(pk__in=[])
    for part in chunks(numbers):
        found |= models.Q(pk__in=part)
    return Contact.objects.of(operator).filter(found)
