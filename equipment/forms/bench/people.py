"""The form of the question how far away people stay."""

from django import forms

from equipment.forms import quantities
from equipment.numerals import localised
from equipment.physics import exposure
from equipment.queries.bench.gear_values import from_column
from equipment.queries.bench.people import GROUNDS, MODES
from equipment.templatetags import units as shown

from .fields import ArrangementChoice, BandTicks, length, power_of
from .pack_fields import SettingChoice
from .question_form import QuestionForm


def grounds():
    """What the ground does: (factor, words)."""
    return [(factor, localised(words)) for factor, words in GROUNDS.items()]


class PeopleForm(QuestionForm):
    """Power, mode, time and antenna."""

    arrangement = ArrangementChoice(fills={"length_m": from_column("element_length_m", shown.wire_length)})
    length_m = length("Length of wire or whip", required=False, minimum=0.05)
    gain_dbi = quantities.DecibelField(
        label="Gain over isotropic (dBi)", required=False, minimum=-30, maximum=40,
        help_text="Left empty, the largest that a straight wire of this length can have.",
    )
    ground = forms.ChoiceField(label="Reflection by the ground", choices=grounds, initial="2.56")
    bands = BandTicks()
    setting = SettingChoice(fills={"watts": power_of})
    watts = quantities.PowerField(label="Power", minimum=0.001, maximum=3000)
    rules = forms.ChoiceField(
        label="Limits", choices=[(name, name) for name in (exposure.STRICTER, exposure.UNITED_STATES, exposure.ICNIRP)],
        initial=exposure.STRICTER,
    )
    mode = forms.ChoiceField(choices=[(mode, mode) for mode in MODES], initial="carrier")
    public_percent = quantities.PercentField(
        label="Of any half hour transmitting", initial="100", minimum=0.1, maximum=100,
        help_text="100 is on the safe side; half of it where you listen as long as you send.",
    )

    groups = (
        ("Power", ("setting", "watts", "mode", "public_percent")),
        ("Bands and limits", ("bands", "rules")),
        ("The antenna", ("arrangement", "length_m", "gain_dbi", "ground")),
    )
