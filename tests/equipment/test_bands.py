"""The bands that gear and log share."""

import pytest

from equipment import bands
from outings.adif import tables


@pytest.mark.parametrize(
    ("frequency_hz", "band"),
    [
        # Source: Band table of ADIF 3.1.7; both edges count as inside.
        (7_000_000, "40m"), (7_300_000, "40m"), (7_300_001, None), (14_285_000, "20m"), (54_000_000, "6m"),
        (54_000_001, "5m"), (145_500_000, "2m"), (0, None),
    ],
)
def test_a_frequency_gives_its_band(frequency_hz, band):
    assert bands.band_at(frequency_hz) == band


def test_bands_are_apart_and_go_from_long_waves_to_short():
    edges = [edge for band in bands.BANDS for edge in (band.lower_hz, band.upper_hz)]
    assert edges == sorted(set(edges))


def test_bands_sort_by_their_place_not_by_their_letters():
    assert sorted(["2m", "20m", "40m", "odd"], key=bands.position) == ["40m", "20m", "2m", "odd"]


def test_the_bands_are_those_of_the_standard_that_the_log_reads_by():
    assert [(band.name, band.lower_hz, band.upper_hz) for band in bands.BANDS] == [
        (band.name, band.lower_hz, band.upper_hz) for band in tables.BANDS
    ]


def test_every_mode_to_choose_from_is_a_mode_or_submode_of_the_standard():
    assert set(bands.MODES) <= {*tables.MODES, *tables.MODE_OF_SUBMODE}
