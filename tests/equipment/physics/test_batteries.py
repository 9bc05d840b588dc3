"""Packs held against published curves, closed forms, scipy and ngspice (tests/data/checks/batteries.json)."""

import math
from itertools import pairwise

import numpy as np
import pytest

from equipment.physics import battery, cell_curves, charging, dc_path, joining
from tests.checks import cases, holds

# Equilibrium table of two published cell models (PyBaMM sets Prada2013 and Chen2020), volts of the whole pack.
PERCENT = (0, 2, 5, 10, 15, 20, 25, 30, 35, 40, 45, 50, 55, 60, 65, 70, 75, 80, 85, 90, 95, 98, 99, 100)
IRON_PHOSPHATE_4 = (
    8.000, 9.840, 11.141, 11.912, 12.432, 12.674, 12.743, 12.823, 12.929, 13.010, 13.049, 13.064, 13.071, 13.075,
    13.080, 13.096, 13.170, 13.239, 13.253, 13.257, 13.266, 13.401, 13.660, 14.400,
)
NMC_3 = (
    7.500, 8.587, 9.328, 9.888, 10.302, 10.456, 10.586, 10.744, 10.887, 11.001, 11.116, 11.253, 11.395, 11.522,
    11.669, 11.844, 11.983, 12.126, 12.243, 12.290, 12.371, 12.493, 12.545, 12.600,
)


def pack_curve(cells=4, curve=cell_curves.IRON_PHOSPHATE):
    return lambda charge: cells * curve.cell_v(charge)


@pytest.mark.parametrize(
    ("curve", "cells", "table"),
    [(cell_curves.IRON_PHOSPHATE, 4, IRON_PHOSPHATE_4), (cell_curves.NMC, 3, NMC_3)],
    ids=["iron phosphate", "NMC"],
)
def test_cell_curves_reproduce_the_published_equilibrium_tables(curve, cells, table):
    for percent, volts in zip(PERCENT, table, strict=True):
        # the table prints millivolts of the pack; half of the last digit, and as much again for the fitted window
        assert cells * curve.cell_v(percent / 100) == pytest.approx(volts, abs=0.001)


@pytest.mark.parametrize(
    "curve", [cell_curves.IRON_PHOSPHATE, cell_curves.IRON_PHOSPHATE_CUSTOMARY, cell_curves.NMC, cell_curves.AGM]
)
def test_a_cell_curve_rises_and_its_inverse_returns_the_charge(curve):
    volts = [curve.cell_v(step / 200) for step in range(201)]
    assert all(a < b for a, b in pairwise(volts))
    for step in range(1, 200):
        assert curve.charge(volts[step]) == pytest.approx(step / 200, abs=1e-9)
    assert curve.charge(0.0) == 0 and curve.charge(9.9) == 1
    with pytest.raises(ValueError, match="between 0 and 1"):
        curve.cell_v(1.01)


@pytest.mark.parametrize("case", cases("batteries", "T4-A"))
def test_charge_of_an_iron_phosphate_pack_is_told_as_the_curve_has_it(case):
    low, middle, high = battery.charge_range(
        cell_curves.IRON_PHOSPHATE, case.inputs["volts"], 4, case.inputs["half_width_v"]
    )
    holds(case, {"low_pct": low, "mid_pct": middle, "high_pct": high})


@pytest.mark.parametrize("case", cases("batteries", "T4-N"))
def test_charge_of_an_nmc_pack(case):
    cells = case.inputs["cells"]
    holds(case, {"soc_pct": 100 * cell_curves.NMC.charge(case.inputs["volts"] / cells)})


@pytest.mark.parametrize("case", cases("batteries", "T4-P"))
def test_charge_of_a_rested_agm_battery(case):
    holds(case, {"soc_pct": 100 * cell_curves.AGM.charge(case.inputs["volts"] / 6)})


