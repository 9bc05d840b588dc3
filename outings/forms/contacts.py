"""Forms of the contacts: the filter that lists and exports share, and the form that edits one contact."""

import datetime
from urllib.parse import urlencode

from django import forms
from django.utils import timezone

from outings import calls, clock, dial, geography
from outings.adif import tables
from outings.models import Contact, Outing, Stint

MATCHES = [("", "begins with"), ("contains", "contains")]
FAMILIES = [("", "all"), ("cw", "Morse"), ("phone", "voice"), ("data", "data")]
QSL = [
    ("", "all"), ("sent", "sent"), ("unsent", "not sent"), ("received", "received"),
    ("waiting", "sent, none received"), ("owed", "received, none sent"),
]
SORTS = [
    ("", "newest first"), ("oldest", "oldest first"), ("call", "call A to Z"), ("-call", "call Z to A"),
    ("farthest", "farthest first"),
]


class NewestOutings(forms.models.ModelChoiceIterator):
    """The newest outings to choose from, and the one that is chosen: a long log has thousands."""

    SHOWN = 100

    def __iter__(self):
        yield "", self.field.empty_label
        shown = list(self.queryset[: self.SHOWN])
        if self.field.chosen and self.field.chosen not in {str(outing.pk) for outing in shown}:
            shown += self.queryset.filter(pk=self.field.chosen)
        for outing in shown:
            yield self.choice(outing)


class OutingFilterField(forms.ModelChoiceField):
    """Any outing of the operator; `chosen` is the key that was asked for, digits or nothing."""

    iterator = NewestOutings
    chosen = ""

    def offer(self, operator, wanted):
        """Offer the operator's outings; `wanted` is what the address says."""
        wanted = str(wanted or "")
        self.queryset = Outing.objects.of(operator).select_related("site")
        self.chosen = wanted if wanted.isascii() and wanted.isdigit() and len(wanted) < 19 else ""


class ContactFilter(forms.Form):
    """Which contacts: read from the query string of a list, an export or a mending, and written back into one.

    A filter that cannot be read (a date that is none, an outing of somebody else) chooses nothing, never everything.
    """

    call = forms.CharField(required=False, max_length=30)
    match = forms.ChoiceField(label="Which", required=False, choices=MATCHES)
    since = forms.DateField(label="From (UTC day)", required=False)
    until = forms.DateField(label="To (UTC day)", required=False)
    outing = OutingFilterField(Outing.objects.none(), required=False, empty_label="All")
    band = forms.CharField(required=False, max_length=8)
    family = forms.ChoiceField(label="Kind of mode", required=False, choices=FAMILIES)
    mode = forms.CharField(label="Mode or submode", required=False, max_length=20)
    station_call = forms.CharField(label="Own call used", required=False, max_length=30)
    qsl = forms.ChoiceField(label="QSL", required=False, choices=QSL)
    text = forms.CharField(label="Text in names, places, comments, references", required=False, max_length=100)
    pending = forms.BooleanField(label="Doubtful only", required=False)
    gridless = forms.BooleanField(label="Without a grid square", required=False)
    stintless = forms.BooleanField(label="Without a stint", required=False)
    marked = forms.BooleanField(label="With values not to the standard", required=False)
    conflict = forms.BooleanField(label="Changed in two places", required=False)
    sort = forms.ChoiceField(label="Order", required=False, choices=SORTS)

    def __init__(self, data, operator):
        super().__init__(data)
        self.operator = operator
        self.fields["outing"].offer(operator, (data or {}).get("outing"))
        for name, suggestions in (("band", "bands"), ("mode", "modes"), ("station_call", "own-calls")):
            self.fields[name].widget.attrs.update({"list": suggestions, "autocomplete": "off"})
        for name in ("since", "until"):
            self.fields[name].widget.attrs["placeholder"] = "2026-05-01"
        for name in ("call", "station_call"):
            self.fields[name].widget.attrs.update({"class": "call", "spellcheck": "false"})

    def clean_call(self):
        return "".join(self.cleaned_data["call"].split()).upper()

    def clean_station_call(self):
        return "".join(self.cleaned_data["station_call"].split()).upper()

    def clean(self):
        since, until = self.cleaned_data.get("since"), self.cleaned_data.get("until")
        if since and until and until < since:
            self.add_error("until", "The last day is before the first.")

    def log(self):
        """What it chooses from: the contacts of the operator, or of one outing of theirs.

        Those are not asked for by their operator as well, since SQLite would then go through the whole log for them.
        """
        outing = self.cleaned_data["outing"] if self.is_valid() else None
        return outing.contacts(manager="objects") if outing else Contact.objects.of(self.operator)

    def walked(self, queryset):
        """As `filtered`, for so many that a page of them is soon found by walking through the log in its order."""
        return self.filtered(queryset, walk=self.cleaned_data.get("sort") not in ("call", "-call"))

    def filtered(self, queryset, walk=False):
        """Keep the contacts of a QuerySet that the filter names; none where it cannot be read."""
        if not self.is_valid():
            return queryset.none()
        wanted = self.cleaned_data
        if wanted["call"]:
            if wanted["match"] == "contains":
                queryset = queryset.call_contains(wanted["call"])
            else:
                queryset = queryset.call_begins(wanted["call"], by_index=not walk)
        if wanted["since"]:
            queryset = queryset.filter(started_at__gte=utc_midnight(wanted["since"]))
        if wanted["until"]:
            queryset = queryset.filter(started_at__lt=utc_midnight(wanted["until"]) + datetime.timedelta(days=1))
        if wanted["outing"]:
            queryset = queryset.filter(outing=wanted["outing"])
        if wanted["band"]:
            queryset = queryset.filter(band__iexact=wanted["band"])
        if wanted["family"]:
            queryset = queryset.of_family(wanted["family"])
        if wanted["mode"]:
            queryset = queryset.in_mode(wanted["mode"])
        if wanted["station_call"]:
            queryset = queryset.filter(station_call=wanted["station_call"])
        if wanted["qsl"]:
            queryset = queryset.qsl(wanted["qsl"])
        if wanted["text"]:
            queryset = queryset.mentioning(wanted["text"])
        for name in ("pending", "gridless", "stintless", "marked", "conflict"):
            if wanted[name]:
                queryset = getattr(queryset, name)()
        return queryset

    def query(self, **more):
        """The filter as a query string, without what is empty; `more` is added, None takes a name out."""
        values = {name: self.data.get(name, "") for name in self.fields} | more
        return urlencode({name: value for name, value in values.items() if value not in ("", None)})

    @property
    def order_text(self):
        """How the contacts are ordered, in words."""
        return dict(SORTS).get(self.data.get("sort", ""), SORTS[0][1])

    @property
    def uses_more(self):
        """Whether one of the rarer filters is set, those that the page folds away."""
        return any(self.data.get(name) for name in (
            "sort", "since", "until", "text", "mode", "station_call", "qsl", "pending", "gridless", "stintless",
            "marked", "conflict",
        ))

    def is_empty(self):
        """Whether the filter names every contact."""
        return not any(self.data.get(name) for name in self.fields if name != "sort")


