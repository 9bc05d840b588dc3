"""Which arrangement resonates on which band: the newest sweep, else a model, else not known."""

import pytest

from equipment.models import Coil, CoilTap
from equipment.queries import resonance
from equipment.templatetags import sweeps as words
from tests import making

pytestmark = pytest.mark.django_db


def known(arrangement, band="20m"):
    return resonance.resonances([arrangement], [band])[arrangement.pk, band]


def test_a_sweep_says_swr_width_and_resonance_with_its_date():
    arrangement = making.an_arrangement(bands=("20m",))
    sweep = making.a_sweep(arrangement)
    found = known(arrangement)
    assert (found.source, found.fits, found.sweep_id, found.taken_at) == ("measured", True, sweep.pk, sweep.taken_at)
    assert found.lowest_swr == pytest.approx(50 / 42, rel=1e-3) and found.lowest_hz == pytest.approx(14.15e6, rel=1e-4)
    assert found.resonance_hz == pytest.approx(14.15e6, rel=1e-5) and found.points == 131
    assert found.is_whole and found.usable_width_hz == pytest.approx(350e3)
    assert words.verdict(found) == "resonates, measured"
    assert words.evidence(found).replace("\u00a0", " ") == (
        "SWR 1.19 at 14.15 MHz, 2 or less on all of the band; swept on 2026-05-01, at the feedpoint"
    )


def test_the_newest_sweep_that_was_set_for_the_band_decides():
    arrangement = making.an_arrangement(bands=("20m", "40m"))
    making.a_sweep(arrangement, making.a_sweep_file(ohm=400), at="2026-01-01 10:00", band="20m")
    newest = making.a_sweep(arrangement, at="2026-03-01 10:00", band="20m")
    making.a_sweep(arrangement, making.a_sweep_file(5, 16, resonance_mhz=7.1), at="2026-05-01 10:00", band="40m")
    assert known(arrangement).sweep_id == newest.pk and known(arrangement).fits
    assert known(arrangement, "40m").fits and known(arrangement, "40m").taken_at.month == 5
    newest.withdraw(newest.owner)
    assert known(arrangement).fits is False


def test_a_sweep_that_misses_the_band_says_where_the_resonance_lies():
    arrangement = making.an_arrangement(bands=("20m",))
    making.a_sweep(arrangement, making.a_sweep_file(resonance_mhz=13.6, q=25))
    found = known(arrangement)
    assert found.fits is False and found.verdict == "does not resonate" and found.usable_hz == ()
    assert "resonance at 13.60\u00a0MHz" in words.evidence(found)


def test_a_tuner_that_is_noted_takes_the_band_through():
    arrangement = making.an_arrangement()
    making.a_band_setting(arrangement, "20m", tuner=True)
    making.a_sweep(arrangement, making.a_sweep_file(ohm=300))
    assert known(arrangement).verdict == words.verdict(known(arrangement)) == "through the tuner"


def test_a_sweep_of_a_part_of_the_band_says_so():
    arrangement = making.an_arrangement(bands=("20m",))
    making.a_sweep(arrangement, making.a_sweep_file(14.1, 14.6))
    found = known(arrangement)
    assert found.fits and not found.is_whole and not found.is_swept_whole
    assert words.verdict(found) == "resonates on a part, measured"
    assert "a part of the band was swept" in words.evidence(found)


def test_a_sweep_through_the_line_is_judged_at_the_feedpoint():
    line = making.a_feedline(line_type="RG-174", length_m=20)
    arrangement = making.an_arrangement(making.an_antenna(line.owner), bands=("20m",))
    making.a_sweep(arrangement, making.a_sweep_file(ohm=90), plane="line", feedline=line)
    lossy = known(arrangement)
    assert lossy.plane == "feedpoint" and lossy.lowest_swr > 2.3 and lossy.fits is False
    line.length_m = None
    line.save()
    unmoved = known(arrangement)
    assert unmoved.plane == "radio" and unmoved.lowest_swr == pytest.approx(1.8, rel=1e-2)
    assert "through the feedline" in words.evidence(unmoved)


