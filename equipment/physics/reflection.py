"""Reflection at a load: SWR, return loss, mismatch loss."""

import cmath
import math
from dataclasses import dataclass


@dataclass(frozen=True)
class Reflection:
    """What a load reflects; None where a quantity is infinite or undefined."""

    gamma: complex
    magnitude: float
    angle_deg: float | None
    swr: float | None
    return_loss_db: float | None
    mismatch_loss_db: float | None


def of_impedance(ohm, z0_ohm=50.0):
    """Reflection of a complex impedance against z0_ohm: gamma = (Z - Z0)/(Z + Z0*)."""
    if z0_ohm <= 0:
        raise ValueError("the reference impedance must be positive")
    if ohm == -z0_ohm:
        raise ValueError("this impedance reflects without limit")
    return of_gamma((ohm - z0_ohm) / (ohm + z0_ohm))


def of_gamma(gamma):
    """Reflection from a complex coefficient; ValueError above 1 (no passive load: a calibration error)."""
    size = abs(gamma)
    if size > 1 + 1e-9:
        raise ValueError("more comes back than was sent: a calibration error")
    size = min(size, 1.0)
    return Reflection(
        gamma,
        size,
        math.degrees(cmath.phase(gamma)) if size else None,
        (1 + size) / (1 - size) if size < 1 else None,
        -20 * math.log10(size) if size else None,
        -10 * math.log10(1 - size * size) if size < 1 else None,
    )


def magnitude_of_swr(swr):
    """|gamma| of an SWR; ValueError below 1."""
    if swr < 1:
        raise ValueError("an SWR is never below 1")
    return (swr - 1) / (swr + 1)


def impedance_ohm(gamma, z0_ohm=50.0):
    """Impedance of a reflection coefficient, complex ohm; None for gamma = 1 (open)."""
    return z0_ohm * (1 + gamma) / (1 - gamma) if gamma != 1 else None
