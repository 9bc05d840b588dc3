"""Decibels: powers, S readings, radiated power, path loss, reports made comparable."""

import math

DIPOLE_DBI = 2.15  # customary; the exact gain of a thin half-wave dipole is 2.148 dBi


def dbm(watts):
    """Power in dB over one milliwatt; None for zero or negative power, which has none."""
    return 10 * math.log10(watts * 1000) if watts > 0 else None


def dbw(watts):
    """Power in dB over one watt; None for zero or negative power."""
    return 10 * math.log10(watts) if watts > 0 else None


def change_db(from_w, to_w):
    """Change of power, dB; None unless both are positive."""
    return 10 * math.log10(to_w / from_w) if from_w > 0 and to_w > 0 else None


def s_units_of_db(db):
    """S units of a change in dB, six to the unit (IARU Region 1 technical recommendation R.1)."""
    return db / 6


def s_reading(power_dbm, frequency_hz):
    """S units (at most 9), dB over S9, and microvolts in 50 ohm of a received power.

    S9 is -73 dBm below 30 MHz, -93 dBm above; 6 dB a unit; never negative. Real meters seldom follow this.
    Source: IARU Region 1 technical recommendation R.1 (from memory).
    """
    s9 = -73.0 if frequency_hz < 30e6 else -93.0
    above = power_dbm - s9
    microvolt = math.sqrt(50 * 10 ** (power_dbm / 10) / 1000) * 1e6
    if above >= 0:
        return 9.0, above, microvolt
    return max(0.0, 9 + above / 6), 0.0, microvolt


def eirp_w(watts, loss_db, gain_dbi):
    """Effective isotropic radiated power, W: P 10^((G - loss)/10)."""
    return watts * 10 ** ((gain_dbi - loss_db) / 10)


def erp_w(watts, loss_db, gain_dbi):
    """Effective radiated power against a half-wave dipole, W."""
    return eirp_w(watts, loss_db, gain_dbi - DIPOLE_DBI)


def path_loss_db(frequency_hz, distance_km):
    """Free-space path loss, dB: 20 log(4 pi d / lambda)."""
    if frequency_hz <= 0 or distance_km <= 0:
        raise ValueError("frequency and distance must be positive")
    return 20 * math.log10(4 * math.pi * distance_km * 1000 * frequency_hz / 299_792_458.0)


def report_at_reference_db(report_db, watts, reference_w):
    """A digital report as it would have been at another power: report + 10 log(Pref/P)."""
    if watts <= 0 or reference_w <= 0:
        raise ValueError("powers must be positive")
    return report_db + 10 * math.log10(reference_w / watts)
