"""How full a pack is, whether it lasts, how long it charges, and what reaches the radio: answers and their pages."""

import pytest

from equipment.physics import battery
from equipment.queries.bench.charge_state import charge_state_answers, spoken
from equipment.queries.bench.charging import charging_answers
from equipment.queries.bench.dc_path import dc_path_answers
from equipment.queries.bench.lasting import (
    MODES,
    Draw,
    Learned,
    beyond_limit,
    draw,
    kit_lasting,
    lasting,
    lasting_answer,
    left_by_radio,
    supply,
)
from tests import making
from tests.checks import cases

# --- how full ---------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(("volts", "low", "high"), [(13.1, 34, 74), (13.2, 52, 94), (13.3, 78, 98), (12.8, 16, 32)])
def test_the_charge_is_a_range_over_both_published_curves(volts, low, high):
    """The model's curve and the customary trade table, ± 0.06 V for four cells."""
    told, = charge_state_answers(chemistry="LiFePO4", cells=4, volts=volts, rested_h=5)
    assert (told.figures[0].low, told.figures[0].high) == pytest.approx((low, high), abs=2)
    assert any("thirty points" in doubt for doubt in told.doubts)


def test_on_the_plateau_it_is_said_that_two_curves_disagree():
    told, = charge_state_answers(chemistry="LiFePO4", cells=4, volts=13.1, rested_h=5)
    assert any("Two published curves disagree here: 40 % and 7" in reason for reason in told.reasons)
    assert told.mark == "warn"


@pytest.mark.parametrize(("more", "word"), [
    ({"temperature_c": 2}, "cold"), ({"rested_h": 0.5}, "Not rested long enough"), ({"rested_h": None}, "is not known"),
])
def test_cold_and_unrested_packs_are_warned_about(more, word):
    told, = charge_state_answers(**{"chemistry": "Li-ion", "cells": 3, "volts": 11.2, "rested_h": 5, **more})
    assert word in " ".join(told.reasons)


def test_counting_is_narrower_and_a_contradiction_is_named():
    counted, told = charge_state_answers(chemistry="LiFePO4", cells=4, volts=13.1, rested_h=5, ah=6.0, used_ah=3.0)
    assert (counted.figures[0].low, counted.figures[0].high) == pytest.approx((47.5, 52.5))
    assert not any("contradict" in reason for reason in told.reasons)
    _, told = charge_state_answers(chemistry="LiFePO4", cells=4, volts=13.4, rested_h=5, ah=6.0, used_ah=3.0)
    assert any("contradict" in reason for reason in told.reasons)
    beyond = charge_state_answers(chemistry="LiFePO4", cells=4, ah=6.0, used_ah=9.0)[0]
    assert beyond.mark == "warn" and "the count or the capacity is wrong" in beyond.sentence


def test_a_voltage_that_says_nothing_is_refused_with_the_reason():
    refusal, = charge_state_answers(chemistry="NiMH", cells=10, volts=13.0)
    assert refusal.is_refused and "does not tell" in refusal.sentence
    refusal, = charge_state_answers(chemistry="LiFePO4", cells=4, volts=24.0)
    assert refusal.is_refused and "6.00 V a cell" in refusal.sentence


def test_a_range_is_spoken():
    assert spoken(49, 93) == "From half to nearly full" and spoken(45, 55) == "About half"


# --- will it last -----------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("case", cases("batteries", "T4-B"))
def test_hours_and_mean_current_are_those_of_the_worked_examples(case):
    asked = case.inputs
    shares = ((asked[name],) * 2 for name in ("transmit_time_fraction", "key_down_fraction"))
    use = draw(asked["receive_a"], asked["transmit_a"], *shares)
    assert use.low_a == use.high_a == pytest.approx(case.expected["average_a"], rel=1e-3)
    exactly = supply(asked["capacity_ah"], "LiFePO4", error=0.0)  # 90 to 100 % may be used
    found = lasting(exactly, use, 1.0)
    share = asked["usable_fraction"]
    assert found.hours[0] == pytest.approx(case.expected["hours"] * 0.9 / share, rel=1e-3)


