"""RF exposure near an antenna: limits, far-field distance, and where that formula must not be trusted.

An estimate by the far-field formula of OET Bulletin 65 for the values entered. It is not a compliance evaluation. It
does not hold within about one sixth of a wavelength of the antenna. The station licensee remains responsible.
"""

import math
from dataclasses import dataclass

from equipment.numerals import Numeral

from .waves import wavelength_m

FREE_SPACE, GROUND_EPA, GROUND_PERFECT = 1.0, 2.56, 4.0
MODE_FACTOR = {
    "voice SSB": 0.2, "voice SSB, heavy compression": 0.5, "Morse": 0.4, "FM": 1.0, "digital": 1.0, "carrier": 1.0,
}  # OET Bulletin 65 Supplement B
AVERAGING_MIN = {"controlled": 6.0, "uncontrolled": 30.0}
FREE_SPACE_OHM = 376.73
EDITION = "47 CFR 1.1310 with OET Bulletin 65 (97-01) and Supplement B"
UNITED_STATES, ICNIRP, STRICTER = "United States", "ICNIRP 2020", "the stricter of both"
ICNIRP_EDITION = "ICNIRP guidelines 2020 (Health Physics 118, 483), whole-body reference levels of the electric field"
ICNIRP_WHO = {"controlled": "occupational", "uncontrolled": "general"}
ICNIRP_UP_TO_HZ = 400e6


def limit_mw_cm2(frequency_hz, environment):
    """Maximum permissible exposure as plane-wave power density, mW/cm².

    environment: "controlled" or "uncontrolled". ValueError below 0.3 MHz, above 100 GHz or for another word.
    Source: 47 CFR 1.1310. Other countries have other rules; those of the country of operation apply.
    """
    mhz = frequency_hz / 1e6
    if environment not in AVERAGING_MIN:
        raise ValueError(f"the environment is controlled or uncontrolled, not {environment}")
    if not 0.3 <= mhz <= 100_000:
        raise ValueError(f"the limits are stated for {Numeral(0.3)} MHz to 100 GHz")
    controlled = environment == "controlled"
    if mhz < 3:
        if controlled or mhz < 1.34:
            return 100.0
        return 180 / mhz**2
    if mhz < 30:
        return (900 if controlled else 180) / mhz**2
    if mhz < 300:
        return 1.0 if controlled else 0.2
    if mhz < 1500:
        return mhz / (300 if controlled else 1500)
    return 5.0 if controlled else 1.0


def limit_by_rules_mw_cm2(frequency_hz, environment, rules=UNITED_STATES):
    """The limit as plane-wave power density, mW/cm²: by 47 CFR 1.1310, by ICNIRP 2020, or the lower of the two.

    ICNIRP's reference levels of the electric field as E^2/377 ohm, occupational for "controlled" and general public for
    "uncontrolled"; above 400 MHz, where they are not stated here, STRICTER is the former alone.
    """
    if rules == UNITED_STATES:
        return limit_mw_cm2(frequency_hz, environment)
    if environment not in ICNIRP_WHO:
        raise ValueError(f"the environment is controlled or uncontrolled, not {environment}")
    if rules == STRICTER and frequency_hz > ICNIRP_UP_TO_HZ:
        return limit_mw_cm2(frequency_hz, environment)
    icnirp = icnirp_volts_per_m(frequency_hz, ICNIRP_WHO[environment]) ** 2 / FREE_SPACE_OHM / 10
    if rules == ICNIRP:
        return icnirp
    if rules == STRICTER:
        return min(icnirp, limit_mw_cm2(frequency_hz, environment))
    raise ValueError(f"the rules are {UNITED_STATES}, {ICNIRP} or {STRICTER}, not {rules}")


def average_w(peak_w, mode_factor, on_min, window_min):
    """Power averaged over the window, W: peak x mode factor x on-time/window. Source: Supplement B."""
    if peak_w < 0 or not 0 <= mode_factor <= 1 or not 0 <= on_min <= window_min or window_min <= 0:
        raise ValueError("power, mode factor and times must make sense")
    return peak_w * mode_factor * on_min / window_min


# Largest gain of a straight wire in free space, wherever it is fed: up to so many wavelengths, so many dBi (NEC-2).
LARGEST_GAIN_DBI = ((0.5, 2.2), (1.0, 3.8), (1.3, 5.3), (4.0, 7.1))
SHORT_WAVELENGTHS = 0.2  # whips below it have near fields that the far-field formula falls short of


def largest_gain_dbi(length_m, frequency_hz):
    """Largest gain that a straight wire or whip of this length can have, dBi; that of a dipole where length_m is None.

    Against the ground, the ground factor comes on top. ValueError above 4 wavelengths. Source: NEC-2, free space, wires
    of 0.1 to 4 wavelengths fed in the middle, at a third and at the end.
    """
    share = 0.5 if length_m is None else length_m / wavelength_m(frequency_hz)
    for longest, gain in LARGEST_GAIN_DBI:
        if share <= longest * 1.02:
            return gain
    raise ValueError("the gain of a wire of more than 4 wavelengths must be given")


