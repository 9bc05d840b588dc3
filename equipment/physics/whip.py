"""Short whips on a ground plane: impedance, the coil they need, efficiency, and what another whip does to a tap."""

import math
from dataclasses import dataclass

from equipment.numerals import Numeral

from .waves import LIGHT_M_S, wavelength_m

ETA_OHM = 376.730313668  # impedance of free space
EULER = 0.5772156649015329
LONGEST_WAVELENGTHS = 0.33  # above it every formula here fails
RAISED_LONGEST_WAVELENGTHS = 0.135  # whips with a coil part way up
RAISED_SHARES = (0.3, 0.8)  # of the height, for the same
GROUND_OHM = (5.0, 40.0)  # many radials to a few short ones. Common practice, no source.
COIL_Q = (100.0, 300.0)  # air coils of sensible size. Common practice, no source.


def _electrical_height(length_m, frequency_hz):
    """k h; refuses what the formulas cannot describe."""
    if length_m <= 0 or frequency_hz <= 0:
        raise ValueError("length and frequency must be positive")
    share = length_m / wavelength_m(frequency_hz)
    if share > LONGEST_WAVELENGTHS:
        raise ValueError(
            f"a whip of {Numeral(share):.2f} wavelengths is outside these formulas (up to "
            f"{Numeral(LONGEST_WAVELENGTHS)})"
        )
    return 2 * math.pi * share


def _checked_radius(length_m, radius_m):
    if not 0 < radius_m <= length_m / 50:
        raise ValueError("the radius must be positive and small against the length")


def reactance_simple_ohm(length_m, radius_m, frequency_hz, *, long_logarithm=True):
    """Rough reactance of a whip, ohm: -Z0 cot(kh).

    Z0 = 60 [ln(2h/a) - 1] (Schelkunoff) or 60 [ln(h/a) - 1] (Balanis). 13 to 21 % and 2 to 6 % too large below 0.15
    wavelengths against NEC-2; kept to show how far off the common rough formula is. Use `impedance_ohm`.
    """
    kh = _electrical_height(length_m, frequency_hz)
    z0 = 60 * (math.log((2 if long_logarithm else 1) * length_m / radius_m) - 1)
    return -z0 / math.tan(kh)


def induced_emf_ohm(length_m, radius_m, frequency_hz):
    """Impedance of a whip on perfect ground by the induced-EMF method with sinusoidal current, complex ohm.

    Half the impedance of the dipole of twice the height. The reactance is within 2 % of NEC-2 (radius 2 mm) up to 0.18
    wavelengths and within 3 ohm through resonance to 0.31; the resistance is 9 to 11 % high for very short whips, 8 to
    10 % low at a quarter wave. ValueError above 0.33 wavelengths. Source: C. A. Balanis, Antenna Theory, section 8.5.
    """
    from scipy.special import sici

    kh = _electrical_height(length_m, frequency_hz)
    _checked_radius(length_m, radius_m)
    kl = 2 * kh  # k times the length of the whole dipole
    si1, ci1 = sici(kl)
    si2, ci2 = sici(2 * kl)
    _, cia = sici(kl * (radius_m / length_m) ** 2 / 2)  # 2 k a^2 / l with l = 2 h
    sin, cos = math.sin(kl), math.cos(kl)
    resistance = (
        EULER + math.log(kl) - ci1 + sin / 2 * (si2 - 2 * si1) + cos / 2 * (EULER + math.log(kl / 2) + ci2 - 2 * ci1)
    ) * ETA_OHM / (2 * math.pi)
    reactance = (2 * si1 + cos * (2 * si1 - si2) - sin * (2 * ci1 - ci2 - cia)) * ETA_OHM / (4 * math.pi)
    return complex(resistance, reactance) / math.sin(kl / 2) ** 2 / 2


def resistance_thin_ohm(length_m, frequency_hz):
    """Radiation resistance 395 (h/lambda)^2, ohm; within 8 % below 0.12 wavelengths, 37 % low at a quarter wave."""
    return 395 * (_electrical_height(length_m, frequency_hz) / (2 * math.pi)) ** 2


def resistance_tangent_ohm(length_m, frequency_hz):
    """Radiation resistance 40 tan^2(kh/2), ohm; 0 to 9 % high up to a quarter wave."""
    return 40 * math.tan(_electrical_height(length_m, frequency_hz) / 2) ** 2


