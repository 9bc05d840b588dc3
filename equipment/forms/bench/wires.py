"""The form of the question how long a wire must be."""

from django import forms

from equipment.forms import quantities
from equipment.queries.bench.gear_values import from_column
from equipment.queries.bench.wires import INSULATIONS
from equipment.queries.calibration import compared
from equipment.templatetags import units as shown

from .fields import ArrangementChoice, BandTicks, length, thickness
from .question_form import QuestionForm


class WireForm(QuestionForm):
    """A wire, the bands that it is for, and where it hangs."""

    arrangement = ArrangementChoice(fills={"height_m": from_column("feedpoint_height_m", shown.wire_length)})
    bands = BandTicks(initial=["40m", "30m", "20m", "17m", "15m", "10m"])
    wire_m = thickness("Wire without insulation", initial="1.6 mm", maximum=0.03)
    insulation = forms.ChoiceField(
        label="Insulation", required=False, choices=[("", "none: bare wire"), *((name, name) for name in INSULATIONS)]
    )
    outer_m = thickness("Wire with insulation", required=False, maximum=0.05)
    velocity = quantities.NumberField(
        label="Velocity factor", required=False, minimum=0.5, maximum=1,
        help_text="Of the insulated wire, where you know it; it takes the place of the insulation above.",
    )
    height_m = length("Height above ground", required=False)
    shortest_m = length("Shortest long wire", initial="5 m", maximum=1000)
    longest_m = length("Longest long wire", initial="30 m", maximum=1000)

    groups = (
        ("Bands", ("arrangement", "bands")),
        ("The wire", ("wire_m", "insulation", "outer_m", "velocity", "height_m")),
        ("Long wires", ("shortest_m", "longest_m")),
    )

    @property
    def values(self):
        asked = super().values
        return {**asked, "compared": compared([asked["arrangement"]]) if asked["arrangement"] else ()}

    def clean(self):
        cleaned = super().clean()
        bare, outer = cleaned.get("wire_m"), cleaned.get("outer_m")
        if bare and outer and outer <= bare:
            self.add_error("outer_m", "With its insulation the wire is thicker than without.")
        if cleaned.get("insulation") and not outer and cleaned.get("velocity") is None and "outer_m" not in self.errors:
            self.add_error("outer_m", "Needed to reckon with the insulation.")
        shortest, longest = cleaned.get("shortest_m"), cleaned.get("longest_m")
        if shortest is not None and longest is not None and shortest >= longest:
            self.add_error("longest_m", "This must be longer than where it begins.")
        return cleaned
