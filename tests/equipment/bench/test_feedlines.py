"""What arrives at the antenna: losses, what a tuner hides, and what is refused."""

import pytest

from tests import making

pytestmark = pytest.mark.django_db

ASKED = {"kind": "RG-174", "length_m": "7.5", "band": "10m", "swr": "2", "swr_at": "antenna"}


def asked(client, **fields):
    answer = client.get("/bench/feedlines/", {**ASKED, **fields})
    assert answer.status_code == 200
    return answer.context["answers"], answer.content.decode()


def figure(answers, what):
    return next(figure for figure in answers[0].figures if figure.what == what)


def test_losses_are_those_of_the_lossy_line(client_of):
    """scikit-rf for RG-174, 7.5 m, 28.4 MHz, 100 ohm: 1.0915 dB matched, 0.2093 dB more, SWR 1.7 at the radio."""
    answers, text = asked(client_of(making.an_operator()), watts="10")
    assert figure(answers, "Matched loss").value == pytest.approx(1.10, abs=0.02)
    assert figure(answers, "Added by the SWR").value == pytest.approx(0.21, abs=0.01)
    assert figure(answers, "SWR at the radio").value == pytest.approx(1.70, abs=0.01)
    power = figure(answers, "At the antenna")
    assert power.low < 10 * 10 ** (-0.13008) < power.high
    assert "give or take 20" in text and "Makers differ" in text


def test_swr_read_at_the_radio_is_moved_to_the_antenna(client_of):
    answers, _ = asked(client_of(making.an_operator()), swr="1.7", swr_at="radio")
    assert figure(answers, "SWR at the antenna").value == pytest.approx(2.0, abs=0.03)


def test_a_tuner_at_the_radio_hides_what_stays_lost_and_one_at_the_antenna_saves_it(client_of):
    client = client_of(making.an_operator())
    answers, text = asked(client, swr="10", tuner="radio")
    assert answers[0].mark == "warn" and "hides the mismatch" in text and "stay lost" in text
    answers, text = asked(client, swr="10", tuner="antenna")
    assert figure(answers, "Added by the SWR").value == pytest.approx(0, abs=1e-9)
    assert "works at its matched loss" in text


def test_a_lossy_line_that_hides_a_bad_antenna_is_named(client_of):
    """A long lossy cable hides a bad antenna: SWR 3.2 behind some 4 dB reads 1.5 or so."""
    answers, text = asked(client_of(making.an_operator()), length_m="30", swr="3.5")
    assert figure(answers, "SWR at the radio").value < 2
    assert "hides a bad match" in text


def test_an_swr_that_no_antenna_can_have_is_refused(client_of):
    answers, text = asked(client_of(making.an_operator()), swr="20", swr_at="radio")
    assert answers[0].is_refused
    assert "cannot be behind" in text


def test_two_points_of_a_data_sheet_take_the_place_of_the_type(client_of):
    """RG-58: 8.10 and 18.47 dB on 100 m at 30 and 150 MHz; scikit-rf: 0.8292 dB for 15 m on 14.1 MHz."""
    answers, text = asked(
        client_of(making.an_operator()), kind="sheet", length_m="15", band="20m", swr="1",
        first_hz="30", first_db="8.10", second_hz="150", second_db="18.47",
    )
    assert figure(answers, "Matched loss").value == pytest.approx(0.83, abs=0.01)
    assert "by its data sheet" in text and "give or take 5" in text


def test_a_kept_feedline_fills_in_type_and_length(client_of):
    owner = making.an_operator()
    line = making.a_feedline(owner, line_type="RG58 C/U", length_m=15.0)
    _, text = asked(client_of(owner), feedline=line.pk, kind="", length_m="")
    assert f'<a href="{line.get_absolute_url()}">Type: RG58 C/U' in text
    assert "15\xa0m of RG-58 on 10m" in text
    other = making.a_feedline(owner, "Ladder", line_type="450 Ω window line", length_m=15.0)
    _, text = asked(client_of(owner), feedline=other.pk, kind="", length_m="")
    assert "Still needed" in text and "#id_kind" in text


def test_an_arrangement_brings_its_line_and_the_swr_that_was_swept(client_of):
    owner = making.an_operator()
    line = making.a_feedline(owner, line_type="RG-58", length_m=15.0)
    arrangement = making.an_arrangement(making.an_antenna(owner), feedline=line, bands=("20m",))
    sweep = making.a_sweep(arrangement)
    client = client_of(owner)
    typed = {"band": "20m", "arrangement": arrangement.pk, "kind": "", "length_m": "", "swr": ""}
    answers, text = asked(client, **typed)
    assert f'<a href="/gear/sweeps/{sweep.pk}/">SWR: 1.19, the lowest, swept on 2026-05-01' in text
    assert figure(answers, "SWR at the antenna").value == pytest.approx(50 / 42, rel=1e-3)
    assert "15\xa0m of RG-58 on 20m" in text
    _, text = asked(client, **{**typed, "band": "40m"})
    assert "Still needed" in text and "#id_swr" in text


@pytest.mark.parametrize(("fields", "said"), [
    ({"swr": "0.9"}, "cannot be below"), ({"swr": "x"}, "is not a number"), ({"length_m": ""}, "Still needed"),
    ({"kind": "sheet"}, "Needed, to reckon"), ({"kind": "sheet", "first_hz": "30"}, "a frequency and a loss"),
    ({"kind": "sheet", "first_hz": "10", "first_db": "8", "second_hz": "100", "second_db": "4"}, "No line has such"),
    ({"kind": "string"}, "Select a valid choice"),
])
def test_what_makes_no_sense_is_named(client_of, fields, said):
    _, text = asked(client_of(making.an_operator()), **fields)
    assert said in text


def test_no_row_of_the_tables_shows_a_rounding_error(client_of):
    answers, _ = asked(client_of(making.an_operator()))
    assert answers[0].tables[0].rows[0][2] == "0.00\xa0dB"


def test_the_page_takes_few_queries(client_of, django_assert_max_num_queries):
    owner = making.an_operator()
    setting = making.a_power_setting(making.a_radio(owner))
    for n in range(5):
        line = making.a_feedline(owner, f"Line {n}", line_type="RG-58", length_m=10.0)
    client = client_of(owner)
    with django_assert_max_num_queries(12):
        asked(client, feedline=line.pk, setting=setting.pk)


def test_feedlines_of_another_operator_fill_nothing(client_of):
    theirs = making.a_feedline(making.an_operator("Q2DEF"), "Line of another", line_type="RG-58", length_m=10.0)
    mine = making.an_operator()
    making.a_feedline(mine)
    _, text = asked(client_of(mine), feedline=theirs.pk)
    assert "Line of another" not in text and "Select a valid choice" in text
