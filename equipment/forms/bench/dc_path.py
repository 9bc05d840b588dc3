"""The form of the question whether enough voltage reaches the radio."""

from django import forms

from equipment.forms import quantities
from equipment.models import Pack
from equipment.queries.bench.gear_values import from_column, rested_v
from equipment.templatetags import units as shown

from .pack_fields import SettingChoice, minimum_v, pack_ohm, transmit_a, volts
from .question_form import GearChoice, QuestionForm

GAUGES = [("", "–"), *((str(gauge), f"AWG {gauge}") for gauge in range(4, 27))]


def count(label, initial):
    widget = forms.TextInput(attrs={"inputmode": "numeric", "maxlength": 2})
    return forms.IntegerField(label=label, min_value=0, max_value=50, initial=initial, widget=widget)


class DcPathForm(QuestionForm):
    """From the pack through wire, connectors and fuse to the radio."""

    pack = GearChoice(Pack, label="One of your packs", fills={
        "volts": rested_v, "pack_ohm": from_column("resistance_ohm", shown.ohms),
    })
    volts = volts(label="Voltage without load")
    pack_ohm = pack_ohm()
    setting = SettingChoice(fills={"amps": transmit_a, "minimum_v": minimum_v})
    amps = quantities.CurrentField(label="Current at full output", minimum=0.01, maximum=500)
    minimum_v = quantities.VoltageField(label="The radio needs at least", maximum=1000)
    length_m = quantities.LengthField(label="Length of the lead, one way", maximum=200)
    awg = forms.TypedChoiceField(label="Wire gauge", choices=GAUGES, required=False, coerce=int, empty_value=None)
    area_mm2 = quantities.AreaField(label="Or its cross-section", required=False, minimum=0.05, maximum=200)
    connectors = count("Connectors on the way", 2)
    fuses = count("Fuses on the way", 1)
    temperature_c = quantities.TemperatureField(label="Temperature", minimum=-60, maximum=120, initial="20")
    wire_limit_a = quantities.CurrentField(
        label="The thinnest wire may carry", required=False, minimum=0.1, maximum=500,
        help_text="From its maker, or your local code.",
    )

    groups = (
        ("The pack", ("pack", "volts", "pack_ohm")), ("The radio", ("setting", "amps", "minimum_v")),
        ("The lead", ("length_m", "awg", "area_mm2", "connectors", "fuses", "temperature_c", "wire_limit_a")),
    )

    def clean(self):
        cleaned = super().clean()
        gauge, area = cleaned.get("awg"), cleaned.get("area_mm2")
        if gauge is None and area is None and not {"awg", "area_mm2"} & set(self.errors):
            self.missing.append("awg")
        if gauge is not None and area is not None:
            self.add_error("area_mm2", "Give the gauge or the cross-section, not both.")
        return cleaned

    @property
    def values(self):
        asked = super().values
        return {name: value for name, value in asked.items() if name not in ("pack", "setting")}
