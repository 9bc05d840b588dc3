"""The form of one reading of a pack."""

import datetime

from django import forms
from django.utils import timezone

from equipment.models import PackReading
from equipment.numerals import Numeral

from . import quantities
from .gear import CELL_V
from .quantities import MeasuredForm

AHEAD = datetime.timedelta(minutes=5)  # clocks differ
ROOM = 1.25  # a charger without its pack, or a wrong count of cells, shows more than cells can have


class UtcMomentField(forms.DateTimeField):
    """A moment typed in UTC, to the minute; one that was kept with seconds keeps them while it is not changed."""

    stored = None

    def __init__(self, **kwargs):
        kwargs.setdefault("widget", forms.DateTimeInput(attrs={"type": "datetime-local"}, format="%Y-%m-%dT%H:%M"))
        super().__init__(**kwargs)

    def to_python(self, value):
        moment = super().to_python(value)
        if self.stored and moment and moment == self.stored.replace(second=0, microsecond=0):
            return self.stored
        return moment


class ReadingForm(MeasuredForm):
    """One dated voltage of a pack, with what the pack was doing."""

    at = UtcMomentField(label="Measured at (UTC)")
    voltage_v = quantities.VoltageField(label="Voltage", maximum=1000)
    current_a = quantities.CurrentField(
        label="Current", required=False, maximum=2000, help_text="The size only; what the pack did says which way."
    )
    temperature_c = quantities.TemperatureField(label="Temperature", required=False, minimum=-60, maximum=120)
    resting_since = UtcMomentField(
        label="Resting since (UTC)", required=False,
        help_text="Voltage tells the charge only after hours without load.",
    )

    class Meta:
        model = PackReading
        fields = ["at", "voltage_v", "doing", "current_a", "temperature_c", "resting_since", "note"]
        labels = {"doing": "The pack was"}

    def __init__(self, *args, actor, **kwargs):
        super().__init__(*args, **kwargs)
        self.actor = actor
        for name in ("at", "resting_since"):
            self.fields[name].stored = self.initial.get(name)
        if self.instance._state.adding:
            self.initial.setdefault("at", None)
            self.initial["at"] = self.initial["at"] or timezone.now()

    def clean(self):
        cleaned = super().clean()
        at, since, volts = cleaned.get("at"), cleaned.get("resting_since"), cleaned.get("voltage_v")
        if at and at > timezone.now() + AHEAD:
            self.add_error("at", "This moment has not come yet. Times here are UTC.")
        if at and since and since > at:
            self.add_error("resting_since", "This is after the reading itself.")
        if since and cleaned.get("doing") != PackReading.Doing.RESTING:
            self.add_error("resting_since", "Only for a resting pack: choose resting above, or leave this empty.")
        pack = self.instance.pack
        if volts is not None and pack.cells_in_series and pack.chemistry in CELL_V:
            highest = CELL_V[pack.chemistry][1] * pack.cells_in_series * ROOM
            if volts > highest:
                self.add_error(
                    "voltage_v", f"{pack.cells_in_series} {pack.chemistry} cells in series cannot have "
                    f"{Numeral(volts):g} V: please check the reading, or the number of cells of the pack."
                )
        return cleaned

    def save(self):
        self.instance.keep(self.actor)
        return self.instance
