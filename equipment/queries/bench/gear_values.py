"""Values of the operator's own gear that fill what a question left empty: measured before rated."""

from dataclasses import dataclass

from equipment.models import PackReading
from equipment.templatetags import units as shown


@dataclass(frozen=True)
class GearValue:
    """A value in its stored unit, what it is in words, and the page of the record that it comes from."""

    value: object
    text: str
    href: str


def from_column(column, show=str):
    """A function of a piece that gives one of its columns, shown by a filter; None where it is empty."""

    def value_of(piece):
        value = getattr(piece, column)
        if value is None or value == "":
            return None
        return GearValue(value, f"{show(value)}, from {piece}", piece.get_absolute_url())

    return value_of


def pack_ah(pack):
    """The capacity of a pack: measured, else rated."""
    if pack.measured_ah:
        on = f" on {pack.measured_on:%Y-%m-%d}" if pack.measured_on else ""
        text = f"{shown.ampere_hours(pack.measured_ah)}, measured{on}"
        return GearValue(pack.measured_ah, f"{text}, from {pack}", pack.get_absolute_url())
    if pack.rated_ah:
        text = f"{shown.ampere_hours(pack.rated_ah)}, as rated and not measured"
        return GearValue(pack.rated_ah, f"{text}, from {pack}", pack.get_absolute_url())
    return None


def last_resting(pack):
    """The newest reading of a pack at rest, or None."""
    return pack.readings.filter(doing=PackReading.Doing.RESTING).order_by("-at", "-id").first()


def rested_v(pack):
    """The voltage of the newest reading at rest."""
    reading = last_resting(pack)
    if reading is None:
        return None
    text = f"{shown.volts(reading.voltage_v)}, read {reading.at:%Y-%m-%d %H:%M} UTC"
    return GearValue(reading.voltage_v, f"{text}, from {pack}", reading.get_absolute_url())
