"""Is this kit good for these bands: the check, its sentence, what is weakest and what is missing."""

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from equipment.queries.bench.lasting import kit_lasting
from equipment.queries.kit_check import kit_check
from tests import making

pytestmark = pytest.mark.django_db


def a_whole_kit(*, swept=True, accessories=(), owner=None, **fields):
    """A radio of 10 W with its currents, a pack of 6 Ah, 15 m of RG-58, and a half-wave for 20 m."""
    owner = owner or making.an_operator()
    radio = making.a_radio(owner, "Box", receive_a=0.2, modes=["SSB"], weight_kg=0.6)
    making.a_power_setting(radio, "full", 10.0, transmit_a=2.0)
    line = making.a_feedline(owner, line_type="RG-58", length_m=15.0, weight_kg=0.5)
    fields = {"element_length_m": 10.1, "orientation": "horizontal", "feedline": line, "bands": ("20m",), **fields}
    arrangement = making.an_arrangement(making.an_antenna(owner, weight_kg=0.4), "flat", **fields)
    if swept:
        making.a_sweep(arrangement)
    pack = making.a_pack(owner, measured_ah=6.0, weight_kg=0.8)
    items = [radio, line, pack, *(making.an_accessory(owner, name) for name in accessories)]
    return making.a_kit(owner, "Good kit", items=items, arrangements=[arrangement])


def test_a_whole_kit_is_ready_and_its_sentence_says_so():
    """scikit-rf: 15 m of RG-58 lose 0.83 dB on 14.1 MHz when matched; SWR 1.19 adds hardly anything."""
    kit = a_whole_kit()
    found = kit_check(kit, bands=["20m"], energy=kit_lasting(kit, 3.0))
    assert (found.word, found.missing) == ("ready", ())
    (band,) = found.bands
    assert band.arriving.low_w < 10 * 10 ** (-0.083) < band.arriving.high_w
    assert band.arriving.high_w - band.arriving.low_w < 0.9
    assert "It resonates on 20m; it lasts" in found.sentence
    assert "Weakest link: none stands out: the feedline loses 0.8\xa0dB on 20m." in found.sentence
    assert found.weight.weight_kg == pytest.approx(2.3)
    assert found.draw.low < found.draw.high and found.lasts.low > 3


def test_a_band_that_nothing_serves_is_the_weakest_link():
    found = kit_check(a_whole_kit(), bands=["20m", "15m"])
    assert (found.mark, found.word) == ("bad", "not ready")
    assert found.weakest == "nothing in it resonates on 15m"
    assert "an antenna for 15m" in found.missing


def test_energy_that_falls_short_of_the_window_makes_it_not_ready():
    kit = a_whole_kit()
    found = kit_check(kit, bands=["20m"], energy=kit_lasting(kit, 40.0))
    assert found.word == "not ready"
    assert "too short for the window" in found.sentence
    by_itself = kit_check(kit, energy=kit_lasting(kit, 40.0), window=False)
    assert by_itself.word == "ready" and "too short" not in by_itself.sentence


def test_a_coil_that_eats_the_power_is_named_with_its_range():
    """A whip of 1.5 m on 40 m: NEC-2 with Q 200 and 15 ohm of ground loses 16.9 dB."""
    owner = making.an_operator()
    coil = making.a_coil(making.an_antenna(owner, "Whip"), turns=30.0, length_m=0.07)
    making.a_coil_tap(coil, "40m", 1.5)
    kit = a_whole_kit(
        owner=owner, swept=False, element_length_m=1.5, orientation="vertical", coil=coil.name, radials=4,
        bands=("40m",),
    )
    arrangement = kit.arrangements.get()
    arrangement.antenna = coil.antenna
    arrangement.save()
    found = kit_check(kit)
    low, high = found.bands[0].whip_db
    assert low < 16.9 < high
    assert found.weakest.startswith("“flat” on 40m loses 13.")
    assert found.weakest.endswith("in coil and ground")


def test_without_a_sweep_the_model_speaks_and_the_power_says_what_was_taken():
    (band,) = kit_check(a_whole_kit(swept=False)).bands
    assert not band.row.resonance.is_measured
    assert "SWR 1 to 2 taken, not swept" in band.arriving.how


def test_a_tuner_that_is_needed_and_not_packed_is_missing():
    def a_kit(**more):
        kit = a_whole_kit(swept=False, bands=(), **more)
        making.a_band_setting(kit.arrangements.get(), "30m", tuner=True)
        return kit_check(kit)

    bare = a_kit()
    assert "a tuner for 30m, unless the radio has one" in bare.missing
    assert "it goes through the tuner on 30m" in bare.sentence.lower()
    assert bare.bands[0].arriving.why_not == "its SWR was not swept, and the tuner hides it"
    packed = a_kit(owner=making.an_operator("Q2DEF"), accessories=("Small tuner",))
    assert not [thing for thing in packed.missing if "tuner" in thing]


def test_what_is_not_in_the_kit_is_missing():
    owner = making.an_operator()
    other = making.a_feedline(owner, "Long coax", line_type="RG-58", length_m=30.0)
    arrangement = making.an_arrangement(making.an_antenna(owner), "flat", feedline=other, bands=("20m",))
    making.a_sweep(arrangement)
    found = kit_check(making.a_kit(owner, arrangements=[arrangement]))
    assert found.missing == (
        "a radio", "a battery pack, or another source", "Long coax, which an arrangement is used with",
    )
    assert found.weakest == "it lacks a radio"
    assert found.bands[0].arriving.why_not == "no power setting is noted"


def test_a_source_of_power_stands_in_for_a_pack():
    kit = a_whole_kit()
    kit.lines.filter(item__kind="pack").delete()
    assert "a battery pack, or another source" in kit_check(kit).missing
    making.a_kit(kit.owner, "Other")
    panel = making.an_accessory(kit.owner, "Panel", source="solar")
    kit.lines.create(item=panel.item_ptr, quantity=1)
    assert "a battery pack, or another source" not in kit_check(kit).missing


def test_an_empty_kit_says_so_and_is_no_error():
    found = kit_check(making.a_kit())
    assert found.word == "not ready"
    assert found.sentence.startswith("Nothing in it is set for these bands.")
    assert "a radio" in found.missing


def test_many_bands_take_as_many_queries_as_one():
    few = a_whole_kit()
    many = a_whole_kit(owner=making.an_operator("Q2DEF"), bands=("40m", "30m", "20m", "15m", "10m"))
    counts = []
    for kit in (few, many):
        with CaptureQueriesContext(connection) as queries:
            kit_check(kit, energy=kit_lasting(kit, 3.0))
        counts.append(len(queries))
    assert counts[0] == counts[1] <= 18


def test_the_page_of_a_kit_shows_the_check(client_of):
    kit = a_whole_kit()
    text = client_of(kit.owner).get(kit.get_absolute_url()).content.decode()
    assert "Kit check" in text and "It resonates on 20m; it lasts" in text
    assert "Band by band, with 10.0\xa0W, full of Box" in text
    assert "nothing that is known of" in text


@pytest.mark.parametrize("band", ["2190m", "submm", "11m"])
def test_a_band_at_the_end_of_the_tables_or_beyond_is_no_error(client_of, band):
    kit = a_whole_kit(swept=False, bands=(band, "20m"))
    found = kit_check(kit)
    assert {one.band for one in found.bands} >= {"20m"}
    assert client_of(kit.owner).get(kit.get_absolute_url()).status_code == 200