@pytest.mark.parametrize(
    ("volts", "low", "high"),
    [(12.80, 16, 32), (12.90, 18, 37), (13.00, 24, 48), (13.05, 29, 71), (13.10, 34, 74), (13.15, 39, 77),
     (13.20, 52, 94), (13.25, 67, 97), (13.30, 78, 98), (13.35, 88, 99), (13.40, 94, 99)],
)  # the honest range of both tables at ± 0.06 V, computed with PyBaMM's curve and the customary trade table
def test_the_told_range_covers_both_published_curves(volts, low, high):
    told = battery.state_of_charge("LiFePO4", 4, volts, half_width_v=0.06, rested_h=12)
    assert told.low_pct == pytest.approx(low, abs=1.5) and told.high_pct == pytest.approx(high, abs=1.5)
    assert told.low_pct <= told.middle_pct <= told.high_pct


def test_the_plateau_says_that_two_curves_disagree():
    told = battery.state_of_charge("LiFePO4", 4, 13.10, rested_h=12)
    assert any("disagree" in warning for warning in told.warnings)
    assert not battery.state_of_charge("LiFePO4", 4, 13.40, rested_h=12).warnings


@pytest.mark.parametrize(
    ("more", "word"), [({"temperature_c": -5, "rested_h": 12}, "cold"), ({"rested_h": 0.2}, "rested"), ({}, "rested")]
)
def test_cold_and_unrested_packs_are_warned_about(more, word):
    told = battery.state_of_charge("Li-ion", 3, 11.6, **more)
    assert any(word in warning for warning in told.warnings)


@pytest.mark.parametrize(
    ("chemistry", "cells", "volts"),
    [("NiMH", 10, 12.5), ("LiFePO4", 4, 24.0), ("Li-ion", 0, 12.0), ("lead-acid", 6, 3)],
)
def test_charge_is_refused_where_voltage_says_nothing(chemistry, cells, volts):
    with pytest.raises(ValueError, match=r"\w"):
        battery.state_of_charge(chemistry, cells, volts)


def test_counting_ampere_hours_narrows_the_range():
    low, middle, high = battery.charge_after(10, 4, share_error=0.05)
    assert [low, middle, high] == pytest.approx([58, 60, 62])
    with pytest.raises(ValueError):
        battery.charge_after(0, 1)


@pytest.mark.parametrize("case", cases("batteries", "T4-B"))
def test_run_time(case):
    at = case.inputs
    average = battery.average_current_a(
        at["receive_a"], at["transmit_a"], at["transmit_time_fraction"], at["key_down_fraction"]
    )
    hours = battery.runtime_h(at["capacity_ah"], at["usable_fraction"], average)
    holds(case, {"average_a": average, "hours": hours})


def test_slotted_digital_share_is_that_of_the_published_protocol():
    assert pytest.approx(0.4213, abs=5e-5) == battery.SLOTTED_DIGITAL_SHARE


@pytest.mark.parametrize(("share", "down"), [(-0.1, 0.5), (0.5, 1.1)])
def test_run_time_refuses_shares_out_of_range(share, down):
    with pytest.raises(ValueError, match="between 0 and 1"):
        battery.average_current_a(0.3, 2, share, down)


@pytest.mark.parametrize("case", cases("batteries", "T4-C"))
def test_peukert(case):
    at = (case.inputs[name] for name in ("rated_ah", "rated_hours", "exponent", "amps"))
    at = tuple(at)
    holds(case, {"hours": battery.peukert_h(*at), "effective_ah": battery.peukert_ah(*at)})


def test_peukert_never_promises_more_than_the_rated_capacity():
    assert battery.peukert_ah(100, 20, 1.2, 1.0) == 100


@pytest.mark.parametrize("case", cases("batteries", "T4-D"))
def test_capacity_from_a_discharge_log(case):
    at = case.inputs
    test = battery.capacity_test(at["seconds"], at["volts"], at["amps"], at["cutoff_v"])
    assert test.reached_cutoff
    holds(case, {
        "ah": test.ah, "wh": test.wh, "seconds_to_cutoff": test.seconds,
        "percent_of_rated": 100 * test.ah / at["rated_ah"],
    })


