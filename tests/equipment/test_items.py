"""Pieces of gear and their arrangements: copied, retired, deleted, with their pictures."""

import datetime
import io

import pytest
from django.core.files.storage import default_storage
from django.db.models import ProtectedError
from PIL import Image

from equipment.models import Antenna, Arrangement, BandSetting, Item, Kit, Pack, PowerSetting, Radio
from tests import making

pytestmark = pytest.mark.django_db

DAY = datetime.date(2026, 3, 4)


def a_jpeg():
    out = io.BytesIO()
    Image.new("RGB", (4, 4)).save(out, "JPEG")
    return out.getvalue()


def test_copying_a_radio_copies_its_power_settings_and_leaves_what_is_its_own():
    radio = making.a_radio(
        maker="Hilltop", model="HR-5", serial="417", weight_kg=0.3, receive_a=0.09, modes=["CW"], acquired_on=DAY,
        retired_on=DAY, notes="fan",
    )
    making.a_power_setting(radio, "low", 0.5, transmit_a=0.3, measured_on=DAY)
    making.a_power_setting(radio, "high", 5)
    twin = Radio.objects.get(pk=radio.copy().pk)
    assert (twin.name, twin.maker, twin.model, twin.weight_kg, twin.receive_a, twin.modes, twin.notes) == (
        "Little radio (copy)", "Hilltop", "HR-5", 0.3, 0.09, ["CW"], "fan"
    )
    assert (twin.serial, twin.acquired_on, twin.retired_on, twin.owner) == ("", None, None, radio.owner)
    assert list(twin.power_settings.values_list("label", "output_w", "transmit_a", "measured_on")) == [
        ("low", 0.5, 0.3, DAY), ("high", 5, None, None)
    ]
    assert (radio.power_settings.count(), PowerSetting.objects.count()) == (2, 4)


def test_copying_an_antenna_copies_arrangements_and_band_settings():
    antenna = making.an_antenna()
    wire = making.an_arrangement(antenna, "wire", element_length_m=12.5, coil="air", bands=["40m"])
    making.a_band_setting(wire, "20m", tap="5", tuner=True)
    making.an_arrangement(antenna, "old", retired_on=DAY)
    twin = Antenna.objects.get(pk=antenna.copy().pk)
    assert [(a.name, a.element_length_m, a.coil, a.retired_on) for a in twin.arrangements.all()] == [
        ("old", None, "", DAY), ("wire", 12.5, "air", None)
    ]
    copied = twin.arrangements.get(name="wire").band_settings
    assert list(copied.values_list("band", "tap", "tuner")) == [("40m", "", False), ("20m", "5", True)]
    assert (wire.band_settings.count(), antenna.arrangements.count()) == (2, 2)


def test_copying_an_arrangement_keeps_it_with_its_antenna_and_in_use():
    wire = making.an_arrangement(bands=["40m"], retired_on=DAY)
    twin = Arrangement.objects.get(pk=wire.copy().pk)
    assert (twin.name, twin.antenna, twin.retired_on) == ("sloping from the mast (copy)", wire.antenna, None)
    assert [setting.band for setting in twin.band_settings.all()] == ["40m"]
    assert BandSetting.objects.count() == 2


def test_what_was_measured_on_a_pack_is_not_copied_to_another():
    pack = making.a_pack(measured_ah=5.6, measured_on=DAY, resistance_ohm=0.045, max_charge_v=14.6)
    making.a_reading(pack)
    twin = Pack.objects.get(pk=pack.copy().pk)
    assert (twin.rated_ah, twin.max_charge_v) == (6.0, 14.6)
    assert (twin.measured_ah, twin.measured_on, twin.resistance_ohm, twin.readings.count()) == (None, None, None, 0)


def test_a_copied_kit_has_the_same_lines_and_arrangements():
    owner = making.an_operator()
    wire = making.an_arrangement(making.an_antenna(owner))
    kit = making.a_kit(owner, items=[(making.a_radio(owner), 2)], arrangements=[wire], notes="bag", retired_on=DAY)
    twin = Kit.objects.get(pk=kit.copy().pk)
    assert (twin.name, twin.notes, twin.retired_on) == ("Shore kit (copy)", "bag", None)
    assert [(line.item.name, line.quantity) for line in twin.lines.all()] == [("Little radio", 2)]
    assert list(twin.arrangements.all()) == [wire]


def test_the_name_of_a_copy_fits_its_column():
    radio = making.a_radio(name="x" * 80)
    assert len(radio.copy().name) == 80


def test_retired_gear_leaves_the_gear_in_use_and_comes_back():
    radio = making.a_radio()
    radio.retire(DAY)
    radio.retire(datetime.date(2026, 9, 9))
    assert (Item.objects.in_use().count(), Item.objects.retired().get().retired_on) == (0, DAY)
    radio.take_back()
    assert Item.objects.in_use().count() == 1


def test_an_arrangement_of_a_retired_antenna_is_not_in_use():
    wire = making.an_arrangement()
    wire.antenna.retire(DAY)
    assert not Arrangement.objects.in_use().exists()
    assert Arrangement.objects.retired().get() == wire


def test_a_piece_knows_its_kind():
    pack = making.a_pack()
    assert Item.objects.get().as_kind() == pack
    assert type(Item.objects.get().as_kind()) is Pack


@pytest.mark.parametrize("text", ["blue", "HILLTOP hr-5", "417", "noisy fan", ""])
def test_gear_is_found_by_any_word_written_about_it(text):
    making.a_radio(name="Blue box", maker="Hilltop", model="HR-5", serial="00417", notes="the fan is noisy")
    assert Item.objects.naming(text).exists()
    assert not Item.objects.naming(f"{text} absent").exists()


def test_a_new_picture_takes_the_place_and_the_file_of_the_old(django_capture_on_commit_callbacks):
    radio = making.a_radio()
    radio.show(a_jpeg())
    old = radio.picture.name
    with django_capture_on_commit_callbacks(execute=True):
        radio.show(a_jpeg())
    assert default_storage.exists(radio.picture.name)
    assert not default_storage.exists(old)
    assert radio.picture_name.endswith(".jpg")
    with django_capture_on_commit_callbacks(execute=True):
        radio.hide()
    assert (Radio.objects.get().picture_name, default_storage.exists(old)) == ("", False)


def test_a_deleted_piece_takes_its_picture_along_but_a_refused_deletion_leaves_it(django_capture_on_commit_callbacks):
    owner = making.an_operator()
    radio = making.a_radio(owner)
    radio.show(a_jpeg())
    kit = making.a_kit(owner, items=[radio])
    with django_capture_on_commit_callbacks(execute=True), pytest.raises(ProtectedError):
        radio.delete()
    assert default_storage.exists(radio.picture.name)
    kit.delete()
    with django_capture_on_commit_callbacks(execute=True):
        radio.delete()
    assert not default_storage.exists(radio.picture.name)
    assert not Item.objects.exists()
