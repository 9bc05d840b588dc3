"""Exposure held against 47 CFR 1.1310 and OET Bulletin 65 (tests/data/checks/exposure.json)."""

import pytest

from equipment.physics import exposure
from tests.checks import cases, holds


@pytest.mark.parametrize("case", cases("exposure", "T6-P", "T6-A"))
def test_distance_at_which_the_limit_is_met(case):
    at = case.inputs
    found = exposure.distance(
        at["watts"] * at["duty"], at["dbi"], at["mhz"] * 1e6, at["environment"], at["ground_factor"]
    )
    values = {"metres": found.metres, "feet": found.metres / 0.3048, "limit_mw_cm2": found.limit_mw_cm2}
    holds(case, values)


@pytest.mark.parametrize("case", cases("exposure", "T6-S"))
def test_power_density(case):
    at = case.inputs
    found = exposure.density(at["watts"], at["dbi"], at["mhz"] * 1e6, at["metres"], at["ground_factor"])
    holds(case, {
        "w_m2": found.w_m2, "mw_cm2": found.w_m2 / 10, "volts_per_m": found.volts_per_m,
        "percent_controlled": found.percent_controlled, "percent_uncontrolled": found.percent_uncontrolled,
    })


@pytest.mark.parametrize("case", cases("exposure", "T6-D"))
def test_average_power(case):
    at = case.inputs
    average = exposure.average_w(at["watts"], at["mode_factor"], at["on_minutes"], at["window_minutes"])
    holds(case, {"average_watts": average})


@pytest.mark.parametrize("case", cases("exposure", "T6-X"))
def test_exemption_by_power_and_distance(case):
    erp = exposure.exempt_erp_w(case.inputs["mhz"] * 1e6, case.inputs["metres"])
    holds(case, {"erp_watts": erp, "eirp_watts": None if erp is None else erp * 1.64})


@pytest.mark.parametrize("case", cases("exposure", "T6-I"))
def test_icnirp_reference_levels(case):
    holds(case, {"volts_per_m": exposure.icnirp_volts_per_m(case.inputs["mhz"] * 1e6, case.inputs["who"])})


@pytest.mark.parametrize("case", cases("exposure", "T6-N"))
def test_edge_of_the_near_field(case):
    boundary = exposure.near_field_m(case.inputs["mhz"] * 1e6)
    holds(case, {"boundary_m": boundary, "inside": case.inputs["metres"] < boundary})


def test_a_distance_inside_the_near_field_says_so():
    """With 100 W on 7.1 MHz the far-field formula says under a metre where NEC-2's near field says 2.8 m."""
    found = exposure.distance(100, 2.2, 7.1e6, "uncontrolled")
    assert found.metres < 1 and found.inside_near_field


@pytest.mark.parametrize(
    ("arguments", "word"),
    [((100, 2, 7e6, "public"), "controlled or uncontrolled"), ((100, 2, 1e3, "controlled"), "0.3 MHz"),
     ((-1, 2, 7e6, "controlled"), "negative")],
)
def test_senseless_values_are_refused(arguments, word):
    with pytest.raises(ValueError, match=word):
        exposure.distance(*arguments)
