"""Sweeps as rows: file and points kept, history, withdrawing, what refers to what."""

import pytest
from django.db.models import ProtectedError

from equipment.models import Sweep
from equipment.queries import references
from tests import making

pytestmark = pytest.mark.django_db


def test_file_and_points_come_back_byte_for_byte():
    content = making.a_sweep_file() + b"\r\n! \xe4\xf6\n"
    making.a_sweep(content=content, name="garden.s1p")
    kept = Sweep.objects.get()
    assert bytes(kept.original) == content
    assert len(kept.curve.frequency_hz) == 131 and (kept.low_hz, kept.high_hz) == (13.5e6, 14.8e6)
    assert kept.curve.phase_known and kept.z0_ohm == 50


def test_the_file_is_not_loaded_with_the_rows(django_assert_num_queries):
    making.a_sweep()
    with django_assert_num_queries(1):
        assert len(Sweep.objects.get().curve.frequency_hz) == 131


def test_a_change_is_recorded_and_the_file_stays_out_of_the_history():
    sweep = making.a_sweep()
    sweep = Sweep.objects.get(pk=sweep.pk)
    sweep.place = "meadow"
    sweep.keep(sweep.owner)
    newest, first = sweep.history()
    assert newest.after == {"place": "meadow"} and not {"original", "points"} & set(first.after)
    assert bytes(Sweep.objects.get().original) == making.a_sweep_file()


def test_a_withdrawn_sweep_comes_back_with_its_file():
    sweep = making.a_sweep()
    Sweep.objects.get().withdraw(sweep.owner)
    assert not Sweep.objects.exists()
    gone = Sweep.everything.of(sweep.owner).withdrawn().get()
    gone.bring_back(sweep.owner)
    assert bytes(Sweep.objects.get().original) == making.a_sweep_file()


def test_an_arrangement_with_a_sweep_and_a_line_in_use_are_not_deleted():
    line = making.a_feedline()
    arrangement = making.an_arrangement(making.an_antenna(line.owner), feedline=line)
    making.a_sweep(arrangement, plane="line", feedline=line)
    assert [str(found) for found in references(arrangement)] == ["1 sweep"]
    assert {str(found) for found in references(line)} == {"1 sweep", "1 arrangement"}
    with pytest.raises(ProtectedError):
        line.delete()


def test_a_copy_of_an_arrangement_keeps_its_settings_and_leaves_what_was_measured():
    line = making.a_feedline()
    arrangement = making.an_arrangement(
        making.an_antenna(line.owner), feedline=line, choke="12 turns", ground="sand", far_end_height_m=6, slope_deg=25
    )
    making.a_sweep(arrangement)
    twin = arrangement.copy()
    assert (twin.feedline, twin.choke, twin.ground, twin.far_end_height_m, twin.slope_deg) == (
        line, "12 turns", "sand", 6, 25
    )
    assert not twin.sweeps.exists() and arrangement.sweeps.count() == 1


def test_a_pack_inside_a_radio_is_not_inside_the_copy_of_the_radio():
    radio = making.a_radio()
    pack = making.a_pack(radio.owner, inside=radio)
    assert pack.copy().inside is None
    assert [str(found) for found in references(radio)] == ["1 pack"]
