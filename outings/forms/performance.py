"""Forms of the performance page: which stints, grouped by what; which contacts behind a figure."""

from urllib.parse import urlencode

from django import forms
from django.db import models

from equipment.models import Antenna, Arrangement, Pack, Radio
from outings import conditions
from outings.adif import tables
from outings.models import Outing, Site, Stint
from outings.queries import dimensions, performance

from .contacts import OutingFilterField

FAMILIES = [("", "all"), ("cw", "Morse"), ("phone", "voice"), ("data", "data")]
LIGHTS = [("", "all"), *((word, word) for word in (conditions.DAY, conditions.GREY_LINE, conditions.NIGHT))]
SEASONS = [("", "all"), *((word, word) for word in conditions.SEASONS)]
HOURS = [("", "recorded and inferred"), ("recorded", "recorded only")]
POSITIONS = [("", "all"), ("known", "with a known position"), ("unknown", "without a position")]
SORTS = [("", "newest first"), ("oldest", "oldest first"), ("call", "call A to Z"), ("farthest", "farthest first")]


MORE = ("antenna", "arrangement", "radio", "pack", "calling", "light", "season", "hours")


class PerformanceFilter(forms.Form):
    """Which stints of an operator count, and how they are grouped; read from an address and written back into one.

    A filter that cannot be read (a date that is none, a site of somebody else) chooses nothing, never everything.
    """

    by = forms.ChoiceField(
        label="Grouped by", required=False,
        choices=[(key, dimension.word) for key, dimension in dimensions.DIMENSIONS.items()],
    )
    since = forms.DateField(label="From (UTC day)", required=False, widget=forms.DateInput(attrs={"type": "date"}))
    until = forms.DateField(label="To (UTC day)", required=False, widget=forms.DateInput(attrs={"type": "date"}))
    band = forms.ChoiceField(required=False, choices=[("", "all"), *((band, band) for band in tables.BAND_NAMES)])
    family = forms.ChoiceField(label="Kind of mode", required=False, choices=FAMILIES)
    site = forms.ModelChoiceField(Site.objects.none(), required=False, empty_label="All")
    arrangement = forms.ModelChoiceField(Arrangement.objects.none(), required=False, empty_label="All")
    outing = OutingFilterField(Outing.objects.none(), required=False, empty_label="All")
    antenna = forms.ModelChoiceField(Antenna.objects.none(), required=False, empty_label="All")
    radio = forms.ModelChoiceField(Radio.objects.none(), required=False, empty_label="All")
    pack = forms.ModelChoiceField(Pack.objects.none(), required=False, empty_label="All")
    calling = forms.ChoiceField(
        label="Calling or answering", required=False, choices=[("", "all"), *Stint.Calling.choices]
    )
    light = forms.ChoiceField(label="Light at the site", required=False, choices=LIGHTS)
    season = forms.ChoiceField(required=False, choices=SEASONS)
    hours = forms.ChoiceField(label="Hours", required=False, choices=HOURS)

    def __init__(self, data, operator):
        super().__init__(data)
        self.operator = operator
        self.fields["site"].queryset = Site.objects.of(operator)
        self.fields["arrangement"].queryset = Arrangement.objects.of(operator).select_related("antenna")
        self.fields["arrangement"].label_from_instance = lambda row: f"{row.antenna}, {row}"
        self.fields["outing"].offer(operator, self.data.get("outing"))
        self.fields["antenna"].queryset = Antenna.objects.of(operator)
        self.fields["radio"].queryset = Radio.objects.of(operator)
        self.fields["pack"].queryset = Pack.objects.of(operator)

    def clean_by(self):
        return self.cleaned_data["by"] or "arrangement"

    def clean(self):
        since, until = self.cleaned_data.get("since"), self.cleaned_data.get("until")
        if since and until and until < since:
            self.add_error("until", "The last day is before the first.")

    @property
    def by_key(self):
        """How the stints are grouped, also where another field cannot be read."""
        return self.cleaned_data.get("by", "arrangement") if self.is_bound and self.is_valid() else "arrangement"

    def stints(self):
        """The operator's stints that the filter names; none where it cannot be read."""
        stints = Stint.objects.of(self.operator)
        if not self.is_valid():
            return stints.none()
        wanted = self.cleaned_data
        stints = stints.begun_between(wanted["since"], wanted["until"])
        if wanted["family"]:
            stints = stints.of_family(wanted["family"])
        if wanted["site"]:
            stints = stints.filter(outing__site=wanted["site"])
        if wanted["antenna"]:
            stints = stints.filter(arrangement__antenna=wanted["antenna"])
        if wanted["hours"]:
            stints = stints.recorded()
        for name in ("light", "season"):
            if wanted[name]:
                stints = stints.filter(dimensions.DIMENSIONS[name].where(wanted[name]))
        for name in ("band", "outing", "arrangement", "radio", "pack", "calling"):
            if wanted[name]:
                stints = stints.filter(**{name: wanted[name]})
        return stints

    def query(self, **more):
        """The filter as a query string, without what is empty; `more` is added, None takes a name out."""
        values = {name: self.data.get(name, "") for name in PerformanceFilter.base_fields} | more
        return urlencode({name: value for name, value in values.items() if value not in ("", None)})

    def words(self):
        """What the stints have in common, in words; for a filter that can be read."""
        wanted, words = self.cleaned_data, []
        for name in ("band", "site", "outing", "antenna", "arrangement", "radio", "pack"):
            if wanted[name]:
                words.append(self.fields[name].label_from_instance(wanted[name]) if name != "band" else wanted[name])
        for name, choices in (("family", FAMILIES), ("calling", Stint.Calling.choices), ("hours", HOURS)):
            if wanted[name]:
                words.append(dict(choices)[wanted[name]])
        if wanted["since"]:
            words.append(f"from {wanted['since']:%Y-%m-%d}")
        if wanted["until"]:
            words.append(f"to {wanted['until']:%Y-%m-%d}")
        return words

    @property
    def uses_more(self):
        """Whether one of the fields that are folded away is in use."""
        return any(self.data.get(name) for name in MORE)

    def is_empty(self):
        """Whether the filter names every stint."""
        return not any(self.data.get(name) for name in PerformanceFilter.base_fields if name != "by")