@pytest.mark.parametrize(
    ("fields", "band", "source", "fits"),
    [({"orientation": "horizontal", "element_length_m": 10.1, "feedpoint_height_m": 8}, "20m", "model", True),
     ({"orientation": "horizontal", "element_length_m": 10.1}, "40m", "model", False),
     ({"orientation": "inverted V", "element_length_m": 20.0}, "40m", "model", True),
     ({"orientation": "vertical", "element_length_m": 5.1, "radials": 4}, "20m", "model", True),
     ({"orientation": "vertical", "element_length_m": 5.1, "radials": 4}, "40m", "model", False),
     ({"orientation": "vertical", "element_length_m": 5.1}, "20m", "not known", None),
     ({"orientation": "sloping", "element_length_m": 20.2, "transformer": "49:1"}, "20m", "model", True),
     ({"orientation": "sloping", "element_length_m": 20.2, "transformer": "9:1"}, "20m", "not known", None),
     ({"orientation": "sloping", "element_length_m": 20.2}, "20m", "not known", None),
     ({"orientation": "vertical", "radials": 4}, "20m", "not known", None),
     ({"orientation": "vertical", "element_length_m": 2.6, "coil": "big"}, "40m", "not known", None),
     ({"orientation": "vertical", "element_length_m": 5.18, "coil": "big"}, "20m", "model", True),
     ({"orientation": "vertical", "element_length_m": 5.18, "coil": "big"}, "15m", "model", False),
     ({"orientation": "vertical", "element_length_m": 0.004, "coil": "big"}, "40m", "not known", None)],
)
def test_without_a_sweep_the_model_speaks_where_the_settings_allow(fields, band, source, fits):
    found = known(making.an_arrangement(bands=(band,), **fields), band)
    assert (found.source, found.fits) == (source, fits)
    assert "never swept" in found.why and "never swept" in words.evidence(found)
    assert found.verdict == {True: "resonates", False: "does not resonate", None: "not known"}[fits]


def test_the_length_of_the_band_setting_counts_before_that_of_the_arrangement():
    arrangement = making.an_arrangement(orientation="horizontal", element_length_m=20.0)
    making.a_band_setting(arrangement, "20m", element_length_m=10.1)
    assert known(arrangement).fits


def test_the_tap_of_a_coil_says_where_the_whip_resonates_also_with_another_whip():
    arrangement = making.an_arrangement(bands=("40m",), orientation="vertical", element_length_m=2.6, coil="big")
    coil = Coil.objects.create(owner=arrangement.owner, antenna=arrangement.antenna, name="big")
    CoilTap.objects.create(coil=coil, band="40m", label="3", whip_length_m=2.6, frequency_hz=7.1e6)
    found = known(arrangement, "40m")
    assert (found.source, found.fits, found.resonance_hz) == ("model", True, 7.1e6) and "with this whip" in found.why
    arrangement.element_length_m = 1.5
    arrangement.save()
    found = known(arrangement, "40m")
    assert found.fits is False and found.resonance_range_hz[0] > 7.5e6 and "with another whip" in found.why


def a_full_kit(count=1):
    antenna = making.an_antenna()
    rows = []
    for number in range(count):
        row = making.an_arrangement(antenna, f"way {number}", bands=("20m", "40m"), coil="big", element_length_m=3)
        making.a_sweep(row, band="20m")
        rows.append(row)
    coil = Coil.objects.create(owner=antenna.owner, antenna=antenna, name="big")
    CoilTap.objects.create(coil=coil, band="40m", whip_length_m=3, frequency_hz=7.1e6)
    return making.a_kit(antenna.owner, arrangements=rows)


@pytest.mark.parametrize("count", [1, 7])
def test_a_kit_takes_the_same_queries_whatever_it_holds(count, django_assert_max_num_queries):
    kit = a_full_kit(count)
    with django_assert_max_num_queries(8):
        lines = resonance.kit_bands(kit, ["20m", "40m", "10m"])
    assert [(line.band, len(line.rows)) for line in lines] == [("20m", count), ("40m", count), ("10m", 0)]
    assert [line.best is None for line in lines] == [False, False, True]


def test_what_was_measured_comes_before_what_a_model_says_and_counts_without_a_setting():
    antenna = making.an_antenna()
    modelled = making.an_arrangement(antenna, "a", bands=("20m",), orientation="horizontal", element_length_m=10.1)
    swept = making.an_arrangement(antenna, "b")
    making.a_sweep(swept)
    retired = making.an_arrangement(antenna, "c", retired_on="2026-01-01")
    making.a_sweep(retired)
    (line,) = resonance.kit_bands(making.a_kit(antenna.owner, arrangements=[modelled, swept, retired]), ["20m"])
    assert [row.settings.arrangement for row in line.rows] == ["b", "a"]
    assert line.best.settings.arrangement_id == swept.pk and not line.best.resonance.is_set


def test_of_two_measured_arrangements_the_wider_comes_first():
    antenna = making.an_antenna()
    rows = [making.an_arrangement(antenna, name, bands=("20m",)) for name in "ab"]
    making.a_sweep(rows[0], making.a_sweep_file(q=90))
    making.a_sweep(rows[1], making.a_sweep_file(q=20))
    (line,) = resonance.kit_bands(making.a_kit(antenna.owner, arrangements=rows), ["20m"])
    assert [row.settings.arrangement for row in line.rows] == ["b", "a"]


def test_names_that_are_no_bands_are_left_out():
    arrangement = making.an_arrangement(bands=("20m",))
    assert set(resonance.resonances([arrangement.pk], ["20m", "19m"])) == {(arrangement.pk, "20m")}