@pytest.mark.parametrize(("window_h", "word"), [(3.0, "yes"), (9.0, "maybe"), (40.0, "no")])
def test_the_sentence_says_yes_perhaps_or_no(window_h, word):
    use = draw(0.2, 2.0, MODES["voice"].transmit, MODES["voice"].key_down)
    answer = lasting_answer(supply(5.7, "LiFePO4", error=0.05), use, window_h)
    assert answer.word == word
    assert answer.sentence.split(":")[0] in ("Yes, it lasts", "Perhaps", "No")
    hours = answer.figures[0]
    assert hours.low < hours.value < hours.high


def test_cold_and_a_half_full_pack_give_less():
    warm = supply(6.0, "LiFePO4", error=0.0)
    assert supply(6.0, "LiFePO4", error=0.0, temperature_c=0).high_ah == pytest.approx(0.85 * warm.high_ah)
    # half full is half of the whole, of which the tenth that stays in the pack is missing still
    assert supply(6.0, "LiFePO4", error=0.0, charge_pct=(50, 50)).low_ah == pytest.approx(0.4 * 6.0)
    assert any("not known here" in doubt for doubt in supply(3.0, "Li-ion", temperature_c=0).doubts)


def test_a_radio_that_needs_much_voltage_leaves_a_part_of_the_pack():
    """Three NMC cells of a published model have 10.74 V at 30 % of their charge."""
    left = left_by_radio("Li-ion", 3, 0.11, 10.5, 2.1)
    assert left == pytest.approx((0.2, 0.4), abs=0.01)
    whole, part = supply(3.0, "Li-ion", error=0.0), supply(3.0, "Li-ion", error=0.0, left=left)
    assert part.low_ah == pytest.approx(3.0 * (1 - left[1])) and part.low_ah < whole.low_ah
    assert part.high_ah == pytest.approx(3.0 * (1 - left[0])) and part.high_ah < whole.high_ah
    assert any("lowest voltage leaves" in doubt for doubt in part.doubts)
    assert left_by_radio("LiFePO4", 4, 0.05, 10.5, 2.0)[1] < 0.1  # nearly empty by then: nothing changes
    assert supply(3.0, "LiFePO4", left=(0.02, 0.03)).low_ah == supply(3.0, "LiFePO4").low_ah
    assert left_by_radio("NiMH", 10, 0.1, 11.0, 2.0) is None and left_by_radio("Li-ion", 3, 0.1, None, 2.0) is None
    with pytest.raises(ValueError, match="leaves nothing"):
        lasting(supply(3.0, "Li-ion", left=(1.0, 1.0)), Draw(0.1, 0.2), 1.0)


def test_a_radio_that_draws_more_than_the_pack_may_give_does_not_last():
    answer = lasting_answer(supply(6.0, "LiFePO4"), Draw(0.3, 0.9), 1.0, warnings=beyond_limit(4.0, 3.0))
    assert answer.word == "no" and "3.00\xa0A" in answer.reasons[0]
    assert beyond_limit(2.0, 3.0) == beyond_limit(2.0, None) == ()


def test_ones_own_use_counts_before_the_model_once_there_is_enough_of_it():
    given, use = supply(6.0, "LiFePO4", error=0.0), Draw(0.3, 0.9)
    learned = Learned(0.45, 0.5, 0.55, charges=4, on_air_h=11.0)
    answer = lasting_answer(given, use, 5.0, learned)
    assert (answer.figures[0].low, answer.figures[0].high) == pytest.approx((5.4 / 0.55, 6.0 / 0.45))
    assert "By your own outings" in answer.reasons[0]
    few = lasting_answer(given, use, 5.0, Learned(0.45, 0.5, 0.55, charges=2, on_air_h=4.0))
    assert few.figures[0].high == pytest.approx(6.0 / 0.3) and "Only 2 full charges" in few.reasons[0]


def test_the_range_of_the_mean_current_holds_a_simulated_outing():
    """Random on and off by the ranges' middles: the mean lies between the ends."""
    import random

    chance = random.Random(3)
    mode = MODES["morse"]
    use = draw(0.12, 1.6, mode.transmit, mode.key_down)
    share, down = (sum(pair) / 2 for pair in (mode.transmit, mode.key_down))
    seconds = [
        1.6 if chance.random() < share and chance.random() < down else 0.12 for _ in range(40_000)
    ]
    assert use.low_a < sum(seconds) / len(seconds) < use.high_a


