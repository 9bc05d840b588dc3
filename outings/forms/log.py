"""Forms of the log: the row that a contact is typed into, the row that one is mended in, and strays given a stint."""

import copy
import datetime
import uuid

from django import forms

from outings import calls, clock, dial, geography
from outings.models import Contact, Outing

DIGITS = {"inputmode": "numeric", "autocomplete": "off"}
CAPITALS = {"autocomplete": "off", "autocapitalize": "characters", "spellcheck": "false"}
NONE = ("-", "–", "−")  # typed for a report that was not given


def text(label="", max_length=60, required=False, help_text="", **attributes):
    """A line of text without the browser's suggestions."""
    return forms.CharField(
        label=label, max_length=max_length, required=required, help_text=help_text,
        widget=forms.TextInput(attrs={"autocomplete": "off", **attributes}),
    )


class ContactRowForm(forms.Form):
    """What both rows share: reading call, reports, grid, references and exchange as they are typed."""

    call = text("Call", calls.LONGEST + 10, required=True, **CAPITALS)
    time = text("Time", 8, **DIGITS)
    rst_sent = text("Sent", 10, **DIGITS)
    rst_rcvd = text("Received", 10, **DIGITS)
    their_grid = text("Grid", 10, **CAPITALS)
    their_reference = text("Their reference", 60, **CAPITALS)
    name = text("Name", 80)
    state = text("State or province", 20, **CAPITALS)
    exchange_rcvd = text("Exchange received", 60, **CAPITALS)
    serial_sent = forms.IntegerField(label="Serial sent", required=False, min_value=0, max_value=99_999,
                                     widget=forms.TextInput(attrs=DIGITS))
    serial_rcvd = forms.IntegerField(label="Serial received", required=False, min_value=0, max_value=99_999,
                                     widget=forms.TextInput(attrs=DIGITS))
    comment = text("Comment", 255)
    their_programme = text("Their programme", 40)
    tuning = text("Band or frequency", 30, list="bands")
    listening = text("Receive on, where split", 30, list="bands")
    mode_typed = text("Mode", 20, list="modes", **CAPITALS)
    operator_call = text("Operator", 30, list="operators", **CAPITALS)

    def __init__(self, *args, outing, now, **options):
        super().__init__(*args, **options)
        self.outing, self.now = outing, now
        self.fields["call"].widget.attrs["class"] = "call"
        self.fields["operator_call"].widget.attrs["class"] = "call"
        self.fields["their_grid"].widget.attrs["class"] = "grid"
        if outing.exchange != Outing.Exchange.SERIAL:
            del self.fields["serial_sent"], self.fields["serial_rcvd"]
        if outing.exchange != Outing.Exchange.LOCATION:
            del self.fields["exchange_rcvd"]

    def clean_call(self):
        return self._call_of(self.cleaned_data["call"])

    def clean_operator_call(self):
        typed = self.cleaned_data["operator_call"]
        return self._call_of(typed).text if typed else ""

    @staticmethod
    def _call_of(typed):
        try:
            return calls.read(typed)
        except calls.NotACall as reason:
            raise forms.ValidationError(str(reason)) from None

    def clean_their_grid(self):
        typed = self.cleaned_data["their_grid"]
        try:
            return geography.canonical_grid(typed) if typed else ""
        except ValueError as reason:
            raise forms.ValidationError(str(reason)) from None

    def clean_their_reference(self):
        return " ".join(self.cleaned_data["their_reference"].split()).upper()

    def clean_state(self):
        return self.cleaned_data["state"].upper()

    def clean_tuning(self):
        return self._tuned(self.cleaned_data["tuning"])

    def clean_listening(self):
        return self._tuned(self.cleaned_data["listening"])

    @staticmethod
    def _tuned(typed):
        try:
            tuning = dial.tuning(typed) if typed else None
        except dial.Unreadable as reason:
            raise forms.ValidationError(str(reason)) from None
        if tuning and not tuning.band:
            raise forms.ValidationError(f"{typed} lies in no band of the ADIF standard.")
        return tuning

    def clean_mode_typed(self):
        typed = self.cleaned_data["mode_typed"]
        try:
            return dial.mode(typed) if typed else None
        except dial.Unreadable as reason:
            raise forms.ValidationError(str(reason)) from None

    def write_to(self, contact):
        """Put what was read into a contact."""
        values = self.cleaned_data
        call = values["call"]
        contact.call, contact.pending = call.text, call.doubtful
        for name in ("their_grid", "their_reference", "name", "state", "comment", "exchange_rcvd", "serial_sent",
                     "serial_rcvd"):
            if name in self.fields:
                setattr(contact, name, values[name])
        if "listening" in self.changed_data:
            split = values["listening"]
            contact.band_rx, contact.frequency_rx_hz = (split.band, split.frequency_hz) if split else ("", None)
        contact.their_programme = values["their_programme"] if values["their_reference"] else ""
        if values["operator_call"]:
            contact.operator_call = values["operator_call"]

    def report(self, name, contact):
        """A report as typed; the usual one of the mode where nothing is, none for a dash."""
        typed = self.cleaned_data[name]
        if typed in NONE:
            return ""
        return typed or dial.usual_report(contact.mode, contact.submode)


