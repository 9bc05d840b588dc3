"""The form that takes a logger's file: first what was recognised is shown, then it is kept."""

import base64
import binascii
import datetime
import zlib

from django import forms
from django.utils import timezone

from equipment.models import PackLog, PackReading
from equipment.physics import log_files
from equipment.physics.log_files import BadLog, Chosen
from equipment.queries.pack_logs import LOWEST_CELL_V, look

from . import quantities
from .readings import AHEAD, UtcMomentField

READINGS = "readings"
MOST_READINGS = 2000
UNITS = {role: [("", "as recognised"), *((unit, unit) for unit in log_files.UNIT_CHOICES[role])] for role in
         log_files.UNIT_CHOICES}


def packed(content):
    """A file as text for a hidden field, so that nothing is stored before it is kept."""
    return base64.b64encode(zlib.compress(content, 6)).decode()


def unpacked(text):
    """The file again; ValueError where the text was tampered with."""
    inflating = zlib.decompressobj()
    try:
        content = inflating.decompress(base64.b64decode(text, validate=True), log_files.MOST_BYTES + 1)
    except (binascii.Error, zlib.error) as error:
        raise ValueError("not a packed file") from error
    return content


class PackLogForm(forms.Form):
    """A log of a pack: what it is, how it is read, and what belongs to it."""

    kind = forms.ChoiceField(
        label="What it is", widget=forms.RadioSelect, initial=PackLog.Kind.TEST,
        choices=[
            (PackLog.Kind.TEST, "a capacity test: discharged from full"), (PackLog.Kind.CHARGE, "a charge"),
            (READINGS, "single readings, each to be kept"),
        ],
    )
    log = forms.FileField(
        label="File", allow_empty_file=True,
        widget=forms.ClearableFileInput(attrs={"accept": ".csv,.txt,.log,.tsv,text/csv,text/plain"}),
        error_messages={"required": "Choose a file first."},
        help_text="CSV with time, voltage and current. Nothing is kept before you have seen how it is read.",
    )
    content = forms.CharField(required=False, widget=forms.HiddenInput)
    file_name = forms.CharField(required=False, max_length=200, widget=forms.HiddenInput)
    time = forms.TypedChoiceField(label="Time", required=False, coerce=int, empty_value=None)
    volts = forms.TypedChoiceField(label="Voltage", required=False, coerce=int, empty_value=None)
    amps = forms.TypedChoiceField(label="Current", required=False, coerce=int, empty_value=None)
    time_unit = forms.ChoiceField(label="Unit of the time", required=False, choices=UNITS["time"])
    volts_unit = forms.ChoiceField(label="Unit of the voltage", required=False, choices=UNITS["volts"])
    amps_unit = forms.ChoiceField(label="Unit of the current", required=False, choices=UNITS["amps"])
    began = UtcMomentField(label="Began at (UTC)", required=False)
    cutoff_v = quantities.VoltageField(
        label="Counted down to", required=False, maximum=1000, help_text="The lowest voltage of the pack, for a test."
    )
    doing = forms.ChoiceField(
        label="The pack was", required=False, choices=PackReading.Doing.choices, initial=PackReading.Doing.UNKNOWN,
        help_text="For single readings.",
    )
    temperature_c = quantities.TemperatureField(label="Temperature", required=False, minimum=-60, maximum=120)
    note = forms.CharField(required=False, max_length=200)
    use = forms.BooleanField(
        label="Take it as the pack’s measured capacity and resistance", required=False, initial=True
    )

    HOW = ("time", "time_unit", "volts", "volts_unit", "amps", "amps_unit")
    ABOUT = ("began", "cutoff_v", "doing", "temperature_c", "note", "use")

    def __init__(self, data=None, files=None, *, pack, actor):
        self.pack, self.actor, self.read, self.look = pack, actor, None, None
        self.refused = ""
        super().__init__(data.copy() if data is not None else None, files)
        self.keeps = bool(data) and "keep" in data
        if self.is_bound:
            self.take_file()

    def take_file(self):
        """Read the file that was chosen or that came along, so that its columns can be offered."""
        upload = (self.files or {}).get("log")
        fresh = upload is not None
        try:
            if fresh:
                if upload.size > log_files.MOST_BYTES:
                    raise BadLog(f"a log file is at most {log_files.MOST_BYTES // 2**20} MB")
                self.bytes = upload.read()
                self.data["content"], self.data["file_name"] = packed(self.bytes), (upload.name or "log")[-200:]
            elif self.data.get("content"):
                self.bytes = unpacked(self.data["content"])
            else:
                return  # the field says that it is required
            self.fields["log"].required = False
            first = log_files.read(self.bytes)
        except ValueError as error:
            self.refused = str(error)
            self.data["content"] = ""
            return
        columns = [("", "as recognised"), *((i, f"{i + 1}: {name}") for i, name in enumerate(first.columns))]
        for name in ("time", "volts", "amps"):
            self.fields[name].choices = columns
        self.fields["began"].stored = first.began
        if fresh:
            if first.began:
                self.data["began"] = first.began.strftime("%Y-%m-%dT%H:%M")
            cutoff_v = self.lowest_v()
            if cutoff_v and not self.data.get("cutoff_v"):
                self.data["cutoff_v"] = self.fields["cutoff_v"].prepare_value(cutoff_v)
            self.data.setdefault("use", "on")
            self.data.setdefault("doing", PackReading.Doing.UNKNOWN)

    def lowest_v(self):
        """Where a test of this pack ends: as the pack has it, or by its chemistry."""
        cell_v = LOWEST_CELL_V.get(self.pack.chemistry)
        by_chemistry = cell_v and self.pack.cells_in_series and cell_v * self.pack.cells_in_series
        return self.pack.cutoff_v or by_chemistry or None

    def clean(self):
        cleaned = super().clean()
        if not self.refused and not hasattr(self, "bytes"):
            return cleaned
        if self.refused:
            self.add_error("log", f"{self.refused[:1].upper()}{self.refused[1:]}.")
            return cleaned
        try:
            self.read = log_files.read(self.bytes, self.chosen(cleaned))
        except BadLog as error:
            self.add_error(None, f"Read like this, it is no log: {error}.")
            return cleaned
        kind, began = cleaned.get("kind"), cleaned.get("began")
        if began and began > timezone.now() + AHEAD:
            self.add_error("began", "This moment has not come yet. Times here are UTC.")
        if kind == PackLog.Kind.TEST and not cleaned.get("cutoff_v") and "cutoff_v" not in self.errors:
            self.add_error("cutoff_v", "A capacity test needs the voltage that it counts down to.")
        if kind in PackLog.Kind.values and not self.read.amps:
            self.add_error(None, "No current was recognised. Choose its column, or take the file as single readings.")
        if kind == READINGS and len(self.read.seconds) > MOST_READINGS:
            self.add_error(
                "kind", f"{len(self.read.seconds)} readings are too many to keep one by one; at most {MOST_READINGS}."
            )
        if self.keeps and not began and "began" not in self.errors:
            self.add_error("began", "The file does not say when it began: please do.")
        if not self.errors and kind in PackLog.Kind.values:
            try:
                self.look = look(kind, self.read, self.pack, cleaned.get("cutoff_v"))
            except ValueError as error:
                self.add_error(None, f"This cannot be a {PackLog.Kind(kind).label}: {error}.")
        return cleaned

    def chosen(self, cleaned):
        return Chosen(**{name: cleaned.get(name) if cleaned.get(name) != "" else None for name in self.HOW})

    @property
    def how(self):
        """The fields that say how the file is read."""
        return [self[name] for name in self.HOW]

    @property
    def about(self):
        """The fields that belong to what is kept."""
        return [self[name] for name in self.ABOUT]

    def save(self):
        """Keep the log, or its readings; what was kept, as (row or None, number of readings)."""
        if self.cleaned_data["kind"] == READINGS:
            return None, self.save_readings()
        return self.save_log(), 0

    def save_readings(self):
        at, amps = self.cleaned_data["began"], self.read.amps or (None,) * len(self.read.seconds)
        rows = [
            PackReading(
                owner=self.actor, pack=self.pack, at=at + datetime.timedelta(seconds=seconds), voltage_v=volts,
                current_a=None if current is None else abs(current), temperature_c=self.cleaned_data["temperature_c"],
                doing=self.cleaned_data["doing"] or PackReading.Doing.UNKNOWN, note=self.cleaned_data["note"],
            )
            for seconds, volts, current in zip(self.read.seconds, self.read.volts, amps, strict=True)
        ]
        PackReading.keep_all(rows, self.actor, cause="file")
        return len(rows)

    def save_log(self):
        cleaned = self.cleaned_data
        row = PackLog(
            owner=self.actor, pack=self.pack, started_at=cleaned["began"], temperature_c=cleaned["temperature_c"],
            note=cleaned["note"],
        )
        chosen = {name: value for name, value in vars(self.chosen(cleaned)).items() if value is not None}
        row.take(cleaned["file_name"], self.bytes, self.read, self.look, chosen)
        row.keep(self.actor)
        if cleaned["use"]:
            row.use_for_pack()
        return row
