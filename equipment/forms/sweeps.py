"""Forms of sweeps: a file read and shown before it is kept, what belongs to it, and which are compared."""

import base64
import binascii

from django import forms
from django.utils import timezone

from equipment import bands
from equipment.models import Feedline, Sweep
from equipment.numerals import Numeral
from equipment.physics import sweep_files

from . import quantities
from .gear import offer
from .quantities import MeasuredForm
from .readings import AHEAD, UtcMomentField

UNITS = [("", "as recognised"), *sweep_files.UNIT_NAMES.items()]
NAME_LETTERS = Sweep._meta.get_field("file_name").max_length


class SweepForm(MeasuredForm):
    """When, where and how a sweep was taken."""

    band = forms.ChoiceField(
        label="Set for", required=False,
        help_text="The band whose tap and length were in use. A sweep speaks for other bands only where one setting "
        "serves for all.",
    )
    taken_at = UtcMomentField(label="Taken at (UTC)")
    feedpoint_height_m = quantities.LengthField(label="Feedpoint height", required=False, maximum=500)

    class Meta:
        model = Sweep
        fields = ["taken_at", "band", "plane", "feedline", "place", "feedpoint_height_m", "conditions"]
        help_texts = {
            "place": "Where it was put up: a site, the garden.",
            "conditions": "Such as wet grass after rain, 8 °C.",
            "plane": "Through the feedline the analyser sees the line, too; where its type and length are known the "
            "sweep is moved to the feedpoint.",
            "feedline": "Only for a sweep through it.",
        }
        widgets = {"plane": forms.RadioSelect}

    def __init__(self, *args, actor, **kwargs):
        super().__init__(*args, **kwargs)
        self.actor = actor
        sweep, arrangement = self.instance, self.instance.arrangement
        self.fields["taken_at"].stored = self.initial.get("taken_at")
        settings = {setting.band: setting for setting in arrangement.band_settings.all()}
        names = [*settings, *([sweep.band] if sweep.band and sweep.band not in settings else [])]
        self.fields["band"].choices = [
            ("", "any band, one setting serves for all"),
            *((name, with_tap(name, settings.get(name))) for name in names),
        ]
        if not names:
            del self.fields["band"]
        offer(self.fields["feedline"], Feedline, sweep.owner_id, sweep.feedline_id, "not noted")
        if sweep._state.adding:
            self.initial["taken_at"] = timezone.now()
            self.initial["feedpoint_height_m"] = arrangement.feedpoint_height_m
            self.fields["feedpoint_height_m"].stored = arrangement.feedpoint_height_m
            self.initial["feedline"] = arrangement.feedline_id

    def clean_taken_at(self):
        taken_at = self.cleaned_data["taken_at"]
        if taken_at > timezone.now() + AHEAD:
            raise forms.ValidationError("This moment has not come yet. Times here are UTC.")
        return taken_at

    def clean(self):
        cleaned = super().clean()
        if cleaned.get("plane") == Sweep.Plane.FEEDPOINT:
            cleaned["feedline"] = None
        self.check_reach(cleaned.get("band"), self.instance.low_hz, self.instance.high_hz)
        return cleaned

    def check_reach(self, name, low_hz, high_hz):
        """A sweep that was set for a band has to reach it."""
        band = bands.named(name) if name else None
        if band and low_hz is not None and (low_hz >= band.upper_hz or high_hz <= band.lower_hz):
            self.add_error(
                "band", f"This sweep goes from {Numeral(low_hz / 1e6):.3f} to {Numeral(high_hz / 1e6):.3f} MHz and "
                f"does not reach {name}."
            )

    def save(self):
        self.instance.keep(self.actor)
        return self.instance


def with_tap(name, setting):
    """A band with the tap that is noted for it."""
    return f"{name}, tap {setting.tap}" if setting and setting.tap else name


