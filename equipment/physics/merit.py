"""Figures of merit of portable gear: kilometres per watt, contacts per watt-hour and per kilogram."""

from dataclasses import dataclass


def km_per_watt(distance_km, watts):
    """Kilometres per watt at the radio; ValueError unless the power is positive."""
    if watts <= 0:
        raise ValueError("the power must be positive")
    return distance_km / watts


@dataclass(frozen=True)
class Merit:
    """What was achieved for what was spent; None where nothing was spent or achieved."""

    per_hour: float | None
    per_wh: float | None
    wh_per_contact: float | None
    per_kg: float | None


def merit(contacts, wh_used, kg, hours):
    """Contacts per hour, per watt-hour, per kilogram carried, and watt-hours a contact."""
    if min(contacts, wh_used, kg, hours) < 0:
        raise ValueError("nothing here can be negative")
    return Merit(
        contacts / hours if hours else None,
        contacts / wh_used if wh_used else None,
        wh_used / contacts if contacts else None,
        contacts / kg if kg else None,
    )
