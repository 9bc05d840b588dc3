"""The form of the question whether two packs may be joined."""

from equipment.forms import quantities
from equipment.models import Pack
from equipment.queries.bench.gear_values import from_column, pack_ah, rested_v
from equipment.queries.bench.joining import PackAtRest
from equipment.templatetags import units as shown

from .pack_fields import ah, cells, chemistry, pack_ohm, volts
from .question_form import GearChoice, QuestionForm

OF_A_PACK = ("pack", "chemistry", "cells", "volts", "ohm", "ah", "charge_limit", "discharge_limit")


def fills(number):
    """What a chosen pack fills in, for the fields of pack 1 or 2."""
    found = {
        "chemistry": from_column("chemistry"), "cells": from_column("cells_in_series"),
        "volts": rested_v, "ohm": from_column("resistance_ohm", shown.ohms), "ah": pack_ah,
        "charge_limit": from_column("max_charge_a", shown.amperes),
        "discharge_limit": from_column("max_discharge_a", shown.amperes),
    }
    return {f"{name}_{number}": value_of for name, value_of in found.items()}


def limit(label):
    return quantities.CurrentField(label=label, required=False, maximum=2000)


class JoiningForm(QuestionForm):
    """Two packs at rest, what lies between them, and a charger if there is one."""

    pack_1 = GearChoice(Pack, label="One of yours", fills=fills(1))
    chemistry_1, cells_1, volts_1, ohm_1 = chemistry(), cells(), volts(), pack_ohm()
    ah_1, charge_limit_1, discharge_limit_1 = ah(required=False), limit("Charge limit"), limit("Discharge limit")
    pack_2 = GearChoice(Pack, label="One of yours", fills=fills(2))
    chemistry_2, cells_2, volts_2, ohm_2 = chemistry(), cells(), volts(), pack_ohm()
    ah_2, charge_limit_2, discharge_limit_2 = ah(required=False), limit("Charge limit"), limit("Discharge limit")
    leads_ohm = quantities.ResistanceField(
        label="Leads, connectors, fuses", maximum=100, initial="0.02", help_text="Both conductors together."
    )
    hours = quantities.DurationField(label="Looked at for", minimum=0.25, maximum=24, initial="4")
    charger_a = quantities.CurrentField(label="Charger’s current", required=False, maximum=500)
    charger_v = quantities.VoltageField(label="Charger’s voltage", required=False, maximum=1000)

    groups = (
        ("Pack 1", tuple(f"{name}_1" for name in OF_A_PACK)), ("Pack 2", tuple(f"{name}_2" for name in OF_A_PACK)),
        ("Between them", ("leads_ohm", "hours")), ("A charger on pack 1", ("charger_a", "charger_v")),
    )

    def clean(self):
        cleaned = super().clean()
        one, two = cleaned.get("pack_1"), cleaned.get("pack_2")
        if one and one == two:
            self.add_error("pack_2", "This is pack 1: choose another one.")
        if cleaned.get("charger_a") and cleaned.get("charger_v") is None and "charger_v" not in self.errors:
            self.missing.append("charger_v")
        return cleaned

    def words(self, name):
        number = next((digit for digit in "12" if name.endswith(f"_{digit}")), "")
        return super().words(name) + (f" of pack {number}" if number else "")

    @property
    def values(self):
        asked = super().values
        first, second = (
            PackAtRest(
                chemistry=asked[f"chemistry_{n}"], cells=asked[f"cells_{n}"], volts=asked[f"volts_{n}"],
                ohm=asked[f"ohm_{n}"], ah=asked[f"ah_{n}"], charge_limit_a=asked[f"charge_limit_{n}"],
                discharge_limit_a=asked[f"discharge_limit_{n}"],
            )
            for n in (1, 2)
        )
        more = {name: asked[name] for name in ("leads_ohm", "hours", "charger_a", "charger_v")}
        return {"first": first, "second": second, **more}

