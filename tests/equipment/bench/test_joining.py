"""Joining two packs: the verdict, the currents over time, a charger on both, and what is refused."""

import re

import pytest
from scipy.integrate import solve_ivp

from equipment.physics import cell_curves
from equipment.queries.bench.joining import PackAtRest, joining_answers, worked_case
from tests import making


def at_rest(volts, **fields):
    return PackAtRest(**{"chemistry": "LiFePO4", "cells": 4, "volts": volts, "ohm": 0.14, "ah": 6.0, **fields})


def test_the_verdict_has_the_first_current_with_its_range_and_names_what_is_not_known():
    verdict, *_ = joining_answers(first=at_rest(13.30), second=at_rest(13.24), leads_ohm=0.02)
    current = verdict.figures[0]
    assert current.value == pytest.approx(0.06 / 0.30)
    assert current.low < current.value < current.high
    assert verdict.mark == "warn" and "charge limit of pack 2 is not known" in " ".join(verdict.reasons)
    known = {"charge_limit_a": 3.0, "discharge_limit_a": 10.0}
    sure, *_ = joining_answers(first=at_rest(13.3, **known), second=at_rest(13.24, **known), leads_ohm=0.02)
    assert sure.mark == "good"


@pytest.mark.parametrize(("second", "word"), [
    (at_rest(13.3, chemistry="Li-ion"), "Never join LiFePO4 with Li-ion"), (at_rest(13.3, cells=5), "4 and 5 cells"),
    (at_rest(12.9), "rule of thumb"), (at_rest(13.21, charge_limit_a=0.2), "above the charge limit of pack 2"),
])
def test_what_must_not_be_joined_is_refused_with_the_reason(second, word):
    verdict = joining_answers(first=at_rest(13.3), second=second, leads_ohm=0.02)[0]
    assert verdict.mark == "bad" and word in " ".join(verdict.reasons)


def test_the_rule_of_thumb_stands_beside_the_model():
    verdict = joining_answers(first=at_rest(13.4), second=at_rest(13.17), leads_ohm=0.016)[0]
    assert any("100\xa0mV" in reason or "0.10\xa0V" in reason for reason in verdict.reasons)
    assert any("would not let them" in reason for reason in verdict.reasons)


def test_the_worked_case_states_its_residuals():
    """Readings of one charge: common practice, no source."""
    said = " ".join(worked_case())
    assert re.search(r"3.05 A and 13.64 V with 0 mΩ of leads \(off by \+0.22 A, \+7.\d %, and \+0.03\d V\)", said)
    assert re.search(r"2.93 A and 13.60 V with 16 mΩ of leads \(off by \+0.10 A, \+3.\d %, and -0.00\d V\)", said)


def test_the_currents_over_time_agree_with_scipys_integrator():
    first, second = at_rest(13.40, ohm=0.139), at_rest(13.17, ohm=0.152, ah=10.0)
    curve = cell_curves.pack_v("LiFePO4", 4)

    def slopes(_, state):
        i2 = (curve(state[0]) - curve(state[1])) / (0.139 + 0.152 + 0.016)
        return [-i2 / 6.0, i2 / 10.0]

    reference = solve_ivp(slopes, (0, 4), [first.charge, second.charge], method="LSODA", rtol=1e-9, atol=1e-12,
                          dense_output=True)
    answer = joining_answers(first=first, second=second, leads_ohm=0.016)[1]
    currents = answer.pictures[0].data["panels"][0]["lines"][1]["points"]
    for hours, amps in currents[::8]:
        s1, s2 = reference.sol(hours)
        assert amps == pytest.approx((curve(s1) - curve(s2)) / 0.307, abs=0.002)
    moved = next(figure for figure in answer.figures if figure.kind == "charge")
    assert moved.value == pytest.approx((reference.sol(4)[1] - second.charge) * 10.0, abs=0.002)
    assert len(answer.tables[0].rows) >= 8


def test_a_chargers_current_is_split_and_limits_are_looked_at():
    first, second = at_rest(13.40, ohm=0.139), at_rest(13.17, ohm=0.152, charge_limit_a=2.0)
    answer = joining_answers(first=first, second=second, leads_ohm=0.016, charger_a=4.6, charger_v=14.4)[2]
    into = {figure.what: figure.value for figure in answer.figures}
    assert into["Into pack 2"] == pytest.approx(2.83, abs=0.01) and into["Pack 2 then"] == pytest.approx(13.6, abs=0.01)
    assert answer.mark == "bad" and "more than its charge limit" in answer.reasons[0]
    too_much = joining_answers(first=first, second=second, leads_ohm=0.016, charger_a=4.6, charger_v=16.0)[2]
    assert too_much.is_refused and "more than 4 LiFePO4 cells may have" in too_much.sentence


def test_parallel_adds_capacity_and_series_voltage():
    last = joining_answers(first=at_rest(13.3), second=at_rest(13.3, ah=10.0), leads_ohm=0.02)[-1]
    assert "16.0\xa0Ah at 13.3\xa0V" in last.sentence and "26.6\xa0V and only 6.00\xa0Ah" in last.sentence


def test_what_cannot_be_computed_is_said_in_its_place():
    unknown = joining_answers(first=at_rest(13.3, ah=None), second=at_rest(13.3), leads_ohm=0.02)
    assert unknown[1].is_refused and "capacity of both" in unknown[1].sentence
    nickel = at_rest(13.0, chemistry="NiMH", cells=10)
    nickel = joining_answers(first=nickel, second=nickel, leads_ohm=0.02)
    assert nickel[1].is_refused and "no curve" in nickel[1].sentence
    with pytest.raises(ValueError, match="too quickly"):
        small = {"ohm": 0.001, "ah": 0.01}
        joining_answers(first=at_rest(14.39, **small), second=at_rest(14.3, **small), leads_ohm=0.0, hours=24.0)


@pytest.mark.django_db
def test_the_page_takes_both_packs_from_the_gear_and_refuses_one_pack_twice(client_of):
    owner = making.an_operator()
    one, two = (
        making.a_pack(owner, name, resistance_ohm=0.14, max_charge_a=3.0, max_discharge_a=10.0)
        for name in ("One", "Two")
    )
    making.a_reading(one, 13.30, doing="resting")
    making.a_reading(two, 13.24, doing="resting")
    client = client_of(owner)
    page = client.get("/bench/joining/", {"pack_1": one.pk, "pack_2": two.pk}).content.decode()
    assert "Yes, they may be joined now" in page and page.count('data-picture="traces"') == 1
    assert "Joining packs" in page and "When not to trust it" in page
    again = client.get("/bench/joining/", {"pack_1": one.pk, "pack_2": one.pk}).content.decode()
    assert "This is pack 1: choose another one." in again
    charger = client.get("/bench/joining/", {"pack_1": one.pk, "pack_2": two.pk, "charger_a": "4"}).content.decode()
    assert "Still needed" in charger and "Charger’s voltage" in charger