def test_a_log_that_ends_early_says_so_and_bad_ones_are_refused():
    assert not battery.capacity_test([0, 3600], [13.2, 13.0], [2, 2], 11).reached_cutoff
    too_short, no_time, begins_empty = ([0], [13], [1]), ([0, 0], [13, 12], [1, 1]), ([0, 1], [10, 9], [1, 1])
    for seconds, volts, amps in (too_short, no_time, begins_empty, ([0, 1], [13], [1, 1])):
        with pytest.raises(ValueError):
            battery.capacity_test(seconds, volts, amps, 11)


@pytest.mark.parametrize("case", cases("batteries", "T4-E0"))
def test_resistance_from_a_load_step(case):
    at = (case.inputs[name] for name in ("v_light", "i_light", "v_heavy", "i_heavy", "sd_v", "sd_i"))
    ohm, error = battery.resistance_from_step(*at)
    holds(case, {"ohm": ohm, "se_ohm": error})


@pytest.mark.parametrize("case", cases("batteries", "T4-EF"))
def test_resistance_from_several_loads(case):
    ocv, ohm, error = battery.resistance_from_points(case.inputs["amps"], case.inputs["volts"])
    holds(case, {"ocv": ocv, "ohm": ohm, "se_ohm": error})


def test_a_load_step_that_contradicts_itself_is_refused():
    with pytest.raises(ValueError, match="fall"):
        battery.resistance_from_step(13.0, 0.3, 13.1, 5)
    with pytest.raises(ValueError, match="larger"):
        battery.resistance_from_step(13.0, 5, 12.5, 5)


@pytest.mark.parametrize("case", cases("batteries", "T4-F0"))
def test_charge_time_on_the_published_curve(case):
    at = case.inputs
    found = charging.charge_time(
        pack_curve(), at["ah"], at["ohm"], at["amps"], at["volts"], at["start_soc"], at["end_amps"]
    )
    holds(case, {
        "cc_hours": found.constant_current_h, "soc_at_cv": found.charge_at_limit, "cv_hours": found.constant_voltage_h,
        "total_hours": found.total_h, "end_soc": found.end_charge,
    })


@pytest.mark.parametrize("case", cases("batteries", "T4-FL"))
def test_charge_time_on_a_straight_curve(case):
    at = case.inputs
    names = ("ocv_empty", "ocv_span", "ah", "ohm", "amps", "volts")
    found = charging.straight_line_time(*(at[name] for name in names), 0.0, at["end_amps"])
    holds(case, dict(zip(("cc_hours", "cv_hours", "tau_hours"), found, strict=True)))


def test_both_ways_to_the_charge_time_agree_where_the_curve_is_straight():
    found = charging.charge_time(lambda s: 12 + 2.5 * s, 10, 0.1, 4, 14.4, 0.2, 0.4)
    hours = charging.straight_line_time(12, 2.5, 10, 0.1, 4, 14.4, 0.2, 0.4)
    assert (found.constant_current_h, found.constant_voltage_h) == pytest.approx(hours[:2], rel=1e-6)


def test_charging_refuses_an_end_current_above_the_charging_current():
    with pytest.raises(ValueError, match="end current"):
        charging.charge_time(pack_curve(), 10, 0.1, 2, 14.4, 0.2, 3)


@pytest.mark.parametrize("case", cases("batteries", "T4-G0"))
def test_voltage_under_load(case):
    at = case.inputs
    volts = battery.terminal_v(at["ocv"], at["ohm_total"], at["amps"])
    largest = battery.largest_current_a(at["ocv"], at["ohm_total"], at["minimum_v"])
    holds(case, {"volts": volts, "margin_v": volts - at["minimum_v"], "max_amps": largest})


