"""Band or frequency, power and mode as they are typed."""

import pytest

from outings import dial


# Band edges: ADIF 3.1.7, Band enumeration.
@pytest.mark.parametrize(
    ("typed", "band", "frequency_hz"),
    [
        ("20m", "20m", None), ("20 M", "20m", None), ("70cm", "70cm", None),
        ("14285", "20m", 14_285_000), ("14.285", "20m", 14_285_000), ("14,285", "20m", 14_285_000),
        ("7032.5", "40m", 7_032_500), ("7.0325", "40m", 7_032_500), ("14285 kHz", "20m", 14_285_000),
        ("14285k", "20m", 14_285_000), ("145.5", "2m", 145_500_000), ("432.2 MHz", "70cm", 432_200_000),
        ("472", "630m", 472_000), ("1296.2", "23cm", 1_296_200_000), ("0.1365", "2190m", 136_500),
        ("10120", "30m", 10_120_000), ("10120.5", "3cm", 10_120_500_000), ("10.368 GHz", "3cm", 10_368_000_000),
        ("14350", "20m", 14_350_000), ("14.350001", "", 14_350_001),
        ("14400", "", 14_400_000), ("27.2", "", 27_200_000),
        ("14.2850001", "20m", 14_285_000),
    ],
)
def test_a_band_or_a_frequency_in_khz_or_mhz_is_read(typed, band, frequency_hz):
    assert dial.tuning(typed) == dial.Tuning(band, frequency_hz)


@pytest.mark.parametrize("typed", ["", "20 metres", "21m", "14.2.85", "0", "-14", "1e9"])
def test_what_is_neither_band_nor_frequency_is_refused(typed):
    with pytest.raises(dial.Unreadable):
        dial.tuning(typed)


@pytest.mark.parametrize(
    ("typed", "watts"),
    [
        ("5", 5), ("5W", 5), ("500 mW", 0.5), ("500mw", 0.5), ("0,1", 0.1), (".25 W", 0.25), ("1 kW", 1000), ("0", 0),
        ("3 mW", 0.003),
    ],
)
def test_power_is_read_down_to_milliwatts(typed, watts):
    assert dial.power_w(typed) == watts


@pytest.mark.parametrize("typed", ["", "five", "-5", "5 V", "11 kW", "50000", "5 MW"])
def test_what_is_no_power_is_refused(typed):
    with pytest.raises(dial.Unreadable):
        dial.power_w(typed)


# Modes and submodes: ADIF 3.1.7, Mode and Submode enumerations.
@pytest.mark.parametrize(
    ("typed", "mode"),
    [("ssb", ("SSB", "")), ("USB", ("SSB", "USB")), ("cw", ("CW", "")), ("ft8", ("FT8", "")), ("FT4", ("MFSK", "FT4")),
     ("psk31", ("PSK", "PSK31"))],
)
def test_a_mode_or_submode_is_read(typed, mode):
    assert dial.mode(typed) == mode


@pytest.mark.parametrize("typed", ["", "DATA", "voice", "20m"])
def test_what_is_no_mode_of_the_standard_is_refused(typed):
    with pytest.raises(dial.Unreadable):
        dial.mode(typed)


def test_the_usual_report_follows_the_mode():
    assert dial.usual_report("SSB", "USB") == dial.usual_report("FM") == "59"
    assert dial.usual_report("CW") == dial.usual_report("RTTY") == dial.usual_report("PSK", "PSK31") == "599"
    assert dial.usual_report("FT8") == dial.usual_report("MFSK", "FT4") == ""


@pytest.mark.parametrize("text", ["14.285", "7.0325", "14.074123", "0.472", "10368.200"])
def test_a_frequency_reads_back_as_it_was_written(text):
    typed = dial.tuning(f"{text} MHz").frequency_hz
    assert dial.frequency_text(typed) == text


def test_a_power_reads_back_as_it_was_written():
    for watts in (0, 0.003, 0.25, 0.5, 5, 99.5, 1500):
        assert dial.power_w(dial.power_text(watts)) == watts