class SweepFileForm(SweepForm):
    """A sweep with its file, in two steps: read and shown, then kept. Nothing is stored between the two.

    The file travels through the page, as `held`, so that it is what was shown that is kept.
    """

    file = forms.FileField(
        label="Sweep file", error_messages={"required": "Choose the file that your analyser wrote."},
        widget=forms.FileInput(attrs={"accept": ".s1p,.csv,.txt,.tsv"}),
        help_text=f"Touchstone .s1p, or CSV with frequency and SWR, R and X, or return loss; up to "
        f"{sweep_files.MOST_BYTES // 1024 // 1024} MB.",
    )
    unit = forms.ChoiceField(label="Frequencies in", required=False, choices=UNITS)
    z0_ohm = quantities.ResistanceField(
        label="Reference impedance", required=False, minimum=0.1, maximum=10_000,
        help_text="For a CSV; empty is 50 Ω. A Touchstone file names its own.",
    )
    held = forms.CharField(required=False, widget=forms.HiddenInput)
    held_name = forms.CharField(required=False, max_length=NAME_LETTERS, widget=forms.HiddenInput)

    field_order = ["file", "unit", "z0_ohm"]

    def __init__(self, *args, **kwargs):
        super().__init__(*args, **kwargs)
        self.fields["file"].required = not self.data.get("held")
        self.read = self.content = None
        self.name = ""

    @property
    def is_to_be_kept(self):
        """Whether the operator has seen what was understood and says keep; another file is shown first."""
        return "keep" in self.data and not self.files.get("file")

    @property
    def held_text(self):
        """The file as it travels through the page."""
        return base64.b64encode(self.content).decode() if self.content else ""

    @property
    def facts(self):
        """The fields beside the file."""
        return [self[name] for name in (*self.Meta.fields, "typed_in") if name in self.fields]

    def clean(self):
        cleaned = super().clean()
        upload = cleaned.get("file")
        try:
            if upload:
                if upload.size > sweep_files.MOST_BYTES:
                    raise sweep_files.BadSweep(f"a sweep file is at most {sweep_files.MOST_BYTES // 1024 // 1024} MB")
                self.content, self.name = upload.read(), upload.name[-NAME_LETTERS:]
            elif cleaned.get("held"):
                self.content, self.name = base64.b64decode(cleaned["held"], validate=True), cleaned.get("held_name", "")
            if self.content is not None:
                self.read = sweep_files.read(
                    self.content, self.name, unit=cleaned.get("unit") or None, z0_ohm=cleaned.get("z0_ohm")
                )
        except sweep_files.BadSweep as error:
            self.content, message = None, str(error)
            self.add_error("file", f"{message[:1].upper()}{message[1:]}.")
        except binascii.Error:
            self.add_error("file", "The file did not come through the page: choose it again.")
        if self.read:
            self.instance.take(self.name, self.content, self.read)
            self.check_reach(cleaned.get("band"), self.instance.low_hz, self.instance.high_hz)
        return cleaned

    @property
    def earlier(self):
        """A sweep of the same arrangement that was kept from the same file; None where there is none."""
        return self.instance.arrangement.sweeps.filter(
            low_hz=self.instance.low_hz, high_hz=self.instance.high_hz, original=self.content
        ).first()


class CompareForm(forms.Form):
    """Which sweeps lie over each other, where, and on which band; read from the query string."""

    PLANES = [("feedpoint", "at the feedpoint, where known"), ("radio", "at the radio, where known")]

    at = forms.ChoiceField(label="As it looks", required=False, choices=PLANES)
    band = forms.ChoiceField(label="Frequencies", required=False)

    def __init__(self, data, *, reached):
        super().__init__(data)
        self.fields["band"].choices = [("", "all that was swept"), *((name, name) for name in reached)]

    @staticmethod
    def sweeps(data):
        """The chosen sweeps; what is no number is left out."""
        typed = data.getlist("sweep")[:200]
        return [int(text) for text in typed if text.isascii() and text.isdigit() and len(text) < 18]

    def chosen(self):
        """The values that could be read."""
        self.is_valid()
        return {"at": self.cleaned_data.get("at") or "feedpoint", "band": self.cleaned_data.get("band") or ""}
