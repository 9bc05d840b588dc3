"""What is asked for on the report of an outing: a moment for the map."""

import datetime

from django import forms

from outings import clock


class NightForm(forms.Form):
    """The moment that the map shows day and night of; typed as a time of the outing's day, or with a date."""

    at = forms.CharField(
        label="Day and night on the map at", required=False, max_length=20,
        help_text="UTC, such as 14:05; on another day: 2026-05-01 14:05.",
        widget=forms.TextInput({"class": "short", "autocomplete": "off"}),
    )

    def __init__(self, *args, outing_starts_at, **kwargs):
        self.outing_starts_at = outing_starts_at
        super().__init__(*args, **kwargs)

    def clean_at(self):
        typed = self.cleaned_data["at"].strip()
        if not typed:
            return None
        try:
            return clock.dated(typed, self.outing_starts_at.astimezone(datetime.UTC).date()).at
        except clock.NotATime as error:
            raise forms.ValidationError(str(error)) from None
