"""Fields that several questions about packs ask for."""

from django import forms

from equipment.forms import quantities
from equipment.models import Pack, PowerSetting, Radio
from equipment.numerals import Numeral
from equipment.queries.bench.gear_values import of_setting

from .question_form import GearChoice

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


class SettingChoice(GearChoice):
    """A power setting of one of the operator's radios."""

    def __init__(self, **kwargs):
        super().__init__(PowerSetting, **{"label": "One of your radios", **kwargs})

    def offer(self, operator, given):
        radios = Radio.objects.of(operator)
        named = radios.filter(power_settings=given) if given.isascii() and given.isdigit() and len(given) < 10 else None
        radios = radios.in_use() if named is None else radios.in_use() | named
        self.queryset = PowerSetting.objects.filter(radio__in=radios.values("pk")).select_related("radio").order_by(
            "radio__name", "output_w", "id"
        )

    def label_from_instance(self, setting):
        return f"{setting.radio}: {setting}, {Numeral(setting.output_w):g} W"


receive_a = of_setting(lambda setting: setting.radio.receive_a, "receive")
transmit_a = of_setting(lambda setting: setting.transmit_a, "transmit")
minimum_v = of_setting(lambda setting: setting.radio.minimum_v, "volts")
