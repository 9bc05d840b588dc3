"""Forms of the page of phones: a remark, and which version of a conflict stays."""

from django import forms

from outings import clock
from outings.forms.fields import DayField, NumberField
from outings.intake import phone
from outings.models import Remark


class RemarkForm(forms.ModelForm):
    """A note, or a noise level or supply voltage as a number, with its time in UTC."""

    day = DayField(label="UTC day")
    clock = forms.CharField(label="Time, UTC", max_length=10, help_text="HHMM or HHMMSS")
    value = NumberField(
        label="Number", required=False, min_value=-(10**6), max_value=10**6,
        help_text="S units for noise, volts for a voltage; none for a note")

    class Meta:
        model = Remark
        fields = ["about", "value", "text"]
        labels = {"about": "About", "text": "Words"}
        widgets = {"text": forms.Textarea(attrs={"rows": 3, "maxlength": 2000})}

    field_order = ["day", "clock", "about", "value", "text"]

    def __init__(self, *args, instance, now, **options):
        at = instance.at if instance.pk else min(max(instance.outing.window_start, now), instance.outing.ends_at)
        initial = {"day": at.date(), "clock": f"{at:%H%M%S}" if at.second else f"{at:%H%M}"}
        super().__init__(*args, instance=instance, initial=initial, **options)
        self.fields["clock"].widget.attrs["class"] = "short"
        self.fields["text"].max_length = 2000

    def clean_text(self):
        text = self.cleaned_data["text"].strip()
        if len(text) > 2000:
            raise forms.ValidationError("At most 2000 characters fit into a remark.")
        return text

    def clean(self):
        super().clean()
        given = self.cleaned_data
        if given.get("day") and given.get("clock"):
            try:
                given["at"] = clock.on_day(given["clock"], given["day"]).at
            except clock.NotATime as error:
                self.add_error("clock", str(error))
        if given.get("about") == Remark.About.NOTE:
            if "text" in given and not given["text"]:
                self.add_error("text", "A note needs words.")
        elif "value" in given and given["value"] is None:
            self.add_error("value", "Give the number, with a decimal point or comma.")

    def keep(self, actor):
        """Keep the remark with its history; the Change, None if nothing is different."""
        remark = self.instance
        if {"day", "clock"} & set(self.changed_data) or not remark.pk:
            remark.at = self.cleaned_data["at"]
        return remark.keep(actor)


class SettleEntryForm(forms.Form):
    """How a conflict ends: the log stays as it is, or takes the values that gave way."""

    take = forms.ChoiceField(choices=[("log", "keep what the log has"), ("other", "take the other version")])

    def __init__(self, *args, entry, **options):
        super().__init__(*args, **options)
        self.entry = entry

    def keep(self, actor):
        phone.settle(actor, self.entry, take_lost=self.cleaned_data["take"] == "other")
