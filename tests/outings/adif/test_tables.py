"""The tables of the standard: their sizes as published, and what is looked up in them."""

import pytest

from outings.adif import tables

# Source of every figure and value here: ADIF 3.1.7, the named table.


def test_every_table_is_as_long_as_the_standards():
    assert len(tables.BANDS) == 33
    assert len(tables.MODES) == 49
    assert len(tables.IMPORT_ONLY_MODES) == 42
    assert sum(map(len, tables.SUBMODES.values())) == 197
    assert len(tables.FIELDS) == 186
    assert len(tables.TYPES) == 28
    assert len(tables.entities()) == 403
    assert len(tables.entities()) - len(tables.current_entities()) == 62


@pytest.mark.parametrize(("frequency_hz", "band"), [
    (135_700, "2190m"), (137_800, "2190m"), (7_000_000, "40m"), (7_300_000, "40m"), (7_300_001, ""),
    (14_285_000, "20m"), (54_000_000, "6m"), (54_000_001, "5m"), (432_200_000, "70cm"), (0, ""), (100_000_000, ""),
])
def test_a_band_is_found_by_frequency_with_both_edges_inside(frequency_hz, band):
    assert tables.band_of(frequency_hz) == band


def test_every_edge_of_every_band_lies_in_its_band():
    for band in tables.BANDS:
        assert tables.band_of(band.lower_hz) == band.name
        assert tables.band_of(band.upper_hz) == band.name
        assert tables.band_holds(band.name, band.lower_hz)
        assert not tables.band_holds(band.name, band.lower_hz - 1)


@pytest.mark.parametrize(("text", "band"), [("20M", "20m"), (" 70Cm ", "70cm"), ("1.25CM", "1.25cm"), ("21m", "")])
def test_a_band_is_named_in_any_letter_case(text, band):
    assert tables.band_named(text) == band


@pytest.mark.parametrize(("text", "found"), [
    ("ssb", ("SSB", "")), ("USB", ("SSB", "USB")), ("ft4", ("MFSK", "FT4")), ("FT8", ("FT8", "")),
    ("PSK31", ("PSK", "PSK31")), ("C4FM", ("DIGITALVOICE", "C4FM")), ("VARA HF", ("DYNAMIC", "VARA HF")),
    ("MFSK128", ("MFSK", "MFSK128")), ("PHONE", None), ("DATA", None), ("", None),
])
def test_a_mode_is_named_by_itself_or_by_its_submode(text, found):
    assert tables.mode_named(text) == found


@pytest.mark.parametrize(("mode", "submode", "family"), [
    ("SSB", "USB", "PHONE"), ("FM", "", "PHONE"), ("DIGITALVOICE", "DMR", "PHONE"), ("DSTAR", "", "PHONE"),
    ("CW", "", "CW"), ("PCW", "", "CW"), ("MFSK", "FT4", "DIGITAL"), ("RTTY", "", "DIGITAL"), ("USB", "", "PHONE"),
    ("", "LSB", "PHONE"), ("NOSUCH", "", "DIGITAL"), ("", "", ""),
])
def test_modes_fall_into_three_families(mode, submode, family):
    assert tables.mode_family(mode, submode) == family


def test_every_import_only_mode_leads_to_a_mode_that_may_be_exported():
    for mode, submode in tables.IMPORT_ONLY_MODES.values():
        assert mode in tables.MODES
        assert submode in tables.SUBMODES[mode]


def test_subdivisions_belong_to_their_entity():
    assert tables.subdivisions(291)["MA"] == "Massachusetts"
    assert "MA" not in tables.subdivisions(1)
    assert tables.subdivisions(9999) == {}