@pytest.mark.django_db
def test_a_kit_lasts_by_its_packs_and_its_radio_mode_by_mode(django_assert_max_num_queries):
    owner = making.an_operator()
    radio = making.a_radio(owner, receive_a=0.19, modes=["CW", "SSB", "FT8"])
    making.a_power_setting(radio, "half", 5.0, transmit_a=1.25)
    making.a_power_setting(radio, "full", 10.0, transmit_a=2.1)
    kit = making.a_kit(owner, items=[radio, (making.a_pack(owner), 2)])
    with django_assert_max_num_queries(4):
        found = kit_lasting(kit, 3.0)
    assert [row[0] for row in found.answer.tables[0].rows] == ["Morse", "voice (SSB)", "digital, 15-second slots"]
    assert any("2.10\xa0A at full" in ground.text for ground in found.answer.computed_from)
    assert found.answer.figures[3].high == pytest.approx(2 * 6.0 * 1.2)  # two packs as rated, ± 20 %


@pytest.mark.django_db
@pytest.mark.parametrize(("pack", "radio", "window_h", "word"), [
    (True, False, 3.0, "currents were measured"), (False, True, 3.0, "No pack"), (True, True, 0, "no end"),
])
def test_what_a_kit_lacks_is_said(pack, radio, window_h, word):
    owner = making.an_operator()
    items = [making.a_pack(owner)] if pack else []
    if radio:
        items.append(making.a_radio(owner, receive_a=0.2))
        making.a_power_setting(items[-1], transmit_a=1.0)
    found = kit_lasting(making.a_kit(owner, items=items), window_h)
    assert found.answer is None and word in found.why_not


# --- charging ---------------------------------------------------------------------------------------------------------


def charging(**fields):
    return charging_answers(**{
        "chemistry": "LiFePO4", "cells": 4, "ah": 10.0, "ohm": 0.06, "charger_a": 5.0, "charger_v": 14.4,
        "start_pct": 20.0, **fields,
    })[0]


def test_the_time_left_is_that_of_the_simulated_charge():
    """1.607 h by scipy's integrator on a published cell model's curve."""
    answer = charging(end_a=0.5, ah_error=0.0)
    assert answer.figures[0].value == pytest.approx(1.607, rel=0.03)
    assert answer.pictures and answer.tables
    wide = charging(end_a=0.5)
    assert wide.figures[0].low < 1.6 < wide.figures[0].high


@pytest.mark.parametrize(("change", "word"), [
    ({"temperature_c": -3}, "below 0 °C"), ({"charger_v": 16.0}, "above its limit"), ({"max_a": 3.0}, "charge limit"),
    ({"temperature_c": 50}, "cool"), ({"max_v": 14.0}, "above its limit of 14.00"),
])
def test_what_harms_the_pack_is_refused(change, word):
    answer = charging(**change)
    assert answer.mark == "bad" and word in answer.sentence and not answer.figures
    assert answer.cautions


def test_a_cool_pack_is_warned_about_and_a_weak_charger_does_not_fill():
    assert charging(temperature_c=5).mark == "warn"
    assert any("too low for more" in reason for reason in charging(charger_v=13.2, end_a=0.1).reasons)


def test_the_start_may_be_told_by_the_voltage():
    answer = charging(start_pct=None, volts=13.0)
    assert answer.figures[0].high > answer.figures[0].value > answer.figures[0].low
    with pytest.raises(ValueError, match="how full"):
        charging(start_pct=None)
    with pytest.raises(ValueError, match="stops"):
        charging(end_a=9.0)


def test_lead_acid_has_only_a_lower_bound():
    answer = charging(chemistry="lead-acid", cells=6, charger_v=14.4, ah_error=0.0)
    assert answer.sentence.startswith("At least") and answer.figures[0].value == pytest.approx(1.6)
    assert charging(chemistry="other", charger_v=14.0).is_refused


# --- to the radio -----------------------------------------------------------------------------------------------------


def path(**fields):
    return dc_path_answers(**{
        "volts": 13.2, "pack_ohm": 0.04, "amps": 10.0, "minimum_v": 11.0, "length_m": 2.0, "awg": 14, **fields,
    })


