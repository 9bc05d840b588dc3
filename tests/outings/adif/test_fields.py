"""Values by their data type: legal and illegal ones, what they mean, and how they are written."""

import datetime

import pytest

from outings.adif import ascii, fields, normalise

# Source of every rule: ADIF 3.1.7, Data Types, Fields and Enumerations.


@pytest.mark.parametrize(("name", "value"), [
    ("QSO_DATE", "19300101"), ("QSO_DATE", "20240229"), ("TIME_ON", "2359"), ("TIME_ON", "235959"), ("FREQ", ".1357"),
    ("ALTITUDE", "-.5"), ("AGE", "120"), ("LAT", "N047 12.345"), ("MY_LON", "w180 00.000"), ("GRIDSQUARE", "jO62QM"),
    ("BAND", "70Cm"), ("PROP_MODE", "f2"), ("DXCC", "291"), ("SILENT_KEY", "y"), ("STX", "0"), ("COMMENT", "Zoë"),
    ("NOTES", "one\ntwo"), ("VUCC_GRIDS", "JO62,JO63"), ("SUBMODE", "anything"), ("ANT_AZ", "370"), ("CQZ", "040"),
])
def test_legal_values_have_no_fault(name, value):
    assert fields.fault(name, value) == ""


@pytest.mark.parametrize(("name", "value"), [
    ("QSO_DATE", "19291231"), ("QSO_DATE", "20230229"), ("QSO_DATE", "2023-02-28"), ("QSO_DATE", "٢٠٢٤٠١٠١"),
    ("TIME_ON", "2400"), ("TIME_ON", "12:30"), ("TIME_ON", "123"), ("FREQ", "14,285"), ("FREQ", "+14"), ("FREQ", "1e3"),
    ("AGE", "121"), ("LAT", "E047 12.345"), ("LAT", "N090 00.001"), ("LON", "W181 00.000"), ("LAT", "N47 12.345"),
    ("LAT", "N047 60.000"), ("GRIDSQUARE", "JO6"), ("GRIDSQUARE", "SO62"), ("BAND", "21m"), ("MODE", "PHONE"),
    ("DXCC", "9999"), ("SILENT_KEY", "X"), ("STX", "1.5"), ("COMMENT", "one\ntwo"), ("CQZ", "41"), ("CQZ", "0"),
])
def test_illegal_values_are_told_why(name, value):
    assert len(fields.fault(name, value)) > 5


def test_a_type_letter_must_agree_with_the_field():
    assert fields.fault("TX_PWR", "5", "Number") == ""
    assert "marked as" in fields.fault("TX_PWR", "5", "Date")


def test_frequencies_do_not_pass_through_binary_fractions():
    assert fields.hertz("14.287034") == 14_287_034
    assert fields.hertz("241000.000001") == 241_000_000_001
    assert fields.megahertz_text(14_285_000) == "14.285"
    assert fields.megahertz_text(7_000_000) == "7"
    assert all(fields.hertz(fields.megahertz_text(hz)) == hz for hz in (1, 135_700, 54_000_001, 300_000_000_000))


@pytest.mark.parametrize(("angle_deg", "axis", "text"), [
    (47.20575, "NS", "N047 12.345"), (-122.5, "EW", "W122 30.000"), (59.99999999, "NS", "N060 00.000"),
    (-0.99999999, "EW", "W001 00.000"), (-1e-9, "NS", "N000 00.000"), (90, "NS", "N090 00.000"),
    (-180, "EW", "W180 00.000"),
])
def test_locations_round_with_a_carry(angle_deg, axis, text):
    assert fields.location_text(angle_deg, axis) == text
    assert fields.degrees(text) == pytest.approx(angle_deg, abs=0.0005 / 60 + 1e-9)


def test_a_location_beyond_the_pole_is_refused():
    with pytest.raises(ValueError, match="pole"):
        fields.location_text(90.1, "NS")


@pytest.mark.parametrize(("amount", "text"), [
    (5.0, "5"), (0.00001, "0.00001"), (-20.25, "-20.25"), (100, "100"), (-0.0, "0"),
])
def test_numbers_are_written_without_exponents(amount, text):
    assert fields.number_text(amount) == text


def test_times_know_whether_they_have_seconds():
    assert fields.clock("1405") == (datetime.time(14, 5), False)
    assert fields.clock("140500") == (datetime.time(14, 5), True)


@pytest.mark.parametrize(("mode", "submode", "found"), [
    ("USB", "", ("SSB", "USB", "")), ("PSK31", "", ("PSK", "PSK31", "")), ("ft4", "", ("MFSK", "FT4", "")),
    ("MFSK", "FT4", ("MFSK", "FT4", "")), ("", "FT4", ("MFSK", "FT4", "")), ("SSB", "odd", ("SSB", "odd", "")),
])
def test_modes_are_put_right_where_that_is_safe(mode, submode, found):
    assert normalise.mode(mode, submode) == found


@pytest.mark.parametrize("mode", ["PHONE", "DATA", "nonsense"])
def test_modes_that_could_mean_several_are_not_guessed(mode):
    assert normalise.mode(mode, "")[0] == ""
    assert normalise.mode(mode, "")[2]


@pytest.mark.parametrize(("name", "value", "found"), [
    ("VE_PROV", "ON", [("STATE", "ON")]), ("GUEST_OP", "Q1ABC", [("OPERATOR", "Q1ABC")]),
    ("MODE", "psk31", [("MODE", "PSK"), ("SUBMODE", "PSK31")]), ("ANT_AZ", "370", [("ANT_AZ", "10")]),
    ("ANT_AZ", "-10.5", [("ANT_AZ", "349.5")]), ("ANT_EL", "100", [("ANT_EL", "80")]),
    ("ANT_EL", "-100", [("ANT_EL", "-80")]),
])
def test_import_only_fields_and_values_are_written_as_the_standard_says(name, value, found):
    assert normalise.exported(name, value) == found


@pytest.mark.parametrize(("text", "found"), [
    ("Zoë Brånå", "Zoe Brana"), ("Straße, Łódź", "Strasse, Lodz"), ("“x” – 5 Ω…", '"x" - 5 ohm...'), ("鉄塔", "??"),
    ("one\r\ntwo", "one\ntwo"), ("tab\there", "tab here"), ("plain", "plain"),
])
def test_the_nearest_ascii_is_found(text, found):
    assert ascii.nearest(text) == found
    assert ascii.is_plain(found)
