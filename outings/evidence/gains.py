"""Contacts for what was spent: per watt-hour, per kilogram carried, and per minute with set-up counted in.

The estimator is that of `comparison`: what was spent stands where the hours on the air stand, so like is compared with
like, bursts are allowed for, and the intervals hold as they do for rates.
"""

import math
from dataclasses import dataclass, replace

from equipment.numerals import Numeral

from . import comparison
from .design import listed

# Share of the transmitting time at full current. Voice 0.2 to 0.4 without and 0.4 to 0.5 with strong compression, Morse
# 0.4 to 0.5. Common practice, no source.
KEY_DOWN = {"voice": 0.3, "Morse": 0.45, "steady": 1.0, "slots": 1.0}
# Share of the time on the air spent transmitting. Common practice, no source; slots: 12.64 s of every second slot of
# 15 s, S. Franke, B. Somerville, J. Taylor, QEX July/August 2020.
TRANSMITTING = {"calling": 0.4, "answering": 0.2, "both": 0.3, "": 0.3}
IN_SLOTS = 12.64 / 30


@dataclass(frozen=True)
class Gain:
    """A measure: its key, what one unit is called, and what its rate is in words."""

    key: str
    per: str
    words: str


GAINS = {
    "energy": Gain("energy", "watt-hour", "contacts per watt-hour"),
    "weight": Gain("weight", "hour and kilogram", "contacts per hour on the air and kilogram carried"),
    "setup": Gain("setup", "minute with set-up", "contacts per minute, set-up and take-down counted in"),
}


def keying(mode, family):
    """How a mode keys the transmitter: "voice", "Morse", "slots" (FT8, FT4) or "steady" (FM, other typed modes)."""
    if mode in ("FT8", "FT4"):
        return "slots"
    if family == "CW":
        return "Morse"
    return "voice" if mode in ("SSB", "AM", "USB", "LSB") else "steady"


def energy_wh(on_air_h, volts, receive_a, transmit_a, keyed, calling=""):
    """Watt-hours drawn by a radio: V T {f [k Itx + (1 - k) Irx] + (1 - f) Irx}.

    Parameters: hours on the air, supply voltage, currents on receive and at full output, `keyed` as `keying` says,
    `calling` "calling", "answering", "both" or "" for not noted.
    Returns Wh. ValueError unless voltage, hours and the transmit current are positive.
    Validity: a fair guess without measured ampere-hours, 30 % either way; it matters little where the same guess stands
    on both sides. The idle transmit current of a large radio is not in it.
    """
    if min(on_air_h, volts, transmit_a) <= 0 or receive_a < 0:
        raise ValueError("hours, voltage and transmit current must be positive")
    sending = IN_SLOTS if keyed == "slots" else TRANSMITTING[calling]
    down = KEY_DOWN[keyed]
    talking = down * transmit_a + (1 - down) * receive_a
    return volts * on_air_h * (sending * talking + (1 - sending) * receive_a)


def weight_h(on_air_h, kg):
    """Kilogram-hours; ValueError unless both are positive."""
    if min(on_air_h, kg) <= 0:
        raise ValueError("hours and weight must be positive")
    return on_air_h * kg


def with_setup_min(on_air_h, setup_min, share=1.0):
    """Minutes on the air with the share of set-up and take-down that falls to this stretch.

    Set up once and used for two hours costs less than set up once and used for ten minutes, so the minutes of set-up
    are shared out by time on the air. ValueError unless the hours are positive and the rest not negative.
    """
    if on_air_h <= 0 or min(setup_min, share) < 0:
        raise ValueError("hours must be positive and set-up not negative")
    return 60 * on_air_h + share * setup_min


def compare_gains(observations, gain, *, seed=0, confidence=0.95, also_held=()):
    """Compare contacts per unit spent; as `comparison.compare`, with `on_air_h` of each observation what was spent.

    gain: a key of GAINS. Rows' on_air_h and rate_per_h are in that unit; `more_hours_needed` is None, since hours are
    not what is counted here. Raises as `comparison.compare`.
    """
    named = GAINS[gain]
    found = comparison.compare(observations, seed=seed, confidence=confidence, also_held=also_held)
    return replace(found, verdict=_verdict(found, named, confidence), more_hours_needed=None)


def _verdict(found, named, confidence):
    """The plain sentence."""
    told = [row for row in found.arrangements if row.ratio_low is not None]
    if len(told) < 2:
        return found.verdict
    claims = [
        f"{row.arrangement} makes {_ratio(row)} times the {named.words} of {found.reference}"
        for row in told
        if row.arrangement != found.reference and row.ratio is not None and row.p_holm is not None
        and row.p_holm < 1 - confidence
    ]
    if claims:
        held = f", with {listed(found.held_fixed)} held fixed" if found.held_fixed else ""
        return f"{'; '.join(claims)}{held}."
    return f"The data cannot tell {told[0].arrangement} from {told[1].arrangement} by {named.words}."


def _ratio(row):
    high = "more" if row.ratio_high is None or not math.isfinite(row.ratio_high) else f"{Numeral(row.ratio_high):.2g}"
    return f"{Numeral(row.ratio):.2g} (between {Numeral(row.ratio_low):.2g} and {high})"