class EntryForm(ContactRowForm):
    """The row that a new contact is typed into. Only the call is needed; the rest follows from what is on the air.

    `paper` enters a log kept on paper: a date and a time that fill down from the contact before. `sure` holds a
    strange call that was shown once and is sent again, `shown` the call whose duplicates the page shows; `identity`
    keeps a request that is repeated from logging twice.
    """

    stint = forms.TypedChoiceField(label="On the air", required=False, coerce=int, empty_value=None)
    date = text("Date (UTC)", 10, **DIGITS)
    after = forms.CharField(required=False, widget=forms.HiddenInput)
    identity = forms.UUIDField(required=False, widget=forms.HiddenInput)
    sure = forms.CharField(required=False, widget=forms.HiddenInput)

    field_order = [
        "stint", "call", "date", "time", "rst_sent", "rst_rcvd", "exchange_rcvd", "serial_sent", "serial_rcvd",
        "their_grid", "their_reference", "name", "state", "comment", "their_programme", "tuning", "listening",
        "mode_typed", "operator_call",
    ]

    def __init__(self, *args, outing, operator, now, stints, paper=False, kept=None, next_serial=1, **options):
        kept, self.operator = kept or {}, operator
        options["initial"] = {
            "identity": uuid.uuid4, "serial_sent": next_serial, "operator_call": kept.get("operator_call", ""),
            "stint": kept.get("stint"), "after": kept.get("after", ""), "date": kept.get("after", "")[:10],
            "their_programme": kept.get("programme") or next((r.get("programme", "") for r in outing.references), ""),
            **options.get("initial", {}),
        }
        super().__init__(*args, outing=outing, now=now, **options)
        self.paper, self.stints = paper, {stint.pk: stint for stint in stints}
        running = [stint for stint in stints if stint.running]
        offered = list(stints) if paper else running
        choices = [(stint.pk, stint.label) for stint in offered]
        self.fields["stint"].choices = [("", "by time"), *choices] if paper else choices or [("", "nothing")]
        if paper:
            self.initial["date"] = self.initial["date"] or f"{outing.started_at or outing.window_start:%Y-%m-%d}"
        else:
            del self.fields["date"]
            if self.initial["stint"] not in self.stints or not self.stints[self.initial["stint"]].running:
                self.initial["stint"] = running[-1].pk if running else None
        self.fields["time"].widget.attrs["placeholder"] = "HHMM" if paper else "now"
        mode = self.chosen or (running[-1] if running else None)
        usual = dial.usual_report(mode.mode, mode.submode) if mode else ""
        for name in ("rst_sent", "rst_rcvd"):
            self.fields[name].widget.attrs["placeholder"] = usual or ("-10" if mode else "")
        self.fields["call"].widget.attrs["autofocus"] = True

    def full_clean(self):
        """Read what was typed; of a refused row the first field that needs a look gets the focus."""
        super().full_clean()
        for name in self.fields:
            self.fields[name].widget.attrs.pop("autofocus", None)
        wrong = next((name for name in self.fields if name in self._errors), "call")
        self.fields[wrong if wrong in self.fields else "call"].widget.attrs["autofocus"] = True

    @property
    def chosen(self):
        """The stint that is chosen in the row, None where the time decides."""
        value = self.data.get("stint") if self.is_bound else self.initial.get("stint")
        try:
            return self.stints.get(int(value))
        except (TypeError, ValueError):
            return None

    def clean_call(self):
        call = super().clean_call()
        if not call.usual and not call.doubtful and self.data.get("sure") != call.text:
            self.data = self.data.copy()
            self.data["sure"] = call.text
            raise forms.ValidationError(
                f"{call.text} does not have the form of a call sign. Press Enter again to log it as it is, "
                "or put ? for what was not copied."
            )
        return call

    def clean_date(self):
        try:
            return clock.date(self.cleaned_data["date"])
        except clock.NotATime as reason:
            raise forms.ValidationError(str(reason)) from None

    def clean(self):
        values = super().clean()
        try:
            self.moment = self.moment_typed()
        except clock.NotATime as reason:
            self.add_error("time", str(reason))
            return values
        if "tuning" in values and "mode_typed" in values:
            self._place()
        return values

    def moment_typed(self):
        """The moment of the contact, read from date and time. Raises NotATime."""
        typed = self.cleaned_data.get("time", "")
        if not self.paper:
            return clock.read(typed, self.now)
        day = self.cleaned_data.get("date")
        if day is None:
            raise clock.NotATime("The time needs the date.")
        above = self.above
        if above and above.date() == day:
            moment = clock.filled_down(typed, above)
        elif typed:
            moment = clock.on_day(typed, day)
        else:
            raise clock.NotATime("Give the time of the first contact as HHMM; the next ones fill down.")
        if moment.at > self.now + clock.AHEAD:
            raise clock.NotATime(f"{moment.at:%Y-%m-%d %H:%M} UTC is still ahead.")
        return moment

    @property
    def above(self):
        """The moment of the contact before in a paper log, None at its first."""
        try:
            return datetime.datetime.fromisoformat(self.data.get("after", ""))
        except ValueError:
            return None

    def _place(self):
        """Find band, mode and stint of the contact."""
        contact = self.contact = self.blank()
        contact.started_at, contact.seconds_known = self.moment.at, self.moment.seconds_known
        tuning, mode = self.cleaned_data["tuning"], self.cleaned_data["mode_typed"]
        if tuning:
            contact.band, contact.frequency_hz = tuning.band, tuning.frequency_hz
        if mode:
            contact.mode, contact.submode = mode
        chosen = self.chosen
        if chosen and chosen.covers(contact) and chosen.suits(contact):
            contact.take_over(chosen)
        elif not contact.settle(list(self.stints.values())) and chosen and not self.paper:
            # before the stint began, or tuned elsewhere for one contact: the rest is what the radio is set to
            for typed, names in ((tuning, ("band", "frequency_hz")), (mode, ("mode", "submode")), (None, ("power_w",))):
                for name in () if typed else names:
                    setattr(contact, name, getattr(chosen, name))
        if not (contact.band or contact.frequency_hz) or not contact.mode:
            if self.paper or self.stints:
                reason = f"No stint covers {self.moment.at:%H:%M} UTC: add one, or give band and mode in this row."
            else:
                reason = "Nothing is on the air: begin a stint, or give band and mode in this row."
            self.add_error(None, reason)

    def blank(self):
        """A contact of this outing with nothing typed yet."""
        return Contact(owner=self.outing.owner, outing=self.outing, station_call=self.outing.station_call,
                       operator_call=self.operator.call_sign, exchange_sent=self.outing.exchange_text)

    def is_unseen_duplicate(self):
        """Whether it repeats contacts that were not shown yet; then they are, and the same row sent again is logged."""
        call, outing = self.cleaned_data["call"].text, self.outing
        if self.data.get("shown") == call or self.repeated:
            return False
        self.write_to(self.contact)
        known = Contact.objects.seen_from(outing.pk, outing.owner_id, self.operator)
        if not known.duplicates_of(self.contact).exists():
            return False
        self.add_error("call", f"{call} is in the log already. Press Enter again to log it all the same.")
        return True

    @property
    def repeated(self):
        """The contact that this very row made already, where a request arrives twice."""
        identity = self.cleaned_data.get("identity")
        if not identity:
            return None
        known = Contact.everything.filter(outing=self.outing, uuid=identity).first()
        return known if known and known.call == self.cleaned_data["call"].text else None

    def save(self, actor):
        """Log the contact."""
        if known := self.repeated:
            return known
        contact = self.contact
        self.write_to(contact)
        contact.rst_sent, contact.rst_rcvd = self.report("rst_sent", contact), self.report("rst_rcvd", contact)
        identity = self.cleaned_data.get("identity")
        if identity and not Contact.everything.of(self.outing.owner).filter(uuid=identity).exists():
            contact.uuid = identity
        contact.keep(actor, cause="log")
        return contact

    def kept(self, contact):
        """What the next row takes over from this one."""
        return {
            "operator_call": self.cleaned_data["operator_call"], "programme": contact.their_programme,
            "stint": self.chosen.pk if self.chosen else None,
            "after": contact.started_at.isoformat() if self.paper else "",
        }

    def as_far_as_typed(self):
        """The contact as far as it can be read, and its call (None while it is none): never refuses anything."""
        self.is_valid()
        values = self.cleaned_data
        contact = getattr(self, "contact", None) or self.blank()
        call = values.get("call")
        if call is None:
            try:
                call = calls.read(self.data.get("call", ""))
            except calls.NotACall:
                call = None
        if call:
            contact.call = call.text
        if not contact.started_at:
            contact.started_at = self.now
        contact.their_grid = values.get("their_grid", "")
        contact.their_reference = values.get("their_reference", "")
        contact.locate(self.outing.site)
        return contact, call