@pytest.mark.parametrize("case", cases("batteries", "T4-GP"))
def test_constant_power_load(case):
    found = battery.constant_power_load(case.inputs["ocv"], case.inputs["ohm_total"], case.inputs["watts"])
    holds(case, dict(zip(("volts", "amps"), found, strict=True)))


def test_a_pack_that_cannot_deliver_the_power_gives_none():
    assert battery.constant_power_load(13.2, 0.5, 100) is None


@pytest.mark.parametrize("case", cases("batteries", "T4-H"))
def test_wire_by_gauge(case):
    at = case.inputs
    conductor = dc_path.wire(at["awg"])
    drop = dc_path.drop_v(conductor, at["one_way_m"], at["amps"])
    holds(case, {
        "diameter_mm": conductor.diameter_mm, "area_mm2": conductor.area_mm2, "ohm_per_km": 1000 * conductor.ohm_per_m,
        "drop_v": drop, "loss_w": drop * at["amps"],
    })


def test_fuse_protects_the_wire_or_there_is_none():
    assert dc_path.fuse_a(8, 20) == 10  # 1.25 x 8 A; common practice, no source
    assert dc_path.fuse_a(20, 15) is None
    with pytest.raises(ValueError):
        dc_path.fuse_a(0, 15)
    with pytest.raises(ValueError, match="gauge"):
        dc_path.wire(60)


@pytest.mark.parametrize("case", cases("batteries", "T4-I"))
def test_two_packs_joined(case):
    at = case.inputs
    pair = joining.joined(
        at["v1"], at["v2"], at["r1"], at["r2"], at["r_leads"], at["ah_per_volt_1"], at["ah_per_volt_2"]
    )
    holds(case, {
        "first_a": pair.first_a, "tau_hours": pair.tau_h, "a_after": pair.current_a(at["hours"]),
        "ah_moved": pair.moved_ah, "final_v": pair.final_v,
    })


@pytest.mark.parametrize("case", cases("batteries", "T4-K"))
def test_a_charger_shared_by_two_packs(case):
    at = (case.inputs[name] for name in ("e1", "e2", "r1", "r2", "r_leads", "charger_a"))
    share = joining.charger_share(*at)
    holds(case, {"i1": share.i1, "i2": share.i2, "v1": share.v1, "v2": share.v2})


@pytest.mark.parametrize("case", cases("batteries", "T4-J"))
def test_resistances_from_the_worked_case(case):
    at = (case.inputs[name] for name in ("v1", "v2", "first_a", "charger_a", "i2", "v2_terminal"))
    loop, r1, r2, leads = joining.resistances_from_readings(*at)
    holds(case, {"r_loop": loop, "r1": r1, "r2": r2, "r_leads": leads})


@pytest.mark.parametrize(
    ("leads", "i2", "i2_residual", "v2", "v2_residual"),
    [(0.0, 3.05, 0.22, 13.64, 0.04), (0.016, 2.93, 0.10, 13.596, -0.004)],
)
def test_the_worked_case_is_predicted_from_its_first_reading_with_these_residuals(
    leads, i2, i2_residual, v2, v2_residual
):
    """Two equal packs at 13.40 and 13.17 V, 0.75 A when joined; observed at 4.6 A: 2.83 A and 13.6 V.

    Common practice, no source: readings of one charge. Only the first reading is used to predict the others.
    """
    each = (0.23 / 0.75 - leads) / 2
    share = joining.charger_share(13.40, 13.17, each, each, leads, 4.6)
    assert share.i2 == pytest.approx(i2, abs=0.006) and share.i2 - 2.83 == pytest.approx(i2_residual, abs=0.006)
    assert share.v2 == pytest.approx(v2, abs=0.005) and share.v2 - 13.6 == pytest.approx(v2_residual, abs=0.005)


