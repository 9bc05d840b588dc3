"""How far off the models were, by the operator's own sweeps; and what the bench makes of it."""

import pytest

from equipment.physics import whip
from equipment.queries.calibration import compared, fit, swept_taps
from tests import making

pytestmark = pytest.mark.django_db


def a_whip(**fields):
    fields = {"element_length_m": 5.1, "orientation": "vertical", "radials": 4, **fields}
    return making.an_arrangement(making.an_antenna(fields.pop("owner", None)), "tall", bands=("20m",), **fields)


def a_sweep_at(arrangement, mhz, **fields):
    low, high = mhz * 0.95, mhz * 1.05
    return making.a_sweep(arrangement, making.a_sweep_file(low, high, resonance_mhz=mhz), **fields)


def test_a_whip_is_set_against_its_own_resonance_by_the_model():
    """NEC-2: a whip of 5.18 m and 2 mm radius resonates at 13.99 MHz."""
    arrangement = a_whip(element_length_m=5.18)
    sweep = a_sweep_at(arrangement, 13.7)
    (row,) = compared([arrangement])
    assert row.model_hz == pytest.approx(13.99e6, rel=0.01)
    assert row.measured_hz == pytest.approx(13.7e6, rel=1e-4)
    assert row.off_percent == pytest.approx(100 * (13.7 / 13.99 - 1), abs=1.0)
    assert not row.is_inside and row.sweep_id == sweep.pk


def test_a_coil_is_judged_by_its_turns_and_a_tap_by_what_was_swept():
    coil = making.a_coil()
    tap = making.a_coil_tap(coil, "20m", 2.6, turns=8.5)
    arrangement = making.an_arrangement(
        coil.antenna, coil=coil.name, element_length_m=2.6, orientation="vertical", bands=("20m",)
    )
    a_sweep_at(arrangement, 14.0, band="20m")
    (row,) = compared([arrangement])
    assert row.model == "coil by its turns"
    assert row.model_hz == pytest.approx(whip.resonance_with_coil_hz(2.6, 0.002, coil.inductance_h(8.5)))
    assert swept_taps(coil) == {tap.pk: pytest.approx(14.0e6, rel=1e-4)}


def test_a_tap_of_another_whip_was_not_swept_here():
    coil = making.a_coil()
    making.a_coil_tap(coil, "20m", 1.5, turns=8.5)
    arrangement = making.an_arrangement(coil.antenna, coil=coil.name, element_length_m=2.6, bands=("20m",))
    a_sweep_at(arrangement, 14.0)
    assert swept_taps(coil) == {}


def test_a_wire_is_set_against_the_range_of_its_length():
    arrangement = making.an_arrangement(
        element_length_m=10.1, orientation="horizontal", feedpoint_height_m=8.0, bands=("20m",)
    )
    a_sweep_at(arrangement, 14.2)
    (row,) = compared([arrangement])
    assert row.model == "wire by its length"
    assert row.low_hz < row.model_hz < row.high_hz


def test_nothing_is_compared_without_a_sweep_or_without_a_model():
    assert compared([a_whip()]) == []
    unknown = making.an_arrangement(making.an_antenna(making.an_operator("Q2DEF")), bands=("20m",))
    a_sweep_at(unknown, 14.1)
    assert compared([unknown]) == []
    assert fit([]) is None


def test_another_multiple_is_no_error_of_the_model():
    arrangement = a_whip(element_length_m=10.0)
    a_sweep_at(arrangement, 14.1)
    assert compared([arrangement]) == []


def test_several_bands_come_to_a_mean_with_its_ends():
    arrangement = a_whip()
    making.a_band_setting(arrangement, "10m", element_length_m=2.5)
    own_20, own_10 = (whip.no_coil_hz(length, 0.002) / 1e6 for length in (5.1, 2.5))
    a_sweep_at(arrangement, own_20 * 0.98, band="20m")
    a_sweep_at(arrangement, own_10 * 0.96, band="10m")
    found = fit(compared([arrangement]))
    assert found.n == 2
    assert (found.low, found.high) == (pytest.approx(0.96, abs=1e-3), pytest.approx(0.98, abs=1e-3))
    assert found.ratio == pytest.approx((0.96 * 0.98) ** 0.5, abs=1e-3)


def test_the_bench_reckons_with_what_was_swept_and_shows_how_far_off_it_was(client_of):
    arrangement = a_whip(element_length_m=5.18)
    sweep = a_sweep_at(arrangement, 13.7)
    answer = client_of(arrangement.owner).get("/bench/whips/", {"band": "20m", "arrangement": arrangement.pk})
    text = answer.content.decode()
    resonance = answer.context["answers"][0].figures[0]
    assert resonance.value == pytest.approx(13.7e6, rel=1e-3)
    assert "its sweeps found its own resonance 2.3\xa0% below the model’s, n = 1" in text
    assert "How far off the model was" in text
    assert f"/gear/sweeps/{sweep.pk}/" in text


def test_the_swept_resistance_tells_the_losses(client_of):
    coil = making.a_coil()
    arrangement = making.an_arrangement(
        coil.antenna, coil=coil.name, element_length_m=2.6, orientation="vertical", bands=("20m",)
    )
    making.a_sweep(arrangement, making.a_sweep_file(13.5, 14.8, resonance_mhz=14.15, ohm=28.0))
    answer = client_of(coil.owner).get("/bench/whips/", {"band": "20m", "arrangement": arrangement.pk})
    assert "Resistance measured at resonance: 28.0\xa0Ω, swept on 2026-05-01" in answer.content.decode()
    efficiency = next(one for one in answer.context["answers"][0].figures if one.what == "Efficiency")
    assert efficiency.high - efficiency.low < 0.6


def test_another_whip_begins_where_the_sweep_found_the_tap(client_of):
    coil = making.a_coil()
    making.a_coil_tap(coil, "20m", 2.6, turns=8.5)
    arrangement = making.an_arrangement(coil.antenna, coil=coil.name, element_length_m=2.6, bands=("20m",))
    a_sweep_at(arrangement, 14.3)
    answer = client_of(coil.owner).get("/bench/other-whips/", {"coil": coil.pk, "whip_m": "3", "wanted": "20m"})
    assert answer.context["answers"][0].tables[0].rows[0][2] == "14.300\xa0MHz"


def test_it_takes_as_many_queries_for_many_arrangements(django_assert_max_num_queries):
    owner = making.an_operator()
    rows = [a_whip(owner=owner) for _ in range(5)]
    for row in rows:
        a_sweep_at(row, 14.0)
    with django_assert_max_num_queries(7):
        assert len(compared(rows)) == 5


def test_the_page_of_an_arrangement_says_how_far_off_its_model_was_and_leads_to_the_bench(client_of):
    arrangement = a_whip(element_length_m=5.18)
    client = client_of(arrangement.owner)
    assert "How far off the model was" not in client.get(arrangement.get_absolute_url()).content.decode()
    a_sweep_at(arrangement, 13.7)
    text = client.get(arrangement.get_absolute_url()).content.decode()
    assert "Your sweeps found resonance 2.3\xa0% below the model’s, n = 1" in text
    assert f'<a href="/bench/whips/?arrangement={arrangement.pk}">Which coil does this whip need?</a>' in text
    assert f'<a href="/bench/people/?arrangement={arrangement.pk}">How far away do people stay?</a>' in text
