"""The amateur bands and their edges, and the modes that a choice begins with; pure, shared by gear and outings.

Source: the Band and Mode tables of ADIF 3.1.7 (2026-03-22), edges in Hz. Edges count as inside. A national licence
may allow less than a band's edges; the tables name bands, they do not permit anything.
"""

from dataclasses import dataclass


@dataclass(frozen=True)
class Band:
    """A band by its name, with its lowest and highest frequency."""

    name: str
    lower_hz: int
    upper_hz: int


BANDS = (
    Band("2190m", 135_700, 137_800),
    Band("630m", 472_000, 479_000),
    Band("560m", 501_000, 504_000),
    Band("160m", 1_800_000, 2_000_000),
    Band("80m", 3_500_000, 4_000_000),
    Band("60m", 5_060_000, 5_450_000),
    Band("40m", 7_000_000, 7_300_000),
    Band("30m", 10_100_000, 10_150_000),
    Band("20m", 14_000_000, 14_350_000),
    Band("17m", 18_068_000, 18_168_000),
    Band("15m", 21_000_000, 21_450_000),
    Band("12m", 24_890_000, 24_990_000),
    Band("10m", 28_000_000, 29_700_000),
    Band("8m", 40_000_000, 45_000_000),
    Band("6m", 50_000_000, 54_000_000),
    Band("5m", 54_000_001, 69_900_000),
    Band("4m", 70_000_000, 71_000_000),
    Band("2m", 144_000_000, 148_000_000),
    Band("1.25m", 222_000_000, 225_000_000),
    Band("70cm", 420_000_000, 450_000_000),
    Band("33cm", 902_000_000, 928_000_000),
    Band("23cm", 1_240_000_000, 1_300_000_000),
    Band("13cm", 2_300_000_000, 2_450_000_000),
    Band("9cm", 3_300_000_000, 3_500_000_000),
    Band("6cm", 5_650_000_000, 5_925_000_000),
    Band("3cm", 10_000_000_000, 10_500_000_000),
    Band("1.25cm", 24_000_000_000, 24_250_000_000),
    Band("6mm", 47_000_000_000, 47_200_000_000),
    Band("4mm", 75_500_000_000, 81_000_000_000),
    Band("2.5mm", 119_980_000_000, 123_000_000_000),
    Band("2mm", 134_000_000_000, 149_000_000_000),
    Band("1mm", 241_000_000_000, 250_000_000_000),
    Band("submm", 300_000_000_000, 7_500_000_000_000),
)

NAMES = tuple(band.name for band in BANDS)

# What a choice of modes begins with; FT4 is a submode of MFSK in the standard, and people say FT4.
MODES = ("CW", "SSB", "FM", "AM", "FT8", "FT4", "RTTY", "PSK", "JS8", "DIGITALVOICE", "SSTV")


def band_at(frequency_hz):
    """The name of the band that a frequency lies in, edges included; None between the bands."""
    return next((band.name for band in BANDS if band.lower_hz <= frequency_hz <= band.upper_hz), None)


def named(name):
    """The Band of a name; None where there is none."""
    return next((band for band in BANDS if band.name == name), None)


def position(name):
    """Where a band stands from long waves to short; unknown names stand last."""
    return NAMES.index(name) if name in NAMES else len(NAMES)


def edges(name):
    """(lowest, highest) frequency of a band, Hz. KeyError for a name that is none."""
    if name not in NAMES:
        raise KeyError(name)
    band = BANDS[NAMES.index(name)]
    return band.lower_hz, band.upper_hz
