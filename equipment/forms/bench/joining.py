"""The form of the question whether two packs may be joined."""

from django import forms

from equipment.forms import quantities
from equipment.models import Pack
from equipment.queries.bench.gear_values import from_column, rested_v
from equipment.queries.bench.joining import PackAtRest
from equipment.templatetags import units as shown

from .question_form import GearChoice, QuestionForm

CHEMISTRIES = [("", "–"), *Pack.Chemistry.choices]


def fills(number):
    """What a chosen pack fills in, for the fields of pack 1 or 2."""
    return {
        f"chemistry_{number}": from_column("chemistry"),
        f"cells_{number}": from_column("cells_in_series", shown.figure),
        f"volts_{number}": rested_v,
        f"ohm_{number}": from_column("resistance_ohm", shown.ohms),
        f"charge_limit_{number}_a": from_column("max_charge_a", shown.amperes),
        f"discharge_limit_{number}_a": from_column("max_discharge_a", shown.amperes),
    }


class JoiningForm(QuestionForm):
    """Two packs at rest and what lies between them."""

    pack_1 = GearChoice(Pack, label="One of yours", fills=fills(1))
    chemistry_1 = forms.ChoiceField(label="Chemistry", choices=CHEMISTRIES)
    cells_1 = forms.IntegerField(label="Cells in series", min_value=1, max_value=400, widget=forms.TextInput)
    volts_1 = quantities.VoltageField(label="Resting voltage", maximum=1000)
    ohm_1 = quantities.ResistanceField(label="Internal resistance", minimum=0.001, maximum=100)
    charge_limit_1_a = quantities.CurrentField(label="Charge limit", required=False, maximum=2000)
    discharge_limit_1_a = quantities.CurrentField(label="Discharge limit", required=False, maximum=2000)
    pack_2 = GearChoice(Pack, label="One of yours", fills=fills(2))
    chemistry_2 = forms.ChoiceField(label="Chemistry", choices=CHEMISTRIES)
    cells_2 = forms.IntegerField(label="Cells in series", min_value=1, max_value=400, widget=forms.TextInput)
    volts_2 = quantities.VoltageField(label="Resting voltage", maximum=1000)
    ohm_2 = quantities.ResistanceField(label="Internal resistance", minimum=0.001, maximum=100)
    charge_limit_2_a = quantities.CurrentField(label="Charge limit", required=False, maximum=2000)
    discharge_limit_2_a = quantities.CurrentField(label="Discharge limit", required=False, maximum=2000)
    leads_ohm = quantities.ResistanceField(
        label="Leads, connectors and fuses between them", maximum=100, help_text="Both conductors together."
    )

    OF_A_PACK = ("chemistry", "cells", "volts", "ohm", "charge_limit_a", "discharge_limit_a")
    groups = (
        ("Pack 1", ("pack_1", "chemistry_1", "cells_1", "volts_1", "ohm_1", "charge_limit_1_a", "discharge_limit_1_a")),
        ("Pack 2", ("pack_2", "chemistry_2", "cells_2", "volts_2", "ohm_2", "charge_limit_2_a", "discharge_limit_2_a")),
        ("Between them", ("leads_ohm",)),
    )

    def words(self, name):
        number = next((digit for digit in "12" if f"_{digit}" in name), "")
        return super().words(name) + (f" of pack {number}" if number else "")

    @property
    def values(self):
        asked = super().values
        first, second = (
            PackAtRest(**{name: asked[name.replace("_a", f"_{n}_a") if name.endswith("_a") else f"{name}_{n}"]
                          for name in self.OF_A_PACK})
            for n in (1, 2)
        )
        return {"first": first, "second": second, "leads_ohm": asked["leads_ohm"]}