def utc_midnight(day):
    """The moment at which a UTC day begins."""
    return datetime.datetime.combine(day, datetime.time(), datetime.UTC)


QSL_SENT = [
    ("", "–"), ("Y", "sent"), ("N", "not sent"), ("R", "asked for"), ("Q", "to be sent"), ("I", "not to be sent"),
]
QSL_RCVD = [("", "–"), ("Y", "received"), ("N", "not received"), ("R", "asked for"), ("I", "not wanted")]


def with_present(choices, value):
    """Choices, with the value that a contact has where it is none of them, so that saving does not lose it."""
    return choices if value in dict(choices) else [*choices, (value, f"{value} (as it came)")]


class CallField(forms.CharField):
    """A call sign in capitals; one with ? is taken where `doubtful` allows it."""

    def __init__(self, *, doubtful=False, **options):
        options.setdefault("max_length", calls.LONGEST + 10)
        super().__init__(**options)
        self.doubtful = doubtful
        self.widget.attrs.update({
            "class": "call", "autocapitalize": "characters", "autocomplete": "off", "spellcheck": "false",
        })

    def clean(self, value):
        typed = super().clean(value)
        if not typed:
            return ""
        try:
            call = calls.read(typed)
        except calls.NotACall as error:
            raise forms.ValidationError(str(error)) from None
        if call.doubtful and not self.doubtful:
            raise forms.ValidationError("One's own call has no ?.")
        return call.text


class DialField(forms.CharField):
    """Text that is read by a function of `outings.dial`; left as it was shown, it changes nothing."""

    def __init__(self, reader, **options):
        super().__init__(required=False, max_length=40, **options)
        self.reader = reader
        self.widget.attrs["class"] = "short"

    def clean(self, value):
        typed = super().clean(value)
        if not typed:
            return None
        try:
            return self.reader(typed)
        except dial.Unreadable as error:
            raise forms.ValidationError(str(error)) from None


