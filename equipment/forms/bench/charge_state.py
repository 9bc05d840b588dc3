"""The form of the question how full a pack is."""

from equipment.forms import quantities
from equipment.models import Pack
from equipment.queries.bench.charge_state import COUNT_ERROR, RATED_ERROR
from equipment.queries.bench.gear_values import from_column, of_last_resting, pack_ah, rested_v, used_ah
from equipment.templatetags import units as shown

from .pack_fields import ah, cells, chemistry, temperature, volts
from .question_form import GearChoice, QuestionForm


def rested(hours):
    return f"rested {shown.significant(hours, 2)} h"


def warmth(celsius):
    return f"{shown.figure(celsius)} °C"


class ChargeStateForm(QuestionForm):
    """A pack at rest, or what was taken out of it since it was full."""

    pack = GearChoice(Pack, label="One of your packs", fills={
        "chemistry": from_column("chemistry"), "cells": from_column("cells_in_series"),
        "volts": rested_v, "ah": pack_ah, "used_ah": used_ah,
    })
    chemistry = chemistry()
    cells = cells()
    volts = volts(required=False)
    rested_h = quantities.DurationField(label="It has rested", required=False, maximum=10_000)
    temperature_c = temperature()
    meter_v = quantities.VoltageField(
        label="The meter may be off by", required=False, maximum=1, help_text="10 to 30 mV is usual."
    )
    ah = ah(required=False)
    used_ah = quantities.CapacityField(label="Taken out since it was full", required=False, maximum=2000)

    groups = (
        ("The pack", ("pack", "chemistry", "cells")),
        ("By its resting voltage", ("volts", "rested_h", "temperature_c", "meter_v")),
        ("By counting", ("ah", "used_ah")),
    )
    OF_THE_READING = {"rested_h": of_last_resting("rested_h", rested),
                      "temperature_c": of_last_resting("temperature_c", warmth)}

    def clean(self):
        cleaned = super().clean()
        if cleaned.get("pack") and "volts" in self.filled:  # rest and warmth belong to the very reading of the voltage
            self.fill(cleaned, "pack", self.OF_THE_READING)
        counted = cleaned.get("ah") is not None and cleaned.get("used_ah") is not None
        if not counted and cleaned.get("volts") is None and not self.errors:
            self.missing.append("volts")
        return cleaned

    @property
    def values(self):
        asked = super().values
        asked.pop("pack", None)
        measured = "ah" not in self.filled or self.filled["ah"].error < RATED_ERROR
        return {**asked, "count_error": COUNT_ERROR if measured else RATED_ERROR}
