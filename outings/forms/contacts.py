"""Forms of the contacts: the filter that lists and exports share."""

import datetime
from urllib.parse import urlencode

from django import forms

from outings.models import Outing

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


class ContactFilter(forms.Form):
    """Which contacts: read from the query string of a list, an export or a mending, and written back into one.

    A filter that cannot be read (a date that is none, an outing of somebody else) chooses nothing, never everything.
    """

    call = forms.CharField(required=False, max_length=30)
    match = forms.ChoiceField(label="which", required=False, choices=MATCHES)
    since = forms.DateField(label="from (UTC day)", required=False)
    until = forms.DateField(label="to (UTC day)", required=False)
    outing = forms.ModelChoiceField(Outing.objects.none(), required=False, empty_label="all")
    band = forms.CharField(required=False, max_length=8)
    family = forms.ChoiceField(label="kind of mode", required=False, choices=FAMILIES)
    mode = forms.CharField(label="mode or submode", required=False, max_length=20)
    station_call = forms.CharField(label="own call used", required=False, max_length=30)
    qsl = forms.ChoiceField(label="QSL", required=False, choices=QSL)
    text = forms.CharField(label="text in names, places, comments, references", required=False, max_length=100)
    pending = forms.BooleanField(label="doubtful only", required=False)
    gridless = forms.BooleanField(label="without a grid square", required=False)
    stintless = forms.BooleanField(label="without a stint", required=False)
    marked = forms.BooleanField(label="with values not to the standard", required=False)
    conflict = forms.BooleanField(label="changed in two places", required=False)
    sort = forms.ChoiceField(label="order", required=False, choices=SORTS)

    def __init__(self, data, operator):
        super().__init__(data)
        self.fields["outing"].queryset = Outing.objects.of(operator).select_related("site")

    def clean_call(self):
        return "".join(self.cleaned_data["call"].split()).upper()

    def clean_station_call(self):
        return "".join(self.cleaned_data["station_call"].split()).upper()

    def clean(self):
        since, until = self.cleaned_data.get("since"), self.cleaned_data.get("until")
        if since and until and until < since:
            self.add_error("until", "The last day is before the first.")

    def filtered(self, queryset):
        """Keep the contacts of a QuerySet that the filter names; none where it cannot be read."""
        if not self.is_valid():
            return queryset.none()
        wanted = self.cleaned_data
        if wanted["call"]:
            contains = wanted["match"] == "contains"
            queryset = queryset.call_contains(wanted["call"]) if contains else queryset.call_begins(wanted["call"])
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

    def is_empty(self):
        """Whether the filter names every contact."""
        return not any(self.data.get(name) for name in self.fields if name != "sort")


def utc_midnight(day):
    """The moment at which a UTC day begins."""
    return datetime.datetime.combine(day, datetime.time(), datetime.UTC)
