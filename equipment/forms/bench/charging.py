"""The form of the question how long a pack charges."""

from equipment.forms import quantities
from equipment.models import Pack
from equipment.queries.bench.gear_values import MEASURED_ERROR, from_column, pack_ah, rested_v
from equipment.templatetags import units as shown

from .pack_fields import ah, cells, chemistry, pack_ohm, temperature, volts
from .question_form import GearChoice, QuestionForm


class ChargingForm(QuestionForm):
    """A pack, how full it is, and its charger."""

    pack = GearChoice(Pack, label="One of your packs", fills={
        "chemistry": from_column("chemistry"), "cells": from_column("cells_in_series"), "ah": pack_ah,
        "ohm": from_column("resistance_ohm", shown.ohms), "max_a": from_column("max_charge_a", shown.amperes),
        "max_v": from_column("max_charge_v", shown.volts),
    })
    chemistry = chemistry()
    cells = cells()
    ah = ah()
    ohm = pack_ohm(label="Resistance with the leads")
    max_a = quantities.CurrentField(label="Charge limit", required=False, maximum=2000)
    max_v = quantities.VoltageField(label="Charge voltage limit", required=False, maximum=1000)
    start_pct = quantities.PercentField(label="How full it is", required=False, maximum=100)
    volts = volts(required=False, help_text="In place of how full it is, if it has rested.")
    temperature_c = temperature()
    charger_a = quantities.CurrentField(label="Charger’s current", minimum=0.01, maximum=500)
    charger_v = quantities.VoltageField(label="Charger’s voltage", maximum=1000)
    end_a = quantities.CurrentField(
        label="Charger stops at", required=False, minimum=0.001, maximum=500,
        help_text="Empty takes a twentieth of the capacity an hour.",
    )

    groups = (
        ("The pack", ("pack", "chemistry", "cells", "ah", "ohm", "max_a", "max_v")),
        ("As it is", ("start_pct", "volts", "temperature_c")), ("The charger", ("charger_a", "charger_v", "end_a")),
    )

    def clean(self):
        cleaned = super().clean()
        if cleaned.get("start_pct") is None and cleaned.get("volts") is None and not self.errors:
            if cleaned.get("pack"):
                self.fill(cleaned, "pack", {"volts": rested_v})
            if cleaned.get("volts") is None:
                self.missing.append("start_pct")
        return cleaned

    @property
    def values(self):
        asked = super().values
        asked.pop("pack", None)
        return {**asked, "ah_error": self.filled["ah"].error if "ah" in self.filled else MEASURED_ERROR}
