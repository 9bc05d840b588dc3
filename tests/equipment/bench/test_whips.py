"""Which coil does this whip need, and what if another whip goes on that coil: answers, refusals, records."""

import pytest

from tests import making

pytestmark = pytest.mark.django_db

COIL = {"coil_diameter_m": "50", "coil_length_m": "60", "coil_turns": "24"}


def whips(client, **asked):
    answer = client.get("/bench/whips/", asked)
    assert answer.status_code == 200
    return answer.context["answers"], answer.content.decode()


def others(client, **asked):
    answer = client.get("/bench/other-whips/", asked)
    assert answer.status_code == 200
    return answer.context["answers"], answer.content.decode()


def figure(answers, what):
    return next(figure for figure in answers[0].figures if figure.what == what)


# --- the coil ---------------------------------------------------------------------------------------------------------


def test_the_coil_comes_with_its_range_its_turns_and_an_honest_efficiency(client_of):
    """NEC-2 asks for 4.418 µH at 14.1 MHz (2.5 m, 2 mm radius), so for a little less in the middle of the band."""
    answers, text = whips(client_of(making.an_operator()), band="20m", whip_m="2.5", **COIL)
    coil = figure(answers, "Coil")
    assert coil.low < 4.418e-6 < coil.high
    assert coil.high / coil.low < 1.08
    turns = figure(answers, "Turns in use")
    assert turns.low < turns.value < turns.high < 24
    efficiency = figure(answers, "Efficiency")
    assert efficiency.low < -6.0 < efficiency.high  # NEC-2 with Q 200 and 15 ohm: -6.04 dB
    assert efficiency.high - efficiency.low > 5
    assert "of the power are radiated" in answers[0].sentence
    assert "a touch burns" in text and "When not to trust it" in text and "Balanis" in text


def test_measured_resistance_takes_the_place_of_guessed_losses(client_of):
    """NEC-2: radiation resistance 5.627 ohm of 22.58, an efficiency of -6.04 dB."""
    answers, text = whips(client_of(making.an_operator()), band="20m", whip_m="2.5", measured_ohm="22.58")
    efficiency = figure(answers, "Efficiency")
    assert efficiency.value == pytest.approx(-6.04, abs=0.1)
    assert efficiency.high - efficiency.low < 0.6
    assert "losses in coil and ground" in text


def test_a_resistance_that_cannot_have_been_measured_here_is_refused(client_of):
    answers, text = whips(client_of(making.an_operator()), band="20m", whip_m="2.5", measured_ohm="2")
    assert answers[0].is_refused
    assert "not at this feedpoint" in text
    assert "Keep as a note" not in text


def test_a_coil_part_way_up_needs_more_and_loses_less(client_of):
    """NEC-2: 40.25 µH and 3.284 ohm for a coil halfway up 2.5 m on 7.1 MHz; 20.7 µH and 1.308 ohm at the base."""
    client = client_of(making.an_operator())
    base, _ = whips(client, band="40m", whip_m="2.5")
    middle, text = whips(client, band="40m", whip_m="2.5", height_percent="50", watts="100")
    coil = figure(middle, "Coil")
    assert coil.low < 40.25e-6 * (7.1 / 7.15) ** 2 < coil.high
    assert coil.value > 1.8 * figure(base, "Coil").value
    assert figure(middle, "Efficiency").value > figure(base, "Efficiency").value
    assert "at 50\xa0% of its height" in text
    high, _ = whips(client, band="40m", whip_m="2.5", height_percent="95")
    assert high[0].is_refused and "from 0.3 to 0.8" in high[0].sentence
    longer, _ = whips(client, band="20m", whip_m="4.5", height_percent="50")
    assert longer[0].is_refused and "off by up to a third" in longer[0].sentence


@pytest.mark.parametrize(("whip", "band", "word", "said"), [
    ("17 ft", "20m", "no coil", "resonates by itself at 14.0"),
    ("17 ft", "17m", "no coil helps", "Shorten it to about 4"),
    ("17 ft", "10m", "no coil helps", "Shorten it to about 2.5"), ("2.5", "10m", "no coil", "needs no coil on 10m"),
])
def test_it_says_when_no_coil_is_needed_and_when_none_can_help(client_of, whip, band, word, said):
    answers, _ = whips(client_of(making.an_operator()), band=band, whip_m=whip)
    assert answers[0].word == word
    assert said in answers[0].sentence


def test_a_coil_that_is_too_small_is_said_to_be(client_of):
    answers, _ = whips(client_of(making.an_operator()), band="80m", whip_m="1.5", **COIL)
    assert "more than this coil has" in answers[0].sentence
    assert "The whole coil has 17.2\xa0µH" in answers[0].reasons[0]


@pytest.mark.parametrize(("asked", "said"), [
    ({"whip_m": ""}, "Still needed"), ({"whip_m": "much"}, "is not a length"),
    ({"thickness_m": "20"}, "between 1 and 12 mm"),
    ({"coil_turns": "24"}, "A coil is known by all three"), ({"band": "submm"}, "Select a valid choice"),
    ({"q": "0"}, "cannot be below"), ({"whip_m": "100"}, "cannot be above"),
])
def test_what_makes_no_sense_is_named_or_refused(client_of, asked, said):
    _, text = whips(client_of(making.an_operator()), **{"band": "20m", "whip_m": "2.5", **asked})
    assert said in text