class ContactsBehind(PerformanceFilter):
    """The contacts behind a figure: of one group of the stints, with or without a position, of one direction."""

    of = forms.CharField(required=False, max_length=100, widget=forms.HiddenInput)
    position = forms.ChoiceField(required=False, choices=POSITIONS, widget=forms.HiddenInput)
    doubtful = forms.BooleanField(required=False, widget=forms.HiddenInput)
    sector = forms.TypedChoiceField(
        required=False, coerce=int, empty_value=None, widget=forms.HiddenInput,
        choices=[("", "all"), *((str(number), name) for number, name in enumerate(performance.SECTORS))],
    )
    sort = forms.ChoiceField(label="Order", required=False, choices=SORTS)

    def stints(self):
        stints = super().stints()
        if self.is_valid() and self.cleaned_data["of"]:
            stints = stints.filter(dimensions.DIMENSIONS[self.by_key].where(self.cleaned_data["of"]))
        return stints

    def filtered(self, contacts):
        """Keep the contacts of a QuerySet that stand behind the figure."""
        return self._narrowed(contacts.filter(stint__in=self.stints().order_by().values("pk")))

    def walked(self, contacts):
        """As `filtered`, for so many that a page of them is soon found by walking through the log in its order."""
        of_group = self.stints().order_by().filter(pk=models.OuterRef("stint"))
        return self._narrowed(contacts.filter(models.Exists(of_group)))

    def _narrowed(self, contacts):
        if not self.is_valid():
            return contacts.none()
        wanted = self.cleaned_data
        contacts = contacts.pending() if wanted["doubtful"] else contacts.counted()
        if wanted["position"]:
            contacts = contacts.filter(distance_km__isnull=wanted["position"] == "unknown")
        if wanted["sector"] is not None:
            contacts = contacts.towards(wanted["sector"] * 45 - 22.5, wanted["sector"] * 45 + 22.5)
        return contacts

    def query(self, **more):
        mine = {name: self.data.get(name, "") for name in ("of", "position", "doubtful", "sector", "sort")}
        return super().query(**(mine | more))

    def described(self):
        """What the contacts or stints have in common, in words."""
        if not self.is_valid():
            return ""
        wanted = self.cleaned_data
        words = [self.group_label()] if wanted["of"] else []
        words += self.words()
        if wanted["position"]:
            words.append(dict(POSITIONS)[wanted["position"]])
        if wanted["sector"] is not None:
            words.append(f"towards the {performance.SECTORS[wanted['sector']]}")
        if wanted["doubtful"]:
            words.append("doubtful, which do not count")
        text = "; ".join(word for word in words if word) or "all stints"
        return f"{text[0].upper()}{text[1:]}."

    def group_label(self):
        """The name of the group, as the page of figures has it; empty where the figure is of all."""
        if not self.is_valid() or not self.cleaned_data["of"]:
            return ""
        dimension = dimensions.DIMENSIONS[self.by_key]
        values = self.stints().order_by().values_list(*dimension.columns).first()
        return dimensions.labelled(dimension, values, self.operator) if values else ""
