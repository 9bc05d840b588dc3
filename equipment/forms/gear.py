"""Forms of the gear, one for each kind; the gear is judged by what is possible, not by what is usual."""

import datetime
import itertools
import math

from django import forms
from django.forms import inlineformset_factory
from django.utils import timezone

from equipment import bands
from equipment.models import Accessory, Antenna, Arrangement, BandSetting, Feedline, Item, Pack, PowerSetting, Radio
from equipment.numerals import Numeral

from . import quantities
from .quantities import MeasuredForm
from .rows import MOST, FormWithRows, RowForm, Rows
from .selects import LongSelect

IDENTITY = ["name", "maker", "model", "serial", "weight_kg", "acquired_on"]
FIRST_DAY = datetime.date(1900, 1, 1)

SLOPE_ROOM_DEG = 15  # a wire sags, and heights are guessed

# Volts for each cell in series, from empty to full with some room; common practice, no source.
CELL_V = {"LiFePO4": (2.0, 3.7), "Li-ion": (2.0, 4.5), "lead-acid": (1.5, 2.6), "NiMH": (0.8, 1.6)}


class DayField(forms.DateField):
    """A day that has come already."""

    def __init__(self, **kwargs):
        kwargs.setdefault("required", False)
        super().__init__(widget=forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d"), **kwargs)

    def validate(self, value):
        super().validate(value)
        if value is None:
            return
        # a day ahead of UTC is today somewhere
        if value > timezone.now().date() + datetime.timedelta(days=1):
            raise forms.ValidationError("This day has not come yet.", code="future")
        if value < FIRST_DAY:
            raise forms.ValidationError("Write the year with four digits, 1900 or later.", code="past")


def offer(field, model, owner_id, current, none):
    """Let a field choose among the gear of an owner that is in use, or stay with what is chosen already."""
    rows = model.objects.filter(owner=owner_id)
    field.queryset = rows.in_use() | rows.filter(pk=current)
    field.empty_label = none


class ItemForm(MeasuredForm):
    """What every piece of gear has in common."""

    weight_kg = quantities.WeightField(label="Weight", required=False, maximum=500)
    acquired_on = DayField(label="Acquired")

    class Meta:
        fields = [*IDENTITY, "notes"]
        help_texts = {"name": "What you call it in the log and on the checklist."}

    def clean(self):
        cleaned = super().clean()
        acquired, retired = cleaned.get("acquired_on"), self.instance.retired_on
        if acquired and retired and acquired > retired:
            self.add_error("acquired_on", f"It was retired on {retired:%Y-%m-%d}: it cannot have come after that.")
        return cleaned


class PowerSettingForm(RowForm):
    """One power setting of a radio."""

    output_w = quantities.PowerField(label="Output", maximum=10_000)
    transmit_a = quantities.CurrentField(label="Current", required=False, maximum=500)
    measured_on = DayField(label="Measured on")

    class Meta:
        model = PowerSetting
        fields = ["label", "output_w", "transmit_a", "measured_on"]


class PowerSettingRows(Rows):
    """The power settings of a radio."""

    once = "label"


class RadioForm(ItemForm, FormWithRows):
    """A radio with its power settings."""

    receive_a = quantities.CurrentField(label="Receive current", required=False, maximum=100)
    minimum_v = quantities.VoltageField(label="Lowest supply voltage", required=False, maximum=1000)
    modes = forms.MultipleChoiceField(
        required=False, choices=[(mode, mode) for mode in bands.MODES], widget=forms.CheckboxSelectMultiple
    )
    other_modes = forms.CharField(
        label="Further modes", required=False, max_length=200,
        help_text="Names of the ADIF standard, with commas between them: MFSK, OLIVIA.",
    )

    rows_class = inlineformset_factory(
        Radio, PowerSetting, form=PowerSettingForm, formset=PowerSettingRows, extra=2, max_num=MOST, absolute_max=MOST
    )
    rows_title = "Power settings"
    rows_help = (
        "What the radio gives and draws at each setting, measured into a dummy load. A row needs its name and output."
    )
    row_name = "Setting"

    class Meta(ItemForm.Meta):
        model = Radio
        fields = [*IDENTITY, "receive_a", "minimum_v", "modes", "notes"]

    field_order = [*IDENTITY, "receive_a", "minimum_v", "modes", "other_modes", "notes"]

    def __init__(self, *args, **kwargs):
        super().__init__(*args, **kwargs)
        known = [mode for mode in self.instance.modes if mode in bands.MODES]
        self.initial["modes"] = known
        self.initial["other_modes"] = ", ".join(mode for mode in self.instance.modes if mode not in known)

    def clean_other_modes(self):
        modes = [mode.strip().upper() for mode in self.cleaned_data["other_modes"].split(",") if mode.strip()]
        for mode in modes:
            if len(mode) > 20:
                raise forms.ValidationError(f"“{mode[:20]}…” is too long for the name of a mode.")
        return modes

    def clean(self):
        cleaned = super().clean()
        cleaned["modes"] = list(dict.fromkeys([*cleaned.get("modes", []), *cleaned.get("other_modes", [])]))
        return cleaned


class AntennaForm(ItemForm):
    """An antenna; its arrangements have pages of their own."""

    class Meta(ItemForm.Meta):
        model = Antenna


class PackForm(ItemForm):
    """A battery pack with its limits."""

    rated_ah = quantities.CapacityField(label="Rated capacity", required=False, maximum=2000)
    measured_ah = quantities.CapacityField(label="Measured capacity", required=False, maximum=2000)
    measured_on = DayField(label="Capacity measured on")
    resistance_ohm = quantities.ResistanceField(label="Internal resistance", required=False, maximum=100)
    nominal_v = quantities.VoltageField(label="Nominal voltage", required=False, maximum=1000)
    max_discharge_a = quantities.CurrentField(label="Discharge limit", required=False, maximum=2000)
    max_charge_a = quantities.CurrentField(label="Charge limit", required=False, maximum=2000)
    max_charge_v = quantities.VoltageField(label="Charge voltage limit", required=False, maximum=1000)
    cutoff_v = quantities.VoltageField(
        label="Lowest voltage", required=False, maximum=1000,
        help_text="Where its protection cuts off, or where you stop.",
    )

    class Meta(ItemForm.Meta):
        model = Pack
        fields = [
            *IDENTITY, "chemistry", "cells_in_series", "nominal_v", "rated_ah", "measured_ah", "measured_on",
            "resistance_ohm", "max_discharge_a", "max_charge_a", "max_charge_v", "cutoff_v", "inside", "notes",
        ]
        widgets = {"cells_in_series": forms.TextInput(attrs={"inputmode": "numeric", "maxlength": 3})}
        labels = {"cells_in_series": "Cells in series", "inside": "Built into"}
        help_texts = {**ItemForm.Meta.help_texts, "inside": "The radio that it is inside of; it is weighed with it."}

    def __init__(self, *args, **kwargs):
        super().__init__(*args, **kwargs)
        offer(self.fields["inside"], Radio, self.instance.owner_id, self.instance.inside_id, "no radio")

    def clean_cells_in_series(self):
        cells = self.cleaned_data["cells_in_series"]
        if cells is not None and cells > 400:
            raise forms.ValidationError("More than 400 cells in series cannot be carried.")
        return cells

    def clean(self):
        cleaned = super().clean()
        self.check_voltages(cleaned)
        rated, measured = cleaned.get("rated_ah"), cleaned.get("measured_ah")
        if rated and measured and measured > 2 * rated:
            self.add_error(
                "measured_ah", "More than twice the rated capacity: please check both, and whether Ah or mAh is meant."
            )
        if cleaned.get("measured_on") and measured is None and "measured_ah" not in self.errors:
            self.add_error("measured_ah", "There is a day of measuring, but no capacity was written down.")
        return cleaned

    def check_voltages(self, cleaned):
        cells, chemistry = cleaned.get("cells_in_series"), cleaned.get("chemistry")
        if cells and chemistry in CELL_V:
            lowest, highest = (volts * cells for volts in CELL_V[chemistry])
            for name in ("nominal_v", "max_charge_v", "cutoff_v"):
                value = cleaned.get(name)
                if value is not None and not lowest <= value <= highest:
                    self.add_error(
                        name, f"{cells} {chemistry} cells in series lie between {Numeral(lowest):.1f} and "
                        f"{Numeral(highest):.1f} V.",
                    )
        in_order = ["cutoff_v", "nominal_v", "max_charge_v"]
        known = [(name, cleaned[name]) for name in in_order if cleaned.get(name) is not None]
        for (lower, below), (upper, above) in itertools.pairwise(known):
            if below > above:
                words = self.fields[lower].words.lower()
                self.add_error(upper, f"This is below the {words}; it goes lowest, nominal, charge limit.")


class FeedlineForm(ItemForm):
    """A feedline."""

    length_m = quantities.LengthField(label="Length", required=False, maximum=1000)

    class Meta(ItemForm.Meta):
        model = Feedline
        fields = [*IDENTITY, "line_type", "length_m", "connectors", "notes"]
        help_texts = {
            **ItemForm.Meta.help_texts,
            "line_type": "What is printed on it, such as RG-316 or 450 Ω window line.",
            "connectors": "At both ends, such as BNC plug and BNC socket.",
        }


class AccessoryForm(ItemForm):
    """Anything else, sources of power other than packs among it."""

    rated_w = quantities.PowerField(label="Rated power", required=False, maximum=100_000)

    class Meta(ItemForm.Meta):
        model = Accessory
        fields = [*IDENTITY, "source", "rated_w", "notes"]
        help_texts = {
            **ItemForm.Meta.help_texts,
            "source": "For what gives power: it is offered as the source of a stint. Packs are a kind of their own.",
        }

    def __init__(self, *args, **kwargs):
        super().__init__(*args, **kwargs)
        self.fields["source"].choices = [("", "none, it is something else"), *Accessory.Source.choices]

    def clean(self):
        cleaned = super().clean()
        if cleaned.get("rated_w") is not None and not cleaned.get("source"):
            self.add_error("source", "There is a rated power: say what kind of source it is.")
        return cleaned


ITEM_FORMS = {form._meta.model.KIND: form for form in (RadioForm, AntennaForm, PackForm, FeedlineForm, AccessoryForm)}
MODELS = {kind: form._meta.model for kind, form in ITEM_FORMS.items()}


class BandSettingForm(RowForm):
    """What an arrangement needs on one band."""

    band = forms.ChoiceField(choices=[("", "–"), *((name, name) for name in bands.NAMES)], widget=LongSelect)
    element_length_m = quantities.LengthField(label="Length", required=False, maximum=2000)

    class Meta:
        model = BandSetting
        fields = ["band", "tap", "element_length_m", "tuner", "note"]

    def __init__(self, *args, **kwargs):
        super().__init__(*args, **kwargs)
        kept = self.instance.band
        if kept and kept not in bands.NAMES:
            self.fields["band"].choices = [*self.fields["band"].choices, (kept, kept)]


class BandSettingRows(Rows):
    """The bands of an arrangement."""

    once = "band"


class ArrangementForm(FormWithRows):
    """One way to put up an antenna, with its settings for each band."""

    element_length_m = quantities.LengthField(label="Element length", required=False, maximum=2000)
    element_thickness_m = quantities.ThicknessField(
        label="Element thickness", required=False, maximum=0.5,
        help_text="Of the wire without insulation, or halfway up a telescopic whip.",
    )
    counterpoise_m = quantities.LengthField(label="Counterpoise length", required=False, maximum=2000)
    radial_length_m = quantities.LengthField(label="Length of each radial", required=False, maximum=2000)
    feedpoint_height_m = quantities.LengthField(label="Feedpoint height", required=False, maximum=500)
    far_end_height_m = quantities.LengthField(
        label="Far-end height", required=False, maximum=500,
        help_text="How high the other end hangs; of an inverted V its ends.",
    )
    slope_deg = quantities.AngleField(
        label="Slope", required=False, minimum=-90, maximum=90,
        help_text="From the feedpoint up, over the horizontal; a minus where it goes down.",
    )
    azimuth_deg = quantities.AngleField(
        label="Direction", required=False, maximum=360,
        help_text="Where it points, from true north over east: 90 is east. Leave it empty where it points nowhere.",
    )

    rows_class = inlineformset_factory(
        Arrangement, BandSetting, form=BandSettingForm, formset=BandSettingRows, extra=2, max_num=MOST,
        absolute_max=MOST,
    )
    rows_title = "Band settings"
    rows_help = (
        "A tap belongs to the length it was found with: write both where they differ from band to band. "
        "A row needs a band."
    )
    row_name = "Band"

    class Meta:
        model = Arrangement
        fields = [
            "name", "element_length_m", "element_thickness_m", "coil", "tap", "counterpoise_m", "radials",
            "radial_length_m", "feedpoint_height_m", "far_end_height_m", "slope_deg", "orientation", "azimuth_deg",
            "ground", "transformer", "choke", "feedline", "notes",
        ]
        widgets = {
            "radials": forms.TextInput(attrs={"inputmode": "numeric", "maxlength": 3}),
            "coil": forms.TextInput(attrs={"list": "coils"}),
        }
        help_texts = {
            "name": "What you call it in the log, such as short whip on the tripod.",
            "transformer": "Its ratio, such as 49:1.",
            "choke": "What keeps the current off the feedline, such as 12 turns on a ring at the feedpoint.",
            "feedline": "The one that it is used with.",
            "coil": "The name of one that is kept with the antenna, or its turns and size.",
            "tap": "The turn or mark that is used where no band setting says otherwise.",
        }

    def __init__(self, *args, **kwargs):
        super().__init__(*args, **kwargs)
        offer(self.fields["feedline"], Feedline, self.instance.owner_id, self.instance.feedline_id, "not noted")
        for name, kinds in (("orientation", Arrangement.Orientation), ("ground", Arrangement.Ground)):
            self.fields[name].choices = [("", "not noted"), *kinds.choices]

    def clean_radials(self):
        radials = self.cleaned_data["radials"]
        if radials is not None and radials > 300:
            raise forms.ValidationError("More than 300 radials cannot be carried.")
        return radials

    def clean(self):
        cleaned = super().clean()
        if cleaned.get("azimuth_deg") == 360:
            cleaned["azimuth_deg"] = 0.0
        if cleaned.get("radial_length_m") and cleaned.get("radials") == 0:
            self.add_error("radials", "There is a length of each radial, but their number is 0.")
        self.check_slope(cleaned)
        return cleaned

    def check_slope(self, cleaned):
        """A straight element cannot rise by more than its length, nor slope otherwise than its ends are high."""
        low, high = cleaned.get("feedpoint_height_m"), cleaned.get("far_end_height_m")
        length, slope_deg = cleaned.get("element_length_m"), cleaned.get("slope_deg")
        straight = cleaned.get("orientation") in (Arrangement.Orientation.SLOPING, Arrangement.Orientation.VERTICAL)
        if not straight or low is None or high is None or not length:
            return
        if abs(high - low) > length:
            self.add_error("far_end_height_m", "The element is shorter than the difference of the two heights.")
            return
        found_deg = math.degrees(math.asin((high - low) / length))
        if slope_deg is not None and abs(slope_deg - found_deg) > SLOPE_ROOM_DEG:
            self.add_error("slope_deg", f"With these heights and this length it slopes {found_deg:.0f}°.")


class GearFilter(forms.Form):
    """Which gear is listed, and in which order; read from the query string. What cannot be read is left out."""

    STATES = [("", "in use"), ("retired", "retired"), ("all", "all")]
    SORTS = [
        ("", "name A to Z"), ("-name", "name Z to A"), ("kind", "kind"), ("-kind", "kind, backwards"),
        ("weight", "lightest first"), ("-weight", "heaviest first"), ("acquired", "oldest first"),
        ("-acquired", "newest first"),
    ]

    q = forms.CharField(
        label="Search", required=False, max_length=100,
        widget=forms.TextInput(attrs={"type": "search", "data-search": "", "autocomplete": "off"}),
    )
    kind = forms.ChoiceField(required=False, choices=[("", "all"), *Item.Kind.choices])
    state = forms.ChoiceField(required=False, choices=STATES)
    sort = forms.ChoiceField(label="Order", required=False, choices=SORTS)

    def chosen(self):
        """The values that could be read, with an empty text for every other."""
        self.is_valid()
        return {name: self.cleaned_data.get(name, "") for name in self.fields}
