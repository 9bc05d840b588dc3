"""The form of the question whether a pack lasts."""

from django import forms

from equipment.forms import quantities
from equipment.models import Pack
from equipment.queries.bench.gear_values import MEASURED_ERROR, from_column, pack_ah
from equipment.queries.bench.lasting import MODES, beyond_limit, draw, lasting_answer, left_by_radio, supply
from equipment.templatetags import units as shown

from .pack_fields import SettingChoice, ah, cells, chemistry, minimum_v, pack_ohm, receive_a, temperature, transmit_a
from .question_form import GearChoice, QuestionForm


class LastingForm(QuestionForm):
    """A pack, a radio with its currents, and how it is operated."""

    hours = quantities.DurationField(label="The window", minimum=0.05, maximum=1000, initial="3")
    pack = GearChoice(Pack, label="One of your packs", fills={
        "chemistry": from_column("chemistry"), "ah": pack_ah, "cells": from_column("cells_in_series"),
        "ohm": from_column("resistance_ohm", shown.ohms), "limit_a": from_column("max_discharge_a", shown.amperes),
    })
    chemistry = chemistry()
    ah = ah()
    start_pct = quantities.PercentField(label="How full it is", minimum=1, maximum=100, initial="100")
    temperature_c = temperature()
    cells = cells(required=False)
    ohm = pack_ohm(required=False)
    limit_a = quantities.CurrentField(label="Discharge limit", required=False, maximum=2000)
    setting = SettingChoice(fills={"receive_a": receive_a, "transmit_a": transmit_a, "minimum_v": minimum_v})
    receive_a = quantities.CurrentField(label="Current receiving", maximum=100)
    transmit_a = quantities.CurrentField(label="Current at full output", maximum=500)
    minimum_v = quantities.VoltageField(label="The radio needs at least", required=False, maximum=1000)
    mode = forms.ChoiceField(choices=[(key, mode.label) for key, mode in MODES.items()], initial="voice")
    least_pct = quantities.PercentField(
        label="In transmit, at least", required=False, maximum=100, help_text="Of the time; empty takes what is usual."
    )
    most_pct = quantities.PercentField(label="In transmit, at most", required=False, maximum=100)
    other_a = quantities.CurrentField(
        label="Anything else", required=False, maximum=100, help_text="Lamp, telephone, amplifier at rest."
    )

    groups = (
        ("How long", ("hours",)),
        ("The pack", ("pack", "chemistry", "ah", "start_pct", "temperature_c", "cells", "ohm", "limit_a")),
        ("The radio", ("setting", "receive_a", "transmit_a", "minimum_v", "other_a")),
        ("Operating", ("mode", "least_pct", "most_pct")),
    )

    def clean(self):
        cleaned = super().clean()
        least, most = cleaned.get("least_pct"), cleaned.get("most_pct")
        if least is not None and most is not None and least > most:
            self.add_error("most_pct", "This is less than the least.")
        receive, transmit = cleaned.get("receive_a"), cleaned.get("transmit_a")
        if receive is not None and transmit is not None and transmit < receive:
            self.add_error("transmit_a", "A radio draws at least as much sending as receiving: please check both.")
        return cleaned

    def answers(self, learned=None):
        """The answer from these values."""
        asked = super().values
        mode = MODES[asked["mode"]]
        least, most = asked["least_pct"], asked["most_pct"]
        low = mode.transmit[0] if least is None else least / 100
        high = mode.transmit[1] if most is None else most / 100
        error = self.filled["ah"].error if "ah" in self.filled else MEASURED_ERROR
        given = supply(
            asked["ah"], asked["chemistry"], error=error, charge_pct=(asked["start_pct"],) * 2,
            temperature_c=asked["temperature_c"], left=left_by_radio(
                asked["chemistry"], asked["cells"], asked["ohm"], asked["minimum_v"], asked["transmit_a"]
            ),
        )
        use = draw(
            asked["receive_a"], asked["transmit_a"], (min(low, high), max(low, high)), mode.key_down,
            asked["other_a"] or 0.0,
        )
        warnings = beyond_limit(asked["transmit_a"], asked["limit_a"])
        return (lasting_answer(given, use, asked["hours"], learned, warnings=warnings),)
