"""Fields that several questions about packs ask for."""

from django import forms

from equipment.forms import quantities
from equipment.models import Pack

CHEMISTRIES = [("", "–"), *Pack.Chemistry.choices]


def chemistry(**kwargs):
    return forms.ChoiceField(**{"label": "Chemistry", "choices": CHEMISTRIES, **kwargs})


def cells(**kwargs):
    widget = forms.TextInput(attrs={"inputmode": "numeric", "maxlength": 3})
    return forms.IntegerField(
        **{"label": "Cells in series", "min_value": 1, "max_value": 400, "widget": widget, **kwargs}
    )


def volts(**kwargs):
    return quantities.VoltageField(**{"label": "Resting voltage", "maximum": 1000, **kwargs})


def pack_ohm(**kwargs):
    return quantities.ResistanceField(**{"label": "Internal resistance", "minimum": 0.001, "maximum": 100, **kwargs})


def ah(**kwargs):
    return quantities.CapacityField(**{"label": "Capacity", "minimum": 0.01, "maximum": 2000, **kwargs})


def temperature(**kwargs):
    return quantities.TemperatureField(
        **{"label": "Temperature of the pack", "required": False, "minimum": -60, "maximum": 100, **kwargs}
    )