def resistance_ohm(length_m, frequency_hz):
    """Radiation resistance of a whip on perfect ground, ohm: 40 tan^2(kh/2) [0.92 + 0.08 (4h/lambda)^2].

    A fit to NEC-2, within 2 % for 2 mm radius and 3 % for 4 mm up to a quarter wave (computed, not published).
    """
    kh = _electrical_height(length_m, frequency_hz)
    return 40 * math.tan(kh / 2) ** 2 * (0.92 + 0.08 * (2 * kh / math.pi) ** 2)


def impedance_ohm(length_m, radius_m, frequency_hz):
    """Best estimate of a whip's base impedance on perfect ground, complex ohm: fitted R, induced-EMF X."""
    return complex(
        resistance_ohm(length_m, frequency_hz), induced_emf_ohm(length_m, radius_m, frequency_hz).imag
    )


def base_coil_h(length_m, radius_m, frequency_hz):
    """Inductance that cancels the whip's reactance at its base, henry: -X/(2 pi f).

    Zero at resonance; None where the whip is inductive: no coil can help there, it must be shorter.
    """
    reactance = induced_emf_ohm(length_m, radius_m, frequency_hz).imag
    return -reactance / (2 * math.pi * frequency_hz) if reactance <= 0 else None


def no_coil_hz(length_m, radius_m):
    """Frequency at which the whip resonates by itself (its quarter wave), Hz, by bisection on the reactance."""
    low, high = (share * LIGHT_M_S / length_m for share in (0.15, 0.30))
    return _rising_zero(lambda f: induced_emf_ohm(length_m, radius_m, f).imag, low, high)


def _rising_zero(function, low, high):
    if function(low) > 0 or function(high) < 0:
        raise ValueError("no resonance in the searched range")
    for _ in range(80):
        middle = (low + high) / 2
        if function(middle) < 0:
            low = middle
        else:
            high = middle
    return (low + high) / 2


def resonance_with_coil_hz(length_m, radius_m, inductance_h):
    """Lowest resonance of a whip with a base coil, Hz: X(f) + 2 pi f L = 0.

    ValueError for a negative inductance. With none it is the whip's own quarter wave.
    """
    if inductance_h < 0:
        raise ValueError("the inductance must not be negative")
    top = no_coil_hz(length_m, radius_m)
    if inductance_h == 0:
        return top
    return _rising_zero(
        lambda f: induced_emf_ohm(length_m, radius_m, f).imag + 2 * math.pi * f * inductance_h, top / 200, top
    )


@dataclass(frozen=True)
class MovedTap:
    """Where a coil tap lands with another whip."""

    tap_hz: float
    inductance_h: float
    new_hz: float


def moved_taps(old_length_m, new_length_m, radius_m, tap_hz):
    """Where taps found with one whip resonate with another: tuple of MovedTap, in the order of tap_hz.

    A tap is an inductance that cancels the reactance of one whip. Finding it with the old whip's formula and using it
    with the new whip's makes the formula's error cancel: within 0.2 % of NEC-2. Frequencies at which the old whip
    needs no coil are refused with ValueError.
    """
    moved = []
    for frequency in tap_hz:
        inductance = base_coil_h(old_length_m, radius_m, frequency)
        if inductance is None:
            raise ValueError(f"a whip of {Numeral(old_length_m):g} m needs no coil at {Numeral(frequency / 1e6):g} MHz")
        moved.append(MovedTap(frequency, inductance, resonance_with_coil_hz(new_length_m, radius_m, inductance)))
    return tuple(moved)


@dataclass(frozen=True)
class LoadedWhip:
    """A base-loaded whip: coil, losses, what the feedpoint shows, efficiency."""

    inductance_h: float
    radiation_ohm: float
    coil_ohm: float
    ground_ohm: float

    @property
    def feed_ohm(self):
        return self.radiation_ohm + self.coil_ohm + self.ground_ohm

    @property
    def efficiency(self):
        return self.radiation_ohm / self.feed_ohm

    @property
    def efficiency_db(self):
        return 10 * math.log10(self.efficiency)


def loaded(length_m, radius_m, frequency_hz, coil_q, ground_ohm):
    """A whip with its base coil: loss X_L/Q, efficiency Rr/(Rr + Rc + Rg).

    ValueError where no coil can help, for Q that is not positive or a negative ground resistance.
    """
    if coil_q <= 0 or ground_ohm < 0:
        raise ValueError("Q must be positive and the ground resistance not negative")
    inductance = base_coil_h(length_m, radius_m, frequency_hz)
    if inductance is None:
        raise ValueError("the whip is inductive here: no coil brings it to resonance, it must be shorter")
    coil = 2 * math.pi * frequency_hz * inductance / coil_q
    return LoadedWhip(inductance, resistance_ohm(length_m, frequency_hz), coil, ground_ohm)


