"""Values of the operator's own gear that fill what a question left empty: measured before rated."""

from dataclasses import dataclass

from django.urls import reverse

from equipment.models import PackReading
from equipment.queries.pack_logs import since_full
from equipment.templatetags import units as shown

# How far a capacity may be off, as a share: common practice, no source.
MEASURED_ERROR, RATED_ERROR = 0.05, 0.20


@dataclass(frozen=True)
class GearValue:
    """A value in its stored unit, what it is in words, and the page of the record that it comes from."""

    value: object
    text: str
    href: str
    error: float = 0.0  # how far it may be off, as a share of it


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
        return GearValue(pack.measured_ah, f"{text}, from {pack}", pack.get_absolute_url(), MEASURED_ERROR)
    if pack.rated_ah:
        text = f"{shown.ampere_hours(pack.rated_ah)}, as rated and not measured"
        return GearValue(pack.rated_ah, f"{text}, from {pack}", pack.get_absolute_url(), RATED_ERROR)
    return None


def last_resting(pack):
    """The newest reading of a pack at rest, or None."""
    return pack.readings.filter(doing=PackReading.Doing.RESTING).order_by("-at", "-id").first()


def rested_v(pack):
    """The voltage of the newest reading at rest, unless the pack was charged or discharged since."""
    reading = last_resting(pack)
    if reading is None or pack.logs.filter(started_at__gt=reading.at).exists():
        return None
    text = f"{shown.volts(reading.voltage_v)}, read {reading.at:%Y-%m-%d %H:%M} UTC"
    return GearValue(reading.voltage_v, f"{text}, from {pack}", reading.get_absolute_url())


def of_last_resting(name, show):
    """A function of a pack that gives a value of its newest reading at rest: rested_h or a column."""

    def value_of(pack):
        reading = last_resting(pack)
        value = reading and (hours_rested(reading) if name == "rested_h" else getattr(reading, name))
        if value is None:
            return None
        return GearValue(value, f"{show(value)}, by the same reading", reading.get_absolute_url())

    return value_of


def hours_rested(reading):
    """How long the pack had rested when it was read, in hours; None where that was not noted."""
    since = reading.resting_since
    return None if since is None else (reading.at - since).total_seconds() / 3600


def used_ah(pack):
    """What left the pack since its last full charge, by its logs."""
    found = since_full(pack)
    if found is None:
        return None
    logs = f"{found.logs} log{'s' if found.logs != 1 else ''}"
    text = (
        f"{shown.ampere_hours(found.used_ah)} in {logs} since it was full on {found.full_at:%Y-%m-%d}; what was used "
        "without a logger is not in it"
    )
    return GearValue(found.used_ah, text, reverse("equipment:pack_log_list", args=[pack.pk]))


def of_setting(read, words):
    """A function of a power setting that gives a value of it or of its radio; `read` gives the value."""

    def value_of(setting):
        value = read(setting)
        if value is None:
            return None
        text = f"{shown.amperes(value) if words != 'volts' else shown.volts(value)}, from {setting.radio}"
        if words == "transmit":
            text += f" at {setting}"
        return GearValue(value, text, setting.radio.get_absolute_url())

    return value_of