class ContactForm(forms.ModelForm):
    """One contact, everything that can be corrected by hand.

    `revision` is that of the contact when the page was made. Where the contact has moved on since, the form is refused
    once, says what is different now, and keeps what was typed; sent again, it counts.
    """

    call = CallField(label="Call", doubtful=True, help_text="with ? for what was not copied, which makes it doubtful")
    day = forms.DateField(label="UTC day")
    clock = forms.CharField(label="Time, UTC", max_length=10, help_text="HHMM or HHMMSS")
    ended = forms.CharField(label="End, UTC", max_length=10, required=False, help_text="up to 24 hours later")
    tuned = DialField(dial.tuning, label="Band or frequency", help_text="20m, or 14285, or 14.285")
    tuned_rx = DialField(dial.tuning, label="Received on", help_text="where it was split")
    way = DialField(dial.mode, label="Mode", help_text="or submode: SSB, USB, CW, FT8")
    power = DialField(dial.power_w, label="Own power", help_text="in watts, or 500 mW")
    station_call = CallField(label="Own call used")
    operator_call = CallField(label="Operator", required=False, help_text="where another than the call used")
    revision = forms.IntegerField(widget=forms.HiddenInput)

    class Meta:
        model = Contact
        fields = [
            "call", "pending", "rst_sent", "rst_rcvd", "their_grid", "their_programme", "their_reference", "name",
            "qth", "state", "county", "country", "dxcc", "exchange_sent", "exchange_rcvd", "serial_sent", "serial_rcvd",
            "prop_mode", "sat_name", "sat_mode", "comment", "notes", "qsl_sent", "qsl_sent_on", "qsl_rcvd",
            "qsl_rcvd_on", "qsl_note", "stint", "station_call", "operator_call",
        ]
        labels = {
            "pending": "Doubtful", "exchange_sent": "Exchange sent", "serial_sent": "Serial sent",
            "qsl_sent_on": "Sent on", "qsl_rcvd_on": "Received on",
        }
        widgets = {"comment": forms.TextInput, "notes": forms.Textarea(attrs={"rows": 4})}

    # Columns that are typed in another shape: the field that holds them.
    TYPED = {
        "started_at": "clock", "ended_at": "ended", "band": "tuned", "frequency_hz": "tuned", "band_rx": "tuned_rx",
        "frequency_rx_hz": "tuned_rx", "mode": "way", "submode": "way", "power_w": "power",
    }

    def __init__(self, *args, instance, **options):
        contact = instance
        initial = {
            "day": contact.started_at.date(), "clock": clock_text(contact.started_at, contact.seconds_known),
            "ended": clock_text(contact.ended_at, contact.seconds_known),
            "tuned": tuned_text(contact.band, contact.frequency_hz),
            "tuned_rx": tuned_text(contact.band_rx, contact.frequency_rx_hz),
            "way": contact.submode or contact.mode,
            "power": "" if contact.power_w is None else dial.power_text(contact.power_w),
            "revision": contact.revision,
        }
        super().__init__(*args, instance=contact, initial={**initial, **options.pop("initial", {})}, **options)
        self.stored, self.moved_on = Contact.everything.get(pk=contact.pk), False
        self.fields["stint"].queryset = Stint.objects.filter(outing=contact.outing_id)
        self.fields["stint"].empty_label = "none"
        self.fields["qsl_sent"] = forms.ChoiceField(
            label="QSL sent", required=False, choices=with_present(QSL_SENT, contact.qsl_sent))
        self.fields["qsl_rcvd"] = forms.ChoiceField(
            label="QSL received", required=False, choices=with_present(QSL_RCVD, contact.qsl_rcvd))
        self.fields["their_grid"].widget.attrs["class"] = "grid short"
        for name, suggestions in (
            ("tuned", "bands"), ("tuned_rx", "bands"), ("way", "modes"), ("prop_mode", "propagation"),
        ):
            self.fields[name].widget.attrs.update({"list": suggestions, "autocomplete": "off"})
        for name in ("clock", "ended", "rst_sent", "rst_rcvd", "state", "dxcc", "serial_sent", "serial_rcvd"):
            self.fields[name].widget.attrs["class"] = "short"
        for name in ("dxcc", "serial_sent", "serial_rcvd"):
            self.fields[name].widget = forms.TextInput(attrs={"inputmode": "numeric", "class": "short"})

    def clean_their_grid(self):
        typed = self.cleaned_data["their_grid"]
        if "their_grid" not in self.changed_data or not typed:
            return typed
        try:
            return geography.canonical_grid(typed)
        except ValueError as error:
            raise forms.ValidationError(str(error)) from None

    def clean_clock(self):
        return self.cleaned_time("clock")

    def clean_ended(self):
        return self.cleaned_time("ended") if self.cleaned_data["ended"] else None

    def cleaned_time(self, name):
        """The time of a field on the day that was typed; None where that day is none, which says so itself."""
        day = self.cleaned_data.get("day")
        try:
            return clock.on_day(self.cleaned_data[name], day or timezone.now().date()) if day else None
        except clock.NotATime as error:
            raise forms.ValidationError(str(error)) from None

    def clean_prop_mode(self):
        typed = self.cleaned_data["prop_mode"].strip().upper()
        known = tables.enumeration("Propagation_Mode")
        if typed and "prop_mode" in self.changed_data and typed not in known:
            raise forms.ValidationError(f"The standard knows {', '.join(known)}.")
        return typed

    def clean_dxcc(self):
        code = self.cleaned_data["dxcc"]
        if code is not None and "dxcc" in self.changed_data and code not in tables.entities():
            raise forms.ValidationError(f"The standard has no entity {code}.")
        return code

    def clean(self):
        super().clean()
        given = self.cleaned_data
        began, ended = given.get("clock"), given.get("ended")
        if began and began.at > timezone.now() + datetime.timedelta(days=1):
            self.add_error("day", "That day is still ahead.")
        if began and ended and ended.at < began.at:
            given["ended"] = clock.Moment(ended.at + datetime.timedelta(days=1), ended.seconds_known)
        stint = given.get("stint")
        if stint and began and "stint" in self.changed_data:
            probe = Contact(started_at=began.at, seconds_known=began.seconds_known)
            if not stint.covers(probe):
                self.add_error("stint", f"That stint was not on the air at {began.at:%H:%M} UTC.")
        if given.get("revision") not in (None, self.stored.revision):
            self.refuse_for_moving_on()

    def refuse_for_moving_on(self):
        """Say that the contact was changed meanwhile, and let the form count when it is sent again."""
        self.add_error(None, (
            "This contact was changed elsewhere while you were editing it. What you typed is kept below; look at what "
            "is different now, then save again to let yours count."
        ))
        self.moved_on = True
        self.data = self.data.copy()
        self.data[self.add_prefix("revision")] = self.stored.revision

    def _post_clean(self):
        """Write what was typed in another shape into the columns; what was not touched stays as exact as it was."""
        super()._post_clean()
        contact, given = self.instance, self.cleaned_data
        if {"day", "clock"} & set(self.changed_data) and given.get("clock"):
            contact.started_at, contact.seconds_known = given["clock"].at, given["clock"].seconds_known
        if {"day", "clock", "ended"} & set(self.changed_data) and "ended" in given:
            contact.ended_at = given["ended"].at if given["ended"] else None
        for name, band, frequency in (
            ("tuned", "band", "frequency_hz"), ("tuned_rx", "band_rx", "frequency_rx_hz"),
        ):
            if name in self.changed_data and name in given:
                tuning = given[name] or dial.Tuning("")
                setattr(contact, band, tuning.band)
                setattr(contact, frequency, tuning.frequency_hz)
        if "way" in self.changed_data and "way" in given:
            contact.mode, contact.submode = given["way"] or ("", "")
        if "power" in self.changed_data and "power" in given:
            contact.power_w = given["power"]
        if "?" in contact.call:
            contact.pending = True
        elif "?" in self.stored.call:
            contact.pending = False
        if "their_grid" in self.changed_data:  # a position from a file belongs to the grid square that came with it
            contact.their_latitude_deg = contact.their_longitude_deg = None
        touched = {"day", "clock", "tuned", "way"} & set(self.changed_data)
        if touched and "stint" not in self.changed_data and contact.stint_id and not self.errors:
            stint = contact.stint
            if not (stint.covers(contact) and stint.suits(contact)):
                contact.settle()

    def keep(self, actor):
        """Save with the history; returns the Change, None if nothing was changed."""
        return self.instance.keep(actor)

    def differences(self):
        """Where what was typed is not what the log has: a list of (label, in the log, typed)."""
        return [
            (self[name].label, shown(self[name], self[name].initial), shown(self[name], self[name].data))
            for name in self.changed_data if name != "revision"
        ]


def shown(bound, value):
    """A field's value in words: the chosen one of several, a tick as yes or no."""
    if isinstance(bound.field, forms.BooleanField):
        return "yes" if value and value != "False" else "no"
    if hasattr(bound.field, "choices"):
        names = {str(key): label for key, label in bound.field.choices}
        return names.get("" if value is None else str(value), value)
    return "" if value is None else str(value)


def clock_text(moment, seconds_known):
    """A time of day as it is typed: 140537, or 1405 where the seconds are not known."""
    return "" if moment is None else f"{moment:%H%M%S}" if seconds_known else f"{moment:%H%M}"


def tuned_text(band, frequency_hz):
    """The frequency as it is typed, else the band."""
    return band if frequency_hz is None else dial.frequency_text(frequency_hz)


class SettleConflictForm(forms.Form):
    """What becomes of the version of a contact that lost: the log stays as it is, or takes that version over."""

    take = forms.ChoiceField(choices=[("log", "keep what the log has"), ("other", "take the other version")])

    def __init__(self, *args, conflict, **options):
        super().__init__(*args, **options)
        self.conflict = conflict

    def keep(self, actor):
        self.conflict.settle(actor, take_over=self.cleaned_data["take"] == "other")