def efficiency_range_db(length_m, radius_m, frequency_hz, coil_q=COIL_Q, ground_ohm=GROUND_OHM):
    """Efficiency of a base-loaded whip as its honest spread, dB: (worst, best) over Q and ground resistance."""
    worst = loaded(length_m, radius_m, frequency_hz, min(coil_q), max(ground_ohm)).efficiency_db
    best = loaded(length_m, radius_m, frequency_hz, max(coil_q), min(ground_ohm)).efficiency_db
    return worst, best


def raised_coil(length_m, radius_m, frequency_hz, height_share):
    """Coil part way up: its reactance for resonance and the radiation resistance at the base, ohm.

    height_share: height of the coil over the length, 0 < share < 1. X = Z0(h2) cot(k h2) - Z0(h1) tan(k h1),
    Z0(x) = 60 [ln(2x/a) - 1]; R = 40 (k he)^2, he = sin(k h1)/k + cos(k h1) tan(k h2/2)/k. NEC-2 says 4 to 7 % less
    reactance and 4 to 8 % more resistance. Source: J. Hall, off-centre-loaded dipoles, 1974 (from memory).
    """
    if not 0 < height_share < 1:
        raise ValueError("the coil must sit between base and tip")
    kh = _electrical_height(length_m, frequency_hz)
    below, above = length_m * height_share, length_m * (1 - height_share)
    k = kh / length_m

    def z0(x):
        return 60 * (math.log(2 * x / radius_m) - 1)

    reactance = z0(above) / math.tan(k * above) - z0(below) * math.tan(k * below)
    effective = math.sin(k * below) + math.cos(k * below) * math.tan(k * above / 2)
    return reactance, 40 * effective**2


@dataclass(frozen=True)
class RaisedCoil:
    """A coil part way up: its inductance and the radiation resistance at the base, each with its range.

    `loss_share` is what the coil's own loss resistance counts at the base.
    """

    low_h: float
    inductance_h: float
    high_h: float
    low_ohm: float
    radiation_ohm: float
    high_ohm: float
    loss_share: float


def raised_coil_range(length_m, radius_m, frequency_hz, height_share):
    """`raised_coil` brought to what NEC-2 finds, with ranges, as a RaisedCoil.

    Against NEC-2 the formula asks for 1 to 13 % too much reactance and gives 2 to 10 % too little resistance, for coils
    at 0.3 to 0.8 of whips up to 0.135 wavelengths; ValueError beyond, where it is off by up to a third. The coil's loss
    counts cos^2(k h1) at the base, by NEC-2 13 to 17 % more.
    """
    kh = _electrical_height(length_m, frequency_hz)
    _checked_radius(length_m, radius_m)
    low, high = RAISED_SHARES
    if not low <= height_share <= high:
        raise ValueError(
            f"the formula for a coil part way up holds from {Numeral(low):g} to {Numeral(high):g} of the whip’s height"
        )
    if kh / (2 * math.pi) > RAISED_LONGEST_WAVELENGTHS:
        raise ValueError(
            f"for whips above {Numeral(RAISED_LONGEST_WAVELENGTHS):g} wavelengths the formula for a coil part way up "
            "is off by up to a third"
        )
    reactance, ohm = raised_coil(length_m, radius_m, frequency_hz, height_share)
    formula_h = reactance / (2 * math.pi * frequency_hz)
    return RaisedCoil(
        formula_h / 1.13, formula_h / 1.06, formula_h / 1.01, ohm / 0.98, ohm / 0.945, ohm / 0.90,
        1.15 * math.cos(kh * height_share) ** 2,
    )


def ground_and_coil_ohm(measured_ohm, length_m, frequency_hz):
    """Loss resistance of coil and ground, ohm: what was measured at resonance minus the computed radiation resistance.

    ValueError where the measured value is below the radiation resistance: then it was not measured at this feedpoint.
    """
    loss = measured_ohm - resistance_ohm(length_m, frequency_hz)
    if loss < 0:
        raise ValueError("measured below the radiation resistance: not at this feedpoint, or through a transformer")
    return loss