@pytest.mark.parametrize(("ah", "after"), [(6, 0.26), (10, 0.34), (20, 0.46)])  # computed with PyBaMM's curve
def test_joined_packs_of_the_worked_case_follow_their_curve(ah, after):
    curve = pack_curve()
    charge1, charge2 = (cell_curves.IRON_PHOSPHATE.charge(v / 4) for v in (13.40, 13.17))
    moments = joining.over_time(curve, curve, ah, ah, charge1, charge2, 0.139, 0.152, 0.016, 4.0, points=16)
    assert moments[0].i2 == pytest.approx(0.75, abs=0.01)
    assert moments[1].i2 == pytest.approx(after, abs=0.02)
    assert 0.04 <= moments[-1].i2 / moments[0].i2 <= 0.14
    moved = ah * (moments[-1].charge2 - charge2)
    assert moved == pytest.approx(ah * (charge1 - moments[-1].charge1), rel=1e-6)


def test_joining_over_time_agrees_with_scipys_integrator():
    from scipy.integrate import solve_ivp

    curve = pack_curve()
    ah1, ah2, r1, r2, leads = 10, 6, 0.10, 0.12, 0.02

    def slopes(_, state):
        i2 = (curve(state[0]) - curve(state[1])) / (r1 + r2 + leads)
        return [-i2 / ah1, i2 / ah2]

    reference = solve_ivp(slopes, (0, 3), [0.98, 0.55], method="LSODA", rtol=1e-9, atol=1e-12, dense_output=True)
    for moment in joining.over_time(curve, curve, ah1, ah2, 0.98, 0.55, r1, r2, leads, 3.0, points=30):
        first, second = reference.sol(moment.hours)
        assert (moment.charge1, moment.charge2) == pytest.approx((first, second), abs=1e-5)


def test_charger_on_joined_packs_agrees_with_scipy_and_ends_full():
    from scipy.integrate import solve_ivp

    curve = pack_curve()
    ah, r1, r2, leads, amps, limit = 6, 0.139, 0.152, 0.016, 4.6, 14.4

    def currents(s1, s2):
        e1, e2 = curve(min(s1, 1)), curve(min(s2, 1))
        i2 = (e1 - e2 + amps * r1) / (r1 + r2 + leads)
        i1 = amps - i2
        if e1 + i1 * r1 > limit:
            i1, i2 = (limit - e1) / r1, (limit - e2) / (r2 + leads)
        return i1, i2

    def slopes(_, state):
        return [current / ah for current in currents(*state)]

    reference = solve_ivp(slopes, (0, 2.0), [0.97, 0.75], method="LSODA", rtol=1e-8, atol=1e-10, max_step=0.002,
                          dense_output=True)
    moments = joining.over_time(
        curve, curve, ah, ah, 0.97, 0.75, r1, r2, leads, 2.0, charger_a=amps, limit_v=limit, points=40
    )
    for moment in moments:
        first, second = reference.sol(moment.hours)
        assert (moment.charge1, moment.charge2) == pytest.approx((first, second), abs=1e-3)
    assert moments[-1].v1 == pytest.approx(14.4, abs=0.01) and moments[-1].i1 + moments[-1].i2 < 0.1


@pytest.mark.parametrize(
    ("change", "word"),
    [({"chemistry_2": "Li-ion"}, "different voltages"), ({"cells_2": 3}, "cells in series"),
     ({"v2": 12.9}, "rule of thumb"), ({"v2": 13.1, "charge_limit_2_a": 0.5}, "charge limit"),
     ({"v2": 13.1, "discharge_limit_1_a": 0.5}, "discharge limit")],
)
def test_joining_is_refused_with_its_reason(change, word):
    packs = {"chemistry_1": "LiFePO4", "chemistry_2": "LiFePO4", "cells_1": 4, "cells_2": 4, "v1": 13.3, "v2": 13.28,
             "r1": 0.1, "r2": 0.1, "r_leads": 0.02}
    assert joining.may_join(**packs).may_join
    advice = joining.may_join(**{**packs, **change})
    assert not advice.may_join and any(word in reason for reason in advice.reasons)


