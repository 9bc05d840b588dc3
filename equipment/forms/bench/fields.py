"""Fields that several questions of the bench ask for: bands, frequencies, the thickness of a whip."""

from django import forms

from equipment.forms import quantities
from equipment.models import Arrangement
from equipment.queries.bench.gear_values import GearValue
from equipment.queries.resonance import resonances
from equipment.templatetags import units as shown

from .question_form import GearChoice

# Those that antennas of this kind are made for; the edges are those of equipment.bands.
BANDS = ("160m", "80m", "60m", "40m", "30m", "20m", "17m", "15m", "12m", "10m", "6m", "4m", "2m")
LONGEST_M = 300


class BandTicks(forms.MultipleChoiceField):
    """Some bands, in boxes to tick."""

    def __init__(self, **kwargs):
        kwargs = {"label": "Bands", "initial": ["40m", "20m"], **kwargs}
        super().__init__(choices=[(name, name) for name in BANDS], widget=forms.CheckboxSelectMultiple, **kwargs)


class BandChoice(forms.ChoiceField):
    """One band."""

    def __init__(self, **kwargs):
        kwargs = {"label": "Band", "initial": "20m", **kwargs}
        super().__init__(choices=[(name, name) for name in BANDS], **kwargs)


class ArrangementChoice(GearChoice):
    """One of the operator's arrangements, with its antenna."""

    def __init__(self, **kwargs):
        super().__init__(Arrangement, **{"label": "One of your arrangements", **kwargs})

    def offer(self, operator, given):
        super().offer(operator, given)
        self.queryset = self.queryset.select_related("antenna", "feedline")

    def label_from_instance(self, arrangement):
        return f"{arrangement.antenna}: {arrangement}"


def length(label, **kwargs):
    """A length of wire or a height."""
    return quantities.LengthField(label=label, **{"maximum": LONGEST_M, **kwargs})


def thickness(label, **kwargs):
    """A diameter of wire, tube or coil."""
    return quantities.ThicknessField(label=label, **{"minimum": 0.0001, "maximum": 0.5, **kwargs})


def power_of(setting):
    """The power of a setting of a radio."""
    text = f"{shown.power(setting.output_w)}, {setting} of {setting.radio}"
    return GearValue(setting.output_w, text, setting.radio.get_absolute_url())


def swept(arrangement, band):
    """What the newest sweep of an arrangement says of a band; None without one."""
    found = resonances([arrangement], [band]).get((arrangement.pk, band))
    return found if found and found.is_measured else None
