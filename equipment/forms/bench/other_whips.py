"""The form of the question what another whip does to the taps of a coil."""



from equipment.queries.bench.gear_values import from_column
from equipment.queries.bench.other_whips import of_a_coil, typed_taps
from equipment.queries.bench.whips import Winding
from equipment.queries.calibration import swept_taps
from equipment.templatetags import units as shown

from .fields import ArrangementChoice, BandTicks, length, thickness
from .question_form import QuestionForm
from .whips import CoilChoice, across


class OtherWhipForm(QuestionForm):
    """A coil with its taps, and another whip."""

    coil = CoilChoice()
    found_bands = BandTicks(
        label="Taps for", required=False, initial=(), help_text="Of a coil that is not kept here: a tap for each band."
    )
    found_whip_m = length("Found with a whip of", required=False, minimum=0.2, maximum=60)
    arrangement = ArrangementChoice(fills={
        "whip_m": from_column("element_length_m", shown.wire_length),
        "thickness_m": from_column("element_thickness_m", across),
    })
    whip_m = length("The other whip", minimum=0.2, maximum=60)
    thickness_m = thickness("Thickness of the whip", initial="4 mm", help_text="Halfway up, of a telescopic one.")
    wanted = BandTicks(label="Bands wanted", initial=["40m", "30m", "20m", "17m", "15m", "12m", "10m"])

    groups = (
        ("The coil and its taps", ("coil", "found_bands", "found_whip_m")),
        ("The other whip", ("arrangement", "whip_m", "thickness_m", "wanted")),
    )

    def clean(self):
        cleaned = super().clean()
        coil, bands = cleaned.get("coil"), cleaned.get("found_bands")
        if bands and cleaned.get("found_whip_m") is None and "found_whip_m" not in self.errors:
            self.add_error("found_whip_m", "A tap belongs to the whip that it was found with: how long was it?")
        if coil and not bands and not coil.taps.exists():
            self.add_error("coil", "No taps are kept with this coil yet: add them there, or tick their bands below.")
        if not coil and not bands:
            self.missing.append("found_bands")
        return cleaned

    @property
    def values(self):
        asked = super().values
        coil, bands = asked["coil"], asked["found_bands"]
        found = of_a_coil(coil, swept_taps(coil)) if coil else ()
        if bands:
            found += typed_taps(bands, asked["found_whip_m"])
        winding = None
        if coil and coil.inductance_h():
            winding = Winding(coil.diameter_m, coil.pitch_m, coil.turns)
        return {
            "found": found, "wanted": asked["wanted"], "whip_m": asked["whip_m"], "thickness_m": asked["thickness_m"],
            "winding": winding,
        }


