"""Forms of outings as planned: where, when in local time or UTC, which call, kit, bands, goal and conditions."""

import datetime

from django import forms

from equipment import bands
from equipment.models import Kit
from outings import calls, windows
from outings.models import Outing, Site

from .fields import DayField, LocalMomentField, NumberField, ReferencesField, TimeOfDayField, WholeField

LONGEST = datetime.timedelta(days=7)
LOCAL, UTC = "local", "utc"
USUAL_BANDS = ("160m", "80m", "60m", "40m", "30m", "20m", "17m", "15m", "12m", "10m", "6m", "4m", "2m", "70cm")
HAPPENED = {"announced": "announced_at", "arrived": "started_at", "left": "ended_at"}  # fields: columns
WHICH = [("", "not needed"), (windows.FIRST, "the first time"), (windows.SECOND, "the second time")]


class SiteChoiceField(forms.ModelChoiceField):
    """A site by its name and grid square."""

    def label_from_instance(self, site):
        return f"{site.name} ({site.grid_6})"


class OutingForm(forms.ModelForm):
    """A plan. Times are typed in the site's local time or in UTC, and stored in UTC."""

    site = SiteChoiceField(queryset=Site.objects.none(), empty_label="choose a site")
    times_in = forms.ChoiceField(
        label="Times below are", choices=[(LOCAL, "local time at the site"), (UTC, "UTC")], initial=LOCAL,
        widget=forms.RadioSelect,
    )
    date = DayField(label="Date")
    start_time = TimeOfDayField(label="From")
    end_time = TimeOfDayField(label="Until")
    end_date = DayField(label="Last date", required=False)
    start_which = forms.ChoiceField(label="The start comes twice; meant is", choices=WHICH, required=False)
    end_which = forms.ChoiceField(label="The end comes twice; meant is", choices=WHICH, required=False)
    announced = LocalMomentField(label="Announced to others at", required=False)
    announced_which = forms.ChoiceField(
        label="The announcement’s time comes twice; meant is", choices=WHICH, required=False
    )
    arrived = LocalMomentField(label="Arrived at", required=False)
    arrived_which = forms.ChoiceField(label="The arrival’s time comes twice; meant is", choices=WHICH, required=False)
    left = LocalMomentField(label="Left at", required=False)
    left_which = forms.ChoiceField(label="The departure’s time comes twice; meant is", choices=WHICH, required=False)
    references = ReferencesField(
        required=False, help_text="Those that count this time. Left empty on a new plan, the site’s are taken."
    )
    bands = forms.MultipleChoiceField(required=False, widget=forms.CheckboxSelectMultiple)
    kit = forms.ModelChoiceField(queryset=Kit.objects.none(), required=False, empty_label="none yet")
    goal_contacts = WholeField(label="Goal in contacts", required=False, min_value=1, max_value=100_000)
    solar_flux = NumberField(label="Solar flux", required=False, min_value=0, max_value=1000)
    a_index = NumberField(label="A index", required=False, min_value=0, max_value=500)
    k_index = NumberField(label="K index, 0 to 9", required=False, min_value=0, max_value=9)

    class Meta:
        model = Outing
        fields = [
            "title", "site", "station_call", "references", "kit", "bands", "goal_contacts", "exchange",
            "exchange_text", "solar_flux", "a_index", "k_index", "conditions", "notes",
        ]
        help_texts = {
            "title": "Left empty, it is the site and the date.",
            "station_call": "With the prefix or suffix that is given, such as Q1ABC/P.",
            "exchange_text": "The state, province or country that is given with the report.",
        }
        widgets = {
            "station_call": forms.TextInput(
                attrs={"class": "call", "autocapitalize": "characters", "autocomplete": "off"}
            ),
            "conditions": forms.Textarea(attrs={"rows": 3}),
            "notes": forms.Textarea(attrs={"rows": 3}),
        }

    def __init__(self, *args, operator, **kwargs):
        super().__init__(*args, **kwargs)
        self.operator = operator
        outing = self.instance
        self.fields["site"].queryset = Site.objects.of(operator).in_use() | Site.objects.of(operator).filter(
            pk=outing.site_id
        )
        self.fields["kit"].queryset = Kit.objects.of(operator).in_use() | Kit.objects.of(operator).filter(
            pk=outing.kit_id
        )
        self.fields["bands"].choices = band_choices(outing.bands or self.initial.get("bands") or ())
        if not self.initial.get("station_call"):
            self.initial["station_call"] = operator.call_sign
        if outing.pk:
            self._show_times(outing)

    def _show_times(self, outing):
        """Put the stored times into the fields, on the clock of the site."""
        zone = outing.site.time_zone
        start, end = here(outing.window_start, zone), here(outing.window_end, zone)
        self.initial.update(times_in=LOCAL, date=start.date(), start_time=start.time())
        self.initial["start_which"] = which_of(outing.window_start, start, zone)
        if end:
            self.initial.update(end_time=end.time(), end_which=which_of(outing.window_end, end, zone))
            follows = start.date() + (windows.DAY if end.time() <= start.time() else datetime.timedelta())
            self.initial["end_date"] = None if end.date() == follows else end.date()
        for name, column in HAPPENED.items():
            if at := getattr(outing, column):
                self.initial |= {name: here(at, zone), f"{name}_which": which_of(at, here(at, zone), zone)}

    @property
    def band_boxes(self):
        """The boxes of the usual bands, those of the others, and whether one of the others is ticked."""
        boxes = list(self["bands"])
        usual, others = boxes[: len(USUAL_BANDS)], boxes[len(USUAL_BANDS):]
        return {"usual": usual, "others": others, "open": any(box.data["selected"] for box in others)}

    @staticmethod
    def initial_from(outing):
        """What a new plan takes over from an outing: neither its dates nor what was noted about its day."""
        start, end = here(outing.window_start, outing.site.time_zone), here(outing.window_end, outing.site.time_zone)
        return {
            "title": outing.title, "site": outing.site, "station_call": outing.station_call,
            "references": list(outing.references), "kit": outing.kit, "bands": list(outing.bands),
            "goal_contacts": outing.goal_contacts, "exchange": outing.exchange, "exchange_text": outing.exchange_text,
            "start_time": start.time(), "end_time": end.time() if end else None, "notes": outing.notes,
        }

    @property
    def doubtful_times(self):
        """The fields that ask which of two equal times of the window is meant, where a time needs one."""
        return self._asked("start_which", "end_which")

    @property
    def doubtful_moments(self):
        """The same for what happened: announced, arrived, left."""
        return self._asked(*(f"{name}_which" for name in HAPPENED))

    def _asked(self, *names):
        return [self[name] for name in names if self[name].value() or self[name].errors]

    def clean_station_call(self):
        try:
            call = calls.read(self.cleaned_data["station_call"])
        except calls.NotACall as error:
            raise forms.ValidationError(str(error)) from error
        if call.doubtful:
            raise forms.ValidationError("Your own call sign has no question mark.")
        return call.text

    def clean_bands(self):
        chosen = set(self.cleaned_data["bands"])
        return [name for name in bands.NAMES if name in chosen]

    def clean(self):
        cleaned = super().clean()
        if cleaned.get("exchange") == Outing.Exchange.LOCATION and not cleaned.get("exchange_text"):
            self.add_error("exchange_text", "Type the state, province or country that you give.")
        site = cleaned.get("site")
        if site is None or not cleaned.get("times_in"):
            return cleaned
        zone = windows.UTC if cleaned["times_in"] == UTC else site.time_zone
        date, start_time, end_time = cleaned.get("date"), cleaned.get("start_time"), cleaned.get("end_time")
        if date and start_time is not None:
            cleaned["window_start"] = self._instant("start_time", "start_which", date, start_time, zone)
        if date and end_time is not None and start_time is not None and "end_date" not in self.errors:
            next_day = windows.DAY if self._ends_next_day(start_time, end_time) else datetime.timedelta()
            last = cleaned.get("end_date") or date + next_day
            cleaned["window_end"] = self._instant("end_time", "end_which", last, end_time, zone)
        start, end = cleaned.get("window_start"), cleaned.get("window_end")
        if start and end and end <= start:
            self.add_error("end_time", f"The end, {end:%Y-%m-%d %H:%M} UTC, is not after the start, {start:%H:%M} UTC.")
        elif start and end and end - start > LONGEST:
            self.add_error("end_date", "An outing lasts at most seven days; going on to the next site is the next one.")
        for name, column in HAPPENED.items():
            if cleaned.get(name):
                cleaned[column] = self._instant(name, f"{name}_which", *cleaned[name], zone)
        self._refuse_odd_stay(cleaned.get("started_at"), cleaned.get("ended_at"))
        return cleaned

    def _refuse_odd_stay(self, arrived, left):
        """Nobody leaves before arriving, nor stays for more days than an outing lasts."""
        if arrived and left and left <= arrived:
            self.add_error("left", f"This is not after the arrival, {arrived:%Y-%m-%d %H:%M} UTC.")
        elif arrived and left and left - arrived > LONGEST:
            self.add_error("left", "An outing lasts at most seven days; going on to the next site is the next one.")

    def _ends_next_day(self, start_time, end_time):
        """An end that is not later on the clock lies on the next day, unless the clocks are set back in between."""
        return end_time < start_time or (end_time == start_time and not self.cleaned_data.get("end_which"))

    def _instant(self, field, which_field, date, time, zone):
        which = self.cleaned_data.get(which_field) or ""
        try:
            return windows.to_utc(date, time, zone, which)
        except windows.TwoSuchTimes as error:
            self.add_error(which_field, str(error))
        except ValueError as error:
            self.add_error(field, str(error))
        return None

    def save(self, commit=True):
        outing = self.instance
        is_new = outing.pk is None
        outing.owner = outing.owner if outing.owner_id else self.operator
        outing.window_start = with_its_seconds(outing.window_start, self.cleaned_data["window_start"])
        outing.window_end = with_its_seconds(outing.window_end, self.cleaned_data["window_end"])
        for column in HAPPENED.values():
            setattr(outing, column, with_its_seconds(getattr(outing, column), self.cleaned_data.get(column)))
        if is_new and not outing.references:
            outing.references = list(outing.site.references)
        outing.keep(self.operator, cause="plan" if is_new else "edit")
        if not is_new and "site" in self.changed_data:
            outing.contacts.locate_from(outing.site)
        return outing


def here(at, zone):
    """An instant on the wall clock of a zone, without the zone; None stays None."""
    if at is None:
        return None
    return windows.local(at, zone)


def with_its_seconds(stored, typed):
    """The stored instant where the typed one, which has no seconds, is the same minute."""
    if stored and typed and stored.replace(second=0, microsecond=0) == typed:
        return stored
    return typed


def which_of(at, local, zone):
    """Which of two equal local times an instant is; empty where there is only one."""
    try:
        windows.to_utc(local.date(), local.time(), zone)
    except windows.TwoSuchTimes as twice:
        return windows.SECOND if at >= twice.second else windows.FIRST
    except ValueError:
        return ""
    return ""


def band_choices(chosen):
    """The usual bands, then the others; a band that was chosen stays choosable."""
    usual = [name for name in bands.NAMES if name in USUAL_BANDS]
    others = [name for name in bands.NAMES if name not in USUAL_BANDS]
    unknown = [name for name in chosen if name not in bands.NAMES]
    return [(name, name) for name in (*usual, *others, *unknown)]


class OutingSearchForm(forms.Form):
    """What the list of outings shows."""

    q = forms.CharField(
        label="Search", required=False, max_length=100, widget=forms.TextInput(attrs={"type": "search"})
    )