def test_an_arrangement_fills_in_its_whip_and_the_coil_that_it_names(client_of):
    owner = making.an_operator()
    antenna = making.an_antenna(owner)
    coil = making.a_coil(antenna, "Tapped coil", q=180.0)
    arrangement = making.an_arrangement(antenna, element_length_m=2.6, element_thickness_m=0.005, coil="Tapped coil")
    setting = making.a_power_setting(making.a_radio(owner), "full", 10.0)
    answers, text = whips(client_of(owner), band="20m", arrangement=arrangement.pk, setting=setting.pk)
    assert f'<a href="{arrangement.get_absolute_url()}">Whip: 2.6\xa0m' in text
    assert f'<a href="{coil.get_absolute_url()}">Turns of the coil: 24.0' in text
    assert f'<a href="{setting.radio.get_absolute_url()}">Power: 10\xa0W, full of Little radio' in text
    assert figure(answers, "Voltage over the coil").value > 100
    assert "Q of 180" in text


# --- another whip -----------------------------------------------------------------------------------------------------

FOUND = {"found_bands": ["40m", "20m", "15m", "10m"], "found_whip_m": "1.5"}


def test_taps_of_a_short_whip_with_a_17_ft_whip(client_of):
    """NEC-2: the 20 m tap falls to 7.5 MHz, the 15 m tap to 10.1 MHz, 14.0 MHz needs no coil, nothing helps above."""
    wanted = ["40m", "30m", "20m", "17m", "10m"]
    answers, text = others(client_of(making.an_operator()), **FOUND, whip_m="5.18", wanted=wanted)
    bands = dict(answers[0].tables[1].rows)
    assert bands["30m"] == "the tap found for 15m lands here"
    assert bands["20m"] == "no coil needed"
    assert bands["17m"].startswith("no coil can help: shorten the whip to 4")
    assert bands["40m"].startswith("no tap lands here; it needs 8.9")
    assert "40m, 17m, 10m are lost" in answers[0].sentence
    landings = {mark["label"]: mark for mark in answers[0].pictures[0].data["landings"]}
    assert landings["20m"]["low"] < 7.544 < landings["20m"]["high"]
    assert 'data-picture="taps"' in text


def test_a_kept_coil_gives_its_taps_and_leads_to_them(client_of):
    owner = making.an_operator()
    coil = making.a_coil(making.an_antenna(owner))
    making.a_coil_tap(coil, "20m", 1.5, label="red clip", turns=13.5, frequency_hz=14_100_000)
    answers, text = others(client_of(owner), coil=coil.pk, whip_m="5.18", wanted=["40m", "20m"])
    row = answers[0].tables[0].rows[0]
    assert row[0] == "20m, red clip"
    assert row[2] == "14.100\xa0MHz"
    assert f'<a href="{coil.get_absolute_url()}">Taps kept with the coil' in text
    assert "turns of this coil" in dict(answers[0].tables[1].rows)["40m"]


def test_the_same_whip_keeps_every_band_of_its_taps(client_of):
    answers, _ = others(client_of(making.an_operator()), **FOUND, whip_m="1.5", wanted=FOUND["found_bands"])
    assert answers[0].mark == "good"
    assert "lost" not in answers[0].sentence


def test_a_tap_whose_own_whip_needs_no_coil_falls_back_on_its_turns(client_of):
    owner = making.an_operator()
    coil = making.a_coil(making.an_antenna(owner))
    making.a_coil_tap(coil, "10m", 5.18, turns=4)
    making.a_coil_tap(coil, "15m", 5.18)
    answers, _ = others(client_of(owner), coil=coil.pk, whip_m="2.5", wanted=["20m"])
    known, unknown = answers[0].tables[0].rows
    assert "MHz" in known[4]
    assert "needs no coil" in unknown[4] or "outside these formulas" in unknown[4]


@pytest.mark.parametrize(("asked", "said"), [
    ({"found_whip_m": ""}, "how long was it?"), ({"found_bands": []}, "Still needed"), ({"wanted": []}, "Still needed"),
    ({"whip_m": ""}, "Still needed"), ({"thickness_m": "40"}, "between 1 and 12 mm"),
])
def test_what_another_whip_needs_is_named(client_of, asked, said):
    typed = {**FOUND, "whip_m": "5.18", "wanted": ["20m"], "typed_in": "metric", "thickness_m": "4", **asked}
    _, text = others(client_of(making.an_operator()), **typed)
    assert said in text


def test_a_coil_without_taps_says_so(client_of):
    owner = making.an_operator()
    coil = making.a_coil(making.an_antenna(owner))
    _, text = others(client_of(owner), coil=coil.pk, whip_m="5.18", wanted=["20m"])
    assert "No taps are kept with this coil yet" in text


def test_coils_of_another_operator_are_not_offered(client_of):
    theirs = making.a_coil(making.an_antenna(making.an_operator("Q2DEF")), "Coil of another")
    mine = making.an_operator()
    making.a_coil(making.an_antenna(mine))
    for address in ("/bench/whips/", "/bench/other-whips/"):
        text = client_of(mine).get(address, {"coil": theirs.pk, "whip_m": "2"}).content.decode()
        assert "Coil of another" not in text
        assert "Select a valid choice" in text


def test_the_pages_take_few_queries(client_of, django_assert_max_num_queries):
    owner = making.an_operator()
    for n in range(5):
        coil = making.a_coil(making.an_antenna(owner, f"Whip {n}"), f"Coil {n}")
        for band in ("40m", "20m", "15m"):
            making.a_coil_tap(coil, band)
    client = client_of(owner)
    with django_assert_max_num_queries(12):
        others(client, coil=coil.pk, whip_m="5.18", wanted=["20m"])
    with django_assert_max_num_queries(12):
        whips(client, coil=coil.pk, whip_m="2.5", band="20m")