class MendForm(ContactRowForm):
    """The row that one contact is mended in."""

    time = text("Time", 25, required=True, help_text="UTC date and time")
    stint = forms.TypedChoiceField(label="Stint", required=False, coerce=int, empty_value=None)

    field_order = ["call", "time", *ContactRowForm.base_fields]

    def __init__(self, *args, contact, stints, now, **options):
        self.contact, self.stints = contact, {stint.pk: stint for stint in stints}
        self.stored = copy.copy(contact)
        options["initial"] = {
            **{name: getattr(contact, name) for name in ContactRowForm.base_fields if hasattr(contact, name)},
            "time": f"{contact.started_at:%Y-%m-%d %H%M%S}" if contact.seconds_known else
                    f"{contact.started_at:%Y-%m-%d %H%M}",
            "tuning": dial.frequency_text(contact.frequency_hz) if contact.frequency_hz else contact.band,
            "listening": dial.frequency_text(contact.frequency_rx_hz) if contact.frequency_rx_hz else contact.band_rx,
            "mode_typed": contact.submode or contact.mode, "stint": contact.stint_id,
        }
        super().__init__(*args, outing=contact.outing, now=now, prefix=f"c{contact.pk}", **options)
        self.fields["stint"].choices = [("", "none"), *((s.pk, s.label) for s in stints)]
        self.fields["call"].widget.attrs["autofocus"] = True
        for name in ("call", "time", "tuning", "mode_typed"):
            self.fields[name].required = True

    def clean_time(self):
        try:
            moment = clock.dated(self.cleaned_data["time"], self.contact.started_at.date())
        except clock.NotATime as reason:
            raise forms.ValidationError(str(reason)) from None
        if moment.at > self.now + clock.AHEAD:
            raise forms.ValidationError(f"{moment.at:%Y-%m-%d %H:%M} UTC is still ahead.")
        return moment

    def save(self, actor):
        """Keep what was mended. A stint chosen here holds; otherwise one that no longer covers the contact is left."""
        contact, values = self.contact, self.cleaned_data
        self.write_to(contact)
        contact.operator_call = values["operator_call"]
        for name in ("rst_sent", "rst_rcvd"):
            setattr(contact, name, "" if values[name] in NONE else values[name])
        if "time" in self.changed_data:
            contact.started_at, contact.seconds_known = values["time"].at, values["time"].seconds_known
        if "tuning" in self.changed_data:
            contact.band, contact.frequency_hz = values["tuning"].band, values["tuning"].frequency_hz
        if "mode_typed" in self.changed_data:
            contact.mode, contact.submode = values["mode_typed"]
        if "stint" in self.changed_data:
            contact.stint = self.stints.get(values["stint"])
        elif {"time", "tuning", "mode_typed"} & set(self.changed_data):
            contact.settle(list(self.stints.values()))
        contact.keep(actor)
        return contact


class StraysForm(forms.Form):
    """Contacts without a stint, given one."""

    contacts = forms.ModelMultipleChoiceField(Contact.objects.none(), error_messages={"required": "Choose contacts."})
    stint = forms.TypedChoiceField(label="Stint", coerce=int)

    def __init__(self, *args, outing, stints, **options):
        super().__init__(*args, prefix="strays", **options)
        self.stints = {stint.pk: stint for stint in stints}
        self.fields["contacts"].queryset = outing.contacts.stintless()
        self.fields["stint"].choices = [(s.pk, s.label) for s in stints]

    def save(self, actor):
        """Give them the stint; what they have of their own stays. Returns them."""
        contacts = list(self.cleaned_data["contacts"])
        for contact in contacts:
            contact.stint = self.stints[self.cleaned_data["stint"]]
        Contact.keep_all(contacts, actor, cause="given a stint", batch=uuid.uuid4())
        return contacts
