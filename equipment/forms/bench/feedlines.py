"""The form of the question what arrives at the antenna."""

from django import forms
from django.urls import reverse

from equipment.forms import quantities
from equipment.models import Feedline
from equipment.numerals import Numeral
from equipment.physics import feedline
from equipment.queries.bench import feedlines
from equipment.queries.bench.gear_values import GearValue, from_column
from equipment.queries.sweeps import FEEDPOINT
from equipment.templatetags import units as shown

from .fields import ArrangementChoice, BandChoice, length, power_of, swept
from .pack_fields import SettingChoice
from .question_form import GearChoice, QuestionForm

SHEET = "sheet"
TYPES = [("", "–"), *((name, name) for name in feedline.LINE_TYPES), (SHEET, "by its data sheet")]


def type_of(line):
    """The type of a feedline, where its loss is known."""
    kind = feedline.line_type(line.line_type)
    return kind and GearValue(kind.name, f"{line.line_type}, from {line}", line.get_absolute_url())


def of_its_line(value_of):
    """A value of the feedline that an arrangement is used with; None where none is noted."""
    return lambda arrangement: arrangement.feedline and value_of(arrangement.feedline)


class FeedlineForm(QuestionForm):
    """A feedline, the band, and the SWR at one of its ends."""

    feedline = GearChoice(
        Feedline, label="One of your feedlines",
        fills={"kind": type_of, "length_m": from_column("length_m", shown.wire_length)},
    )
    arrangement = ArrangementChoice(fills={
        "kind": of_its_line(type_of), "length_m": of_its_line(from_column("length_m", shown.wire_length)),
    })
    kind = forms.ChoiceField(label="Type", choices=TYPES)
    length_m = length("Length", maximum=1000)
    first_hz = quantities.FrequencyField(label="Data sheet: frequency", required=False, minimum=1e5, maximum=1e10)
    first_db = quantities.DecibelField(label="Loss there on 100 m", required=False, minimum=0.01, maximum=500)
    second_hz = quantities.FrequencyField(label="A second frequency", required=False, minimum=1e5, maximum=1e10)
    second_db = quantities.DecibelField(label="Loss there on 100 m", required=False, minimum=0.01, maximum=500)
    band = BandChoice()
    swr = quantities.NumberField(label="SWR", minimum=1, maximum=1000)
    swr_at = forms.ChoiceField(
        label="Measured at", choices=[("antenna", "the antenna"), ("radio", "the radio")], initial="antenna"
    )
    tuner = forms.ChoiceField(label="Tuner", required=False, choices=[
        (feedlines.NO_TUNER, "none"), (feedlines.AT_RADIO, "at the radio, or in it"),
        (feedlines.AT_ANTENNA, "at the antenna"),
    ])
    setting = SettingChoice(fills={"watts": power_of})
    watts = quantities.PowerField(label="Power", required=False, maximum=3000)

    groups = (
        ("The line", ("feedline", "kind", "length_m", "first_hz", "first_db", "second_hz", "second_db")),
        ("What is behind it", ("arrangement", "band", "swr", "swr_at", "tuner")),
        ("Power", ("setting", "watts")),
    )

    def clean(self):
        cleaned = super().clean()
        self.take_swept(cleaned)
        pairs = [(cleaned.get(f"{which}_hz"), cleaned.get(f"{which}_db")) for which in ("first", "second")]
        for which, (hz, db) in zip(("first", "second"), pairs, strict=True):
            if (hz is None) != (db is None):
                lacking = f"{which}_hz" if hz is None else f"{which}_db"
                if lacking not in self.errors:
                    self.add_error(lacking, "A point of the data sheet is a frequency and a loss.")
        self.points = [(hz, db) for hz, db in pairs if hz and db]
        if cleaned.get("kind") == SHEET and not self.points and not self.errors:
            self.add_error("first_hz", "Needed, to reckon by the data sheet.")
        return cleaned

    def take_swept(self, cleaned):
        """The lowest SWR of the newest sweep of a chosen arrangement, at the place that it is known for."""
        arrangement, band = cleaned.get("arrangement"), cleaned.get("band")
        if not arrangement or not band or cleaned.get("swr") is not None or "swr" in self._errors:
            return
        found = swept(arrangement, band)
        if found is None or not found.lowest_swr:
            return
        href = reverse("equipment:sweep", args=[found.sweep_id])
        said = f"{Numeral(found.lowest_swr):.2f}, the lowest, {found.why}"
        self.filled["swr"] = GearValue(found.lowest_swr, said, href)
        cleaned["swr"] = found.lowest_swr
        cleaned["swr_at"] = "antenna" if found.plane == FEEDPOINT else "radio"
        self.missing = [name for name in self.missing if name != "swr"]

    @property
    def values(self):
        asked = super().values
        if asked["kind"] == SHEET or self.points:
            kind = feedline.of_data_sheet(self.points, "this line")
            error, known = feedlines.SHEET_ERROR, "by its data sheet"
        else:
            kind = feedline.LINE_TYPES[asked["kind"]]
            error, known = feedlines.TYPE_ERROR, "typical loss of its type"
        line = feedlines.Line(kind, asked["length_m"], error, known)
        return {
            "line": line, "band": asked["band"], "swr": asked["swr"], "swr_at": asked["swr_at"],
            "tuner": asked["tuner"], "watts": asked["watts"],
        }