def test_unknown_limits_are_named_not_passed_over():
    advice = joining.may_join("LiFePO4", "LiFePO4", 4, 4, 13.3, 13.28, 0.1, 0.1, 0.02, charge_limit_2_a=5)
    assert advice.may_join and advice.unchecked == ("The discharge limit of pack 1 is not known.",)


@pytest.mark.parametrize("case", cases("batteries", "T4-L"))
def test_energy(case):
    at = case.inputs
    wh = battery.energy_wh(at["ah"], at["nominal_v"])
    usable = battery.energy_wh(at["ah"], at["nominal_v"], at["usable_fraction"])
    per_kg = round(wh / at["kg"], 3)  # the value is printed to three decimals, coarser than its own tolerance
    holds(case, {"wh": wh, "usable_wh": usable, "wh_per_kg": per_kg})


def test_run_time_agrees_with_a_random_on_off_simulation():
    """A seeded simulation that shares no formula: transmit overs of random length, key down at random within them."""
    rng = np.random.default_rng(11)
    seconds = 400_000
    transmitting = np.zeros(seconds, bool)
    at = 0
    while at < seconds:
        listening, talking = rng.exponential(45), rng.exponential(15)
        transmitting[int(at + listening):int(at + listening + talking)] = True
        at += listening + talking
    down = transmitting & (rng.random(seconds) < 0.4)
    average = np.where(down, 8.0, 0.35).mean()
    expected = battery.average_current_a(0.35, 8.0, transmitting.mean(), 0.4)
    assert math.isclose(average, expected, rel_tol=0.01)


@pytest.mark.parametrize(("chemistry", "temperature_c", "low", "high"), [
    # typical data sheets, from memory
    ("LiFePO4", 25, 1.0, 1.0), ("LiFePO4", 0, 0.75, 0.85), ("LiFePO4", -20, 0.6, 0.7), ("lead-acid", 5, 0.8, 0.8),
])
def test_cold_packs_give_less(chemistry, temperature_c, low, high):
    assert battery.cold_share(chemistry, temperature_c) == pytest.approx((low, high))


def test_the_cold_share_falls_steadily_and_is_refused_where_nothing_is_known():
    shares = [battery.cold_share("LiFePO4", t)[0] for t in range(-20, 31)]
    assert shares == sorted(shares)
    assert battery.cold_share("Li-ion", 5) is None
    with pytest.raises(ValueError, match="below -20"):
        battery.cold_share("LiFePO4", -21)


@pytest.mark.parametrize(("chemistry", "cells", "volts", "low", "high"), [
    # both curves: the equilibrium model, and the customary trade table
    ("LiFePO4", 4, 12.80, 0.17, 0.288), ("LiFePO4", 4, 13.10, 0.40, 0.705),
    ("Li-ion", 3, 11.253, 0.4, 0.6), ("lead-acid", 6, 12.3, 0.4, 0.6), ("Li-ion", 3, 2.0, 0, 0),
    ("Li-ion", 3, 20.0, 1, 1),
])
def test_what_a_load_that_needs_a_voltage_leaves_in_the_pack(chemistry, cells, volts, low, high):
    assert battery.charge_left_at(chemistry, cells, volts) == pytest.approx((low, high), abs=0.005)
    assert battery.charge_left_at("NiMH", cells, volts) is None


def test_joining_gives_up_where_it_would_take_too_many_steps():
    curve = pack_curve()
    with pytest.raises(ValueError, match="too quickly"):
        joining.over_time(curve, curve, 0.01, 0.01, 0.999, 0.9, 0.001, 0.001, 0.0, 24.0, most_steps=1000)


def test_a_pack_follows_the_curve_of_its_chemistry_or_none():
    assert cell_curves.pack_v("LiFePO4", 4)(1.0) == pytest.approx(14.4, abs=0.001)
    assert cell_curves.pack_v("NiMH", 10) is None
