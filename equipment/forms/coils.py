"""The form of a coil, with its taps below it."""

from django import forms
from django.db import transaction
from django.forms import inlineformset_factory

from equipment import bands
from equipment.models import Coil, CoilTap
from equipment.numerals import Numeral

from . import quantities
from .gear import DayField
from .rows import MOST, FormWithRows, RowForm, Rows
from .selects import LongSelect


class CoilTapForm(RowForm):
    """One tap: for which band, where on the coil, and with which whip it was found."""

    band = forms.ChoiceField(choices=[("", "–"), *((name, name) for name in bands.NAMES)], widget=LongSelect)
    turns = quantities.NumberField(label="Turns in use", required=False, minimum=0.1, maximum=1000)
    inductance_h = quantities.InductanceField(label="Inductance", required=False, minimum=1e-9, maximum=0.01)
    whip_length_m = quantities.LengthField(label="Whip", minimum=0.1, maximum=100)
    frequency_hz = quantities.FrequencyField(label="Resonated at", required=False, minimum=1e5, maximum=1e9)
    found_on = DayField(label="Found on")

    class Meta:
        model = CoilTap
        fields = ["band", "label", "turns", "whip_length_m", "frequency_hz", "inductance_h", "found_on"]

    def clean(self):
        cleaned = super().clean()
        name, at = cleaned.get("band"), cleaned.get("frequency_hz")
        if name and at:
            low, high = bands.edges(name)
            if not 0.8 * low <= at <= 1.25 * high:
                self.add_error("frequency_hz", f"That is far from {name}: please check the band and the frequency.")
        return cleaned


class CoilTapRows(Rows):
    """The taps of a coil; a band may have several, each with its whip."""


class CoilForm(FormWithRows):
    """A coil as it is wound, with its taps."""

    diameter_m = quantities.ThicknessField(
        label="Across", required=False, minimum=0.001, maximum=2, help_text="To the middle of the wire."
    )
    length_m = quantities.ThicknessField(
        label="Along", required=False, minimum=0.001, maximum=5, help_text="The whole winding, from first to last turn."
    )
    turns = quantities.NumberField(label="Turns", required=False, minimum=1, maximum=1000)
    q = quantities.NumberField(label="Q", required=False, minimum=1, maximum=2000, help_text="If it was measured.")

    rows_class = inlineformset_factory(
        Coil, CoilTap, form=CoilTapForm, formset=CoilTapRows, extra=2, max_num=MOST, absolute_max=MOST
    )
    rows_title = "Taps"
    rows_help = (
        "A tap belongs to the whip that it was found with: with another one it resonates elsewhere. "
        "A row needs its band and its whip."
    )
    row_name = "Tap"

    class Meta:
        model = Coil
        fields = ["name", "diameter_m", "length_m", "turns", "q", "notes"]
        help_texts = {"name": "Arrangements name it so, too, in their field for the coil."}

    def __init__(self, *args, **kwargs):
        super().__init__(*args, **kwargs)
        self.name_before = self.instance.name

    def clean_name(self):
        name = self.cleaned_data["name"]
        others = Coil.objects.filter(antenna=self.instance.antenna_id, name=name).exclude(pk=self.instance.pk)
        if others.exists():
            raise forms.ValidationError("This antenna has a coil of this name already.", code="twice")
        return name

    def is_valid(self):
        return super().is_valid() and self.taps_fit()

    def taps_fit(self):
        """Whether no tap uses more turns than there are; complains in its row otherwise."""
        most = self.cleaned_data.get("turns")
        wrong = [form for form in self.rows.forms if most and (form.cleaned_data.get("turns") or 0) > most]
        for form in wrong:
            form.add_error("turns", f"The coil has {Numeral(most):g} turns.")
        return not wrong

    @transaction.atomic
    def save(self):
        """Save the coil with its taps; arrangements that named it name it by its new name."""
        coil = super().save()
        if self.name_before and self.name_before != coil.name:
            coil.antenna.arrangements.filter(coil=self.name_before).update(coil=coil.name)
        return coil
