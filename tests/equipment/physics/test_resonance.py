"""Where wires and whips should resonate by their lengths, held against NEC-2 (tests/data/checks/antennas.json)."""

import pytest

from equipment.physics import resonance
from tests.checks import cases


@pytest.mark.parametrize("case", cases("antennas", "T5-A"))
def test_a_half_wave_of_nec_lies_in_the_range_of_the_model(case):
    hz, radius = case.inputs["mhz"] * 1e6, case.inputs["wire_radius_mm"] / 1000
    for length in (case.expected["nec_m"], case.expected["handbook_m"]):
        found = resonance.half_wave(length, hz * 0.99, hz * 1.01, radius)
        assert found.multiple == 1 and found.low_hz <= hz * 1.001 and found.high_hz >= hz * 0.999
        assert found.high_hz / found.low_hz < 1.12


@pytest.mark.parametrize("case", cases("antennas", "T5-V"))
def test_a_whip_of_nec_lies_in_the_range_of_the_model(case):
    hz, radius = case.expected["nec_mhz"] * 1e6, case.inputs["radius_mm"] / 1000
    found = resonance.quarter_wave(case.inputs["length_m"], hz * 0.99, hz * 1.01, radius, (1.0, 1.0))
    assert found.low_hz <= hz * 1.001 and found.high_hz >= hz * 0.999 and found.high_hz / found.low_hz < 1.05


@pytest.mark.parametrize(
    ("length_m", "low_mhz", "high_mhz", "multiple"),
    # published long-wire formula 492 (n - 0.05)/f ft: 20.2 m is n half-waves at 7.05, 14.5, 21.9, 29.3 MHz
    [(20.2, 7.0, 7.3, 1), (20.2, 14.0, 14.35, 2), (20.2, 21.0, 21.45, 3), (20.2, 28.0, 29.7, 4)],
)
def test_an_end_fed_wire_resonates_on_every_multiple(length_m, low_mhz, high_mhz, multiple):
    found = resonance.end_fed(length_m, low_mhz * 1e6, high_mhz * 1e6)
    formula = (multiple - 0.05) * 149.896229e6 / length_m
    assert found.multiple == multiple and found.low_hz <= formula <= found.high_hz
    assert found.reaches(low_mhz * 1e6, high_mhz * 1e6)


def test_a_wire_fed_in_the_middle_skips_the_even_multiples():
    found = resonance.half_wave(20.2, 14.0e6, 14.35e6)
    assert found.multiple in (1, 3) and not found.reaches(14.0e6, 14.35e6)
    assert resonance.half_wave(20.2, 21.0e6, 21.45e6).multiple == 3


def test_a_length_that_is_none_is_refused():
    with pytest.raises(ValueError, match="positive"):
        resonance.half_wave(0, 7e6, 7.3e6)


@pytest.mark.parametrize(
    ("text", "ratio"), [("49:1", 49), ("1:49 on a ring", 49), ("9 : 1", 9), ("choke", None), ("", None), ("0:0", None),
                        ("1,5:1", 1.5)],
)
def test_the_ratio_of_a_transformer_is_read_off_its_text(text, ratio):
    assert resonance.transformer_ratio(text) == ratio
