"""The forms of the pages that judge gear."""

from urllib.parse import urlencode

from django import forms

from equipment import units
from outings.queries import comparison, observing
from outings.queries.dimensions import DIMENSIONS

from .performance import PerformanceFilter
from .stints import RatioField


class EvidenceFilter(PerformanceFilter):
    """Which stints are judged, what is compared, by which measure, and what else is held fixed; all from an address."""

    by = forms.ChoiceField(
        label="Compare", required=False, choices=[(key, DIMENSIONS[key].word) for key in observing.WAYS],
    )
    measure = forms.ChoiceField(
        label="By", required=False, choices=[(key, one.word) for key, one in comparison.MEASURES.items()],
    )
    beyond = RatioField(required=False, min_value=1, max_value=20_040)
    hold = forms.MultipleChoiceField(
        label="Also hold fixed", required=False, widget=forms.CheckboxSelectMultiple,
        choices=[(key, DIMENSIONS[key].word) for key in observing.HOLDABLE],
    )

    def __init__(self, data, operator):
        super().__init__(data, operator)
        self.fields["beyond"].label = f"beyond, {units.DISTANCE_NAMES[operator.units]}"

    def clean_measure(self):
        return self.cleaned_data["measure"] or next(iter(comparison.MEASURES))

    @property
    def measure_key(self):
        return self.cleaned_data["measure"] if self.is_valid() else next(iter(comparison.MEASURES))

    @property
    def beyond_km(self):
        """The distance of the share beyond it."""
        typed = self.cleaned_data.get("beyond") if self.is_valid() else None
        return units.distance_to_km(typed, self.operator.units) if typed else comparison.BEYOND_KM

    @property
    def held(self):
        """What else is held fixed by wish."""
        return tuple(self.cleaned_data["hold"]) if self.is_valid() else ()

    def judged(self):
        """The judgement that is asked for."""
        return comparison.judged(
            self.operator, self.stints(), self.by_key, self.measure_key, self.held, beyond_km=self.beyond_km
        )

    def query(self, **more):
        """The whole question as a query string."""
        mine = {name: self.data.get(name, "") for name in ("measure", "beyond")}
        text = super().query(**(mine | more))
        hold = urlencode([("hold", key) for key in self.asked_to_hold()])
        return "&".join(part for part in (text, hold) if part)

    def stints_query(self):
        """The filter alone, for the lists of stints and contacts behind a figure."""
        return PerformanceFilter.query(self)

    def asked_to_hold(self):
        """The wishes as they stand in the address."""
        return self.data.getlist("hold") if hasattr(self.data, "getlist") else self.data.get("hold", ())

    @property
    def uses_more(self):
        return super().uses_more or bool(self.asked_to_hold())