def near_field_m(frequency_hz):
    """Edge of the reactive near field, wavelength/2 pi, m."""
    return wavelength_m(frequency_hz) / (2 * math.pi)


@dataclass(frozen=True)
class Distance:
    """Estimated distance, and whether it lies where the formula does not hold."""

    metres: float
    limit_mw_cm2: float
    near_field_m: float

    @property
    def inside_near_field(self):
        """True: never show the figure as a safe distance; advise keeping people well beyond near_field_m."""
        return self.metres < self.near_field_m


def distance(average_power_w, gain_dbi, frequency_hz, environment, ground_factor=GROUND_EPA, rules=UNITED_STATES):
    """Distance at which the far-field power density meets the limit, m: sqrt(P G F/(4 pi S)).

    average_power_w: at the antenna, averaged as `average_w`; ground_factor 1, 2.56 or 4; rules as in
    `limit_by_rules_mw_cm2`. Not conservative near a short antenna on the lower bands: see Distance.inside_near_field.
    Source: OET Bulletin 65.
    """
    if average_power_w < 0 or ground_factor <= 0:
        raise ValueError("the power must not be negative and the ground factor positive")
    limit = limit_by_rules_mw_cm2(frequency_hz, environment, rules)
    eirp = average_power_w * 10 ** (gain_dbi / 10) * ground_factor
    return Distance(math.sqrt(eirp / (4 * math.pi * limit * 10)), limit, near_field_m(frequency_hz))


@dataclass(frozen=True)
class Reach:
    """How far people stay away on a band: the far-field figure, None where it is refused, and what to keep beyond.

    `beyond_m` is never below the edge of the near field, closer than which the formula says nothing.
    """

    formula_m: float | None
    beyond_m: float
    near_field_m: float
    inside_near_field: bool


def reach(
    average_power_w, gain_dbi, low_hz, high_hz, environment, *, is_short, ground_factor=GROUND_EPA,
    rules=UNITED_STATES,
):
    """The Reach on a band: the formula at the edge where it gives most, the near field at the edge where it is widest.

    is_short: a whip below 0.2 wavelengths; inside the near field of one the formula is not on the safe side (NEC-2 near
    fields: 2.8 m against 0.97 m for 100 W into 2.5 m on 7.1 MHz) and its figure is refused.
    """
    found = max(
        (distance(average_power_w, gain_dbi, hz, environment, ground_factor, rules) for hz in (low_hz, high_hz)),
        key=lambda one: one.metres,
    )
    near = near_field_m(low_hz)
    inside = found.metres < near
    return Reach(None if inside and is_short else found.metres, max(found.metres, near), near, inside)


@dataclass(frozen=True)
class Density:
    """Far-field strength at a distance, and its share of both limits in percent."""

    w_m2: float
    volts_per_m: float
    percent_controlled: float
    percent_uncontrolled: float


def density(average_power_w, gain_dbi, frequency_hz, distance_m, ground_factor=GROUND_EPA):
    """Power density and field at a distance, far-field formula. ValueError unless the distance is positive."""
    if distance_m <= 0:
        raise ValueError("the distance must be positive")
    w_m2 = average_power_w * 10 ** (gain_dbi / 10) * ground_factor / (4 * math.pi * distance_m**2)
    return Density(
        w_m2,
        math.sqrt(w_m2 * FREE_SPACE_OHM),
        *(100 * w_m2 / 10 / limit_mw_cm2(frequency_hz, who) for who in ("controlled", "uncontrolled")),
    )


def exempt_erp_w(frequency_hz, distance_m):
    """Power below which the evaluation is not required, W ERP; None closer than wavelength/2 pi.

    Source: 47 CFR 1.1307(b)(3)(i)(C), from memory; each coefficient equals the uncontrolled limit with ground factor 4
    within 0.3 %. Check the rule itself before relying on it.
    """
    mhz = frequency_hz / 1e6
    if not 0.3 <= mhz <= 100_000:
        raise ValueError(f"the rule is stated for {Numeral(0.3)} MHz to 100 GHz")
    if distance_m < near_field_m(frequency_hz):
        return None
    square = distance_m**2
    if mhz < 1.34:
        return 1920 * square
    if mhz < 30:
        return 3450 * square / mhz**2
    if mhz < 300:
        return 3.83 * square
    if mhz < 1500:
        return 0.0128 * square * mhz
    return 19.2 * square


def icnirp_volts_per_m(frequency_hz, who):
    """ICNIRP 2020 whole-body reference level, electric field averaged over 30 minutes, V/m (from memory).

    who: "occupational" or "general". ValueError outside 0.1 to 400 MHz. Source: Health Physics 118 (2020) 483.
    """
    mhz = frequency_hz / 1e6
    if who not in ("occupational", "general"):
        raise ValueError("who is occupational or general")
    if not 0.1 <= mhz <= 400:
        raise ValueError(f"stated here for {Numeral(0.1)} to 400 MHz")
    if mhz <= 30:
        return (660 if who == "occupational" else 300) / mhz**0.7
    return 61.0 if who == "occupational" else 27.7