def test_the_voltage_at_the_radio_is_what_the_path_leaves():
    """0.3314 V over both conductors of 2 m of AWG 14 at 10 A: ASTM B258 and the resistivity of copper."""
    answer, _ = path(connectors=0, fuses=0)
    assert answer.figures[0].value == pytest.approx(13.2 - 0.4 - 1.03 * 0.33139, abs=0.002)
    assert answer.mark == "good"
    with_joints, _ = path()
    assert with_joints.figures[0].low < with_joints.figures[0].high < answer.figures[0].value
    assert with_joints.figures[0].high == pytest.approx(answer.figures[0].value - 10 * (2 * 0.001 + 0.002), abs=0.001)


@pytest.mark.parametrize(("minimum_v", "mark"), [(11.0, "good"), (12.37, "warn"), (13.0, "bad")])
def test_it_is_set_against_what_the_radio_needs(minimum_v, mark):
    assert path(minimum_v=minimum_v)[0].mark == mark


def test_the_fuse_protects_the_wire_or_there_is_none():
    assert path(wire_limit_a=20.0)[1].figures[0].value == 15
    assert path(wire_limit_a=10.0)[1].mark == "bad"
    assert "Give what the wire may carry" in path()[1].reasons[0]
    with pytest.raises(ValueError, match="one of them"):
        path(area_mm2=1.5)


# --- pages ------------------------------------------------------------------------------------------------------------


@pytest.mark.django_db
def test_the_pages_take_their_values_from_pack_and_radio(client_of):
    owner = making.an_operator()
    pack = making.a_pack(owner, resistance_ohm=0.05, measured_ah=5.5)
    making.a_reading(pack, 13.1, doing="resting", temperature_c=4, resting_since=making.a_moment("2026-05-01 06:00"))
    setting = making.a_power_setting(making.a_radio(owner, receive_a=0.2, minimum_v=11), transmit_a=2.0)
    client = client_of(owner)

    def page(name, **asked):
        return client.get(f"/bench/{name}/", asked).content.decode()

    full = page("charge-state", pack=pack.pk)
    assert "Two published curves disagree here" in full and "rested 6.0 h" in full and "in the cold" in full
    lasts = page("lasting", pack=pack.pk, setting=setting.pk)
    assert "Yes, it lasts" in lasts and "5.5\xa0Ah, measured" in lasts and "OET Bulletin 65" in lasts
    loads = page("charging", pack=pack.pk, charger_a=2, charger_v=14.4)
    assert "until the current falls to" in loads and "The mains side of a charger can kill" in loads
    reach = page("dc-path", pack=pack.pk, setting=setting.pk, length_m="2", awg="14")
    assert "reach the radio at 2.00\xa0A" in reach and "Fault current and fire" in reach


@pytest.mark.django_db
def test_rest_and_warmth_of_an_old_reading_are_not_mixed_with_a_voltage_typed_now(client_of):
    pack = making.a_pack()
    making.a_reading(pack, 13.1, doing="resting", temperature_c=4, resting_since=making.a_moment("2026-05-01 06:00"))
    page = client_of(pack.owner).get("/bench/charge-state/", {"pack": pack.pk, "volts": "13.3"}).content.decode()
    assert "by the same reading" not in page and "how long this one has is not known" in page


@pytest.mark.django_db
def test_a_radio_of_another_operator_is_not_offered(client_of):
    setting = making.a_power_setting(making.a_radio(making.an_operator("Q2DEF"), "Radio of another"), transmit_a=2.0)
    owner = making.an_operator()
    making.a_power_setting(making.a_radio(owner), transmit_a=2.0)
    page = client_of(owner).get("/bench/lasting/", {"setting": setting.pk}).content.decode()
    assert "Radio of another" not in page and "Select a valid choice" in page


@pytest.mark.django_db
@pytest.mark.parametrize("query", [
    "start_pct=0", "least_pct=50&most_pct=20", "receive_a=3&transmit_a=1", "hours=x", "ah=0", "temperature_c=-40&ah=5",
])
def test_lasting_names_what_does_not_fit(client_of, query):
    page = client_of(making.an_operator()).get(f"/bench/lasting/?{query}&chemistry=LiFePO4").content.decode()
    assert "Please look at this first" in page or "Still needed" in page


def test_usable_shares_are_those_of_the_pure_module():
    assert supply(10.0, "lead-acid", error=0.0).high_ah == 10 * battery.USABLE_SHARE["lead-acid"][1]
