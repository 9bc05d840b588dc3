"""The form of the question which coil a whip needs."""

from django.urls import reverse

from equipment.forms import quantities
from equipment.models import Coil
from equipment.physics import whip
from equipment.queries.bench.gear_values import GearValue, from_column
from equipment.queries.calibration import compared
from equipment.queries.coils import coil_of
from equipment.queries.sweeps import FEEDPOINT
from equipment.templatetags import units as shown
from equipment.templatetags.bench import quantity

from .fields import ArrangementChoice, BandChoice, length, power_of, swept, thickness
from .pack_fields import SettingChoice
from .question_form import GearChoice, QuestionForm


def across(metres):
    """A diameter in words."""
    return quantity(metres, "thickness")


class CoilChoice(GearChoice):
    """One of the coils of the operator's antennas."""

    def __init__(self, **kwargs):
        super().__init__(Coil, **{"label": "One of your coils", **kwargs})

    def offer(self, operator, given):
        super().offer(operator, given)
        self.queryset = self.queryset.select_related("antenna")

    def label_from_instance(self, coil):
        return f"{coil.antenna}: {coil}"


COIL_MEASURES = {"coil_diameter_m", "coil_length_m", "coil_turns"}
COIL = {
    "coil_diameter_m": from_column("diameter_m", across), "coil_length_m": from_column("length_m", across),
    "coil_turns": from_column("turns", shown.figure), "q": from_column("q", shown.figure),
}


def swept_ohm(band, cleaned):
    """The resistance that an arrangement's newest sweep found at resonance on a band, straight at the feedpoint."""

    def value(arrangement):
        found = swept(arrangement, band)
        ohm = found.lowest_ohm if found and found.plane == FEEDPOINT else None
        if ohm is None or arrangement.transformer or abs(ohm.imag) > 0.2 * ohm.real:
            return None
        try:
            whip.ground_and_coil_ohm(ohm.real, cleaned["whip_m"], found.lowest_hz)
        except ValueError:  # below what radiates alone: not measured at this feedpoint
            return None
        text = f"{shown.ohms(ohm.real)}, {found.why}"
        return GearValue(ohm.real, text, reverse("equipment:sweep", args=[found.sweep_id]))

    return value


def of_its_coil(value_of):
    """A value of the coil that an arrangement names; None where it names none of its antenna's."""

    def value(arrangement):
        if "its_coil" not in arrangement.__dict__:  # asked once for all of its values
            arrangement.its_coil = coil_of(arrangement)
        return arrangement.its_coil and value_of(arrangement.its_coil)

    return value


class WhipForm(QuestionForm):
    """A whip, the band that it is for, and its coil."""

    coil = CoilChoice(fills=COIL)
    arrangement = ArrangementChoice(fills={
        "whip_m": from_column("element_length_m", shown.wire_length),
        "thickness_m": from_column("element_thickness_m", across),
        **{name: of_its_coil(value_of) for name, value_of in COIL.items()},
    })
    band = BandChoice()
    whip_m = length("Whip", maximum=60, minimum=0.2)
    thickness_m = thickness("Thickness of the whip", initial="4 mm", help_text="Halfway up, of a telescopic one.")
    coil_diameter_m = thickness("Coil, across", required=False, help_text="To the middle of the wire.")
    coil_length_m = thickness("Coil, along", required=False, help_text="From the first turn to the last.", maximum=3)
    coil_turns = quantities.NumberField(label="Turns of the coil", required=False, minimum=1, maximum=1000)
    height_percent = quantities.PercentField(
        label="Where the coil sits, of the whip’s height", required=False, minimum=0, maximum=100,
        help_text="Left empty, at the base; 50 is the middle.",
    )
    q = quantities.NumberField(
        label="Q of the coil", required=False, minimum=1, maximum=2000, help_text="Left empty, 100 to 300 are taken."
    )
    ground_ohm = quantities.ResistanceField(
        label="Ground loss", required=False, maximum=500, help_text="Left empty, 5 (many radials) to 40 Ω (a few)."
    )
    measured_ohm = quantities.ResistanceField(
        label="Resistance measured at resonance", required=False, minimum=0.1, maximum=2000,
        help_text="At the feedpoint: it tells the losses better than any guess.",
    )
    setting = SettingChoice(fills={"watts": power_of})
    watts = quantities.PowerField(label="Power", required=False, maximum=3000)

    groups = (
        ("The whip", ("arrangement", "band", "whip_m", "thickness_m")),
        ("The coil", ("coil", "coil_diameter_m", "coil_length_m", "coil_turns", "height_percent", "q")),
        ("Losses and power", ("ground_ohm", "measured_ohm", "setting", "watts")),
    )

    def clean(self):
        cleaned = super().clean()
        lacking = [name for name in COIL_MEASURES if cleaned.get(name) is None]
        if 0 < len(lacking) < len(COIL_MEASURES) and not self._errors.keys() & COIL_MEASURES:
            for name in lacking:
                self.add_error(name, "A coil is known by all three: across, along, and its turns.")
        arrangement, band = cleaned.get("arrangement"), cleaned.get("band")
        if arrangement and band and "whip_m" in self.filled and cleaned.get("measured_ohm") is None:
            self.fill(cleaned, "arrangement", {"measured_ohm": swept_ohm(band, cleaned)})
        return cleaned

    @property
    def values(self):
        asked = super().values
        return {**asked, "compared": compared([asked["arrangement"]]) if asked["arrangement"] else ()}
