"""Coaxial lines: matched loss, loss by SWR, SWR at either end, a measurement moved to the feedpoint."""

import cmath
import math
import re
from dataclasses import dataclass

from equipment.numerals import Numeral

from . import reflection
from .waves import LIGHT_M_S

FOOT_100_M = 30.48
MOST_LOSS_DB = 300.0


@dataclass(frozen=True)
class LineType:
    """Loss of a line in dB per 100 ft, k1 sqrt(f) + k2 f with f in MHz, and its velocity factor."""

    name: str
    k1: float
    k2: float
    velocity_factor: float


# Fitted to the corrected cable table of a published licence manual (30 and 150 MHz); RG-316 from memory (8.3 dB at
# 100 MHz, 28.5 dB at 1 GHz per 100 ft). Makers differ by 10 to 20 % for the same type number.
LINE_TYPES = {
    line.name: line
    for line in (
        LineType("RG-8X", 0.34811, 0.001777, 0.8),
        LineType("RG-58", 0.4439, 0.001289, 0.66),
        LineType("RG-174", 0.8257, 0.001249, 0.66),
        LineType("RG-213", 0.18958, 0.001387, 0.66),
        LineType("RG-316", 0.79705, 0.003295, 0.695),
    )
}


def line_type(text):
    """The LineType that a text on a cable names (RG-58, RG58 C/U, rg 58); None where none is known.

    Letters behind the number are a maker's variants of the same cable, except 8X, which is another one than 8.
    """
    found = re.search(r"RG\W{0,2}([0-9]{1,4}X?)", text[:200].upper())
    return LINE_TYPES.get(f"RG-{found[1]}") if found else None


def of_data_sheet(points, name="data sheet"):
    """A LineType from one or two points of a data sheet, ((Hz, dB per 100 m), ...).

    One point is all skin effect, k1 sqrt(f), and may be used near its frequency; two give k1 and k2 of
    k1 sqrt(f) + k2 f. ValueError for no point, more than two, twice one frequency, or a loss that no line has: none,
    or one that would become negative. The velocity factor is not known and stands as 1.
    """
    points = sorted((hz / 1e6, db / 100 * FOOT_100_M) for hz, db in points)
    if not 1 <= len(points) <= 2 or any(mhz <= 0 or db <= 0 for mhz, db in points):
        raise ValueError("a data sheet gives one or two points, each with a frequency and a loss")
    if len(points) == 1:
        ((mhz, db),) = points
        return LineType(name, db / math.sqrt(mhz), 0.0, 1.0)
    (f1, db1), (f2, db2) = points
    if f1 == f2:
        raise ValueError("the two points of the data sheet have one frequency")
    # db/sqrt(f) = k1 + k2 sqrt(f) is a straight line in sqrt(f)
    y1, y2 = db1 / math.sqrt(f1), db2 / math.sqrt(f2)
    k2 = (y2 - y1) / (math.sqrt(f2) - math.sqrt(f1))
    k1 = y1 - k2 * math.sqrt(f1)
    if k1 < 0 or k2 < -0.1 * k1 / math.sqrt(f2):
        raise ValueError("no line has such losses: check both points of the data sheet")
    return LineType(name, k1, max(k2, 0.0), 1.0)


def matched_loss_db(line, frequency_hz, length_m):
    """Loss of a matched line, dB: (k1 sqrt(f) + k2 f) length/30.48 m."""
    if frequency_hz <= 0 or length_m < 0:
        raise ValueError("the frequency must be positive and the length not negative")
    mhz = frequency_hz / 1e6
    return (line.k1 * math.sqrt(mhz) + line.k2 * mhz) * length_m / FOOT_100_M


@dataclass(frozen=True)
class LineLoss:
    """What a line does: losses in dB, SWR at the antenna and at the radio (None where infinite)."""

    matched_db: float
    total_db: float
    swr_antenna: float | None
    swr_radio: float | None

    @property
    def extra_db(self):
        return self.total_db - self.matched_db


def loss(matched_db, gamma_antenna):
    """Total loss and SWR at both ends of a line of known matched loss.

    a = 10^(A/10), rho = |gamma| at the antenna: total 10 log[(a^2 - rho^2)/(a (1 - rho^2))], rho at the radio rho/a.
    Published in handbooks; identical with the exact line equation for a real line impedance. ValueError for
    |gamma| >= 1 or a negative loss.
    """
    rho = abs(gamma_antenna)
    if rho >= 1 or matched_db < 0:
        raise ValueError("a total reflection or a negative loss has no loss figure")
    a = 10 ** (matched_db / 10)
    total = 10 * math.log10((a * a - rho * rho) / (a * (1 - rho * rho)))
    swr_radio = reflection.of_gamma(complex(rho / a)).swr
    return LineLoss(matched_db, total, reflection.of_gamma(complex(rho)).swr, swr_radio)


def swr_at_antenna(swr_at_radio, matched_db):
    """SWR at the antenna from that read at the radio; None if impossible (more reflected than sent)."""
    rho = reflection.magnitude_of_swr(swr_at_radio) * 10 ** (matched_db / 10)
    return (1 + rho) / (1 - rho) if rho < 1 else None


def _loss_ratio(line, frequency_hz, length_m):
    """10^(A/10) of a line's matched loss A; ValueError beyond 300 dB, where nothing comes through."""
    loss_db = matched_loss_db(line, frequency_hz, length_m)
    if loss_db > MOST_LOSS_DB:
        raise ValueError(f"nothing comes through this line at {Numeral(frequency_hz / 1e6):.4g} MHz: check its length")
    return 10 ** (loss_db / 10)


def gamma_at_feedpoint(gamma_radio, line, frequency_hz, length_m):
    """Move a reflection measured at the radio's end to the feedpoint: gamma x 10^(A/10) x exp(+2 j beta l).

    ValueError where the result would exceed 1: the line is longer or lossier than stated. Line theory, real Z0.
    """
    a = _loss_ratio(line, frequency_hz, length_m)
    beta = 2 * math.pi * frequency_hz / (line.velocity_factor * LIGHT_M_S)
    gamma = gamma_radio * a * cmath.exp(2j * beta * length_m)
    if abs(gamma) > 1:
        raise ValueError("with this line more would come back at the feedpoint than was sent: check type and length")
    return gamma


def gamma_at_radio(gamma_feedpoint, line, frequency_hz, length_m):
    """A reflection at the feedpoint as it looks at the radio's end: gamma x 10^(-A/10) x exp(-2 j beta l)."""
    a = _loss_ratio(line, frequency_hz, length_m)
    beta = 2 * math.pi * frequency_hz / (line.velocity_factor * LIGHT_M_S)
    return gamma_feedpoint / a * cmath.exp(-2j * beta * length_m)


def delivered_w(watts, total_db):
    """Power that arrives at the antenna, W."""
    return watts * 10 ** (-total_db / 10)
