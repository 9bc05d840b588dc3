"""The history of gear: every change leaves a line, shows who made it, and can be taken back, deletions too."""

import pytest

from equipment.models import (
    Antenna,
    Arrangement,
    CannotTakeBack,
    Change,
    Kit,
    PowerSetting,
    Radio,
    gear_history,
)
from outings.models import Site
from tests import making

pytestmark = pytest.mark.django_db


@pytest.fixture
def owner():
    return making.an_operator()


def newest(thing):
    return gear_history.history_of(thing).first()


def test_an_edit_keeps_what_was_and_can_be_taken_back(owner):
    radio = making.a_radio(owner, "Little radio")
    with gear_history.acting_as(owner):
        radio.weight_kg = 0.41
        radio.name = "Small radio"
        radio.save()
    change = newest(radio)
    assert (change.actor, change.action) == (owner, Change.Action.CHANGE)
    assert change.before["name"] == "Little radio" and change.after == {"name": "Small radio", "weight_kg": 0.41}
    assert change.take_back(owner) == 1
    radio.refresh_from_db()
    assert (radio.name, radio.weight_kg) == ("Little radio", change.before["weight_kg"])
    assert newest(radio).cause == "take back"
    newest(radio).take_back(owner)
    assert Radio.objects.get(pk=radio.pk).name == "Small radio", "taking back can be taken back"


def test_what_was_not_changed_leaves_no_line(owner):
    radio = making.a_radio(owner)
    count = gear_history.history_of(radio).count()
    radio.save()
    assert gear_history.history_of(radio).count() == count


def test_a_change_that_moved_on_is_not_taken_back(owner):
    radio = making.a_radio(owner, "One")
    radio.name = "Two"
    radio.save()
    change = newest(radio)
    radio.name = "Three"
    radio.save()
    with pytest.raises(CannotTakeBack, match="changed again since"):
        change.take_back(owner)
    assert Radio.objects.get().name == "Three"


def test_lines_of_a_whole_are_in_its_history(owner):
    setting = making.a_power_setting(making.a_radio(owner))
    radio = setting.radio
    setting.delete()
    assert [change.kind for change in gear_history.history_of(radio)[:2]] == ["equipment.powersetting"] * 2
    newest(radio).take_back(owner)
    back = PowerSetting.objects.get(radio=radio)
    assert (back.pk, back.output_w) == (gear_history.history_of(radio)[0].subject.int, setting.output_w)


def test_a_deleted_piece_comes_back_with_all_that_belonged_to_it(owner):
    arrangement = making.an_arrangement(making.an_antenna(owner, "Long wire"), "sloping")
    band = making.a_band_setting(arrangement)
    antenna, key = arrangement.antenna, arrangement.antenna_id
    with gear_history.acting_as(owner):
        antenna.delete()
    assert not Antenna.objects.exists() and not Arrangement.objects.exists()
    batch = Change.objects.filter(action=Change.Action.DELETE).first().batch
    change = Change.objects.filter(batch=batch, leads=True).get()
    assert change.take_back_batch(owner) == 3
    back = Antenna.objects.get(pk=key)
    assert back.name == "Long wire" and back.owner == owner
    assert back.arrangements.get().band_settings.get().band == band.band


def test_a_new_piece_is_taken_back_unless_it_is_used(owner):
    radio = making.a_radio(owner)
    making.a_stint(making.an_outing(owner), radio=radio)
    with pytest.raises(CannotTakeBack, match="is used since, by a stint"):
        newest(radio).take_back(owner)
    other = making.a_radio(owner, "Not used")
    newest(other).take_back(owner)
    assert not Radio.objects.filter(name="Not used").exists()


def test_what_a_kit_holds_is_followed(owner):
    kit = making.a_kit(owner)
    arrangement = making.an_arrangement(making.an_antenna(owner))
    before = list(kit.arrangements.values_list("pk", flat=True))
    kit.arrangements.add(arrangement)
    change = newest(kit)
    assert change.after == {"arrangements": sorted([*before, arrangement.pk])}
    change.take_back(owner)
    assert list(Kit.objects.get().arrangements.values_list("pk", flat=True)) == before


def test_a_site_is_followed_and_its_page_shows_who_changed_what(owner, client_of):
    site = making.a_site(owner, "Reed Point")
    client = client_of(owner)
    form = client.get(f"/sites/{site.pk}/edit/").context["form"]
    typed = {name: "" if (value := form[name].value()) is None else value for name in form.fields}
    answer = client.post(f"/sites/{site.pk}/edit/", {**typed, "name": "Reed Spit"})
    assert answer.status_code == 302, answer.context["form"].errors
    page = client.get(f"/sites/{site.pk}/").content.decode()
    assert "Reed Point" in page and "Reed Spit" in page and "History" in page
    assert newest(site).actor == owner
    changes = client.get("/contacts/changes/").content.decode()
    assert "Reed Point" in changes
    assert client.post(f"/contacts/changes/{newest(site).pk}/", {}).status_code == 302
    assert Site.objects.get().name == "Reed Point"


def test_every_page_of_gear_shows_its_history(owner, client_of):
    client = client_of(owner)
    things = [
        making.a_radio(owner), making.a_pack(owner), making.a_kit(owner), making.a_feedline(owner),
        making.an_arrangement(making.an_antenna(owner)), making.a_coil(making.an_antenna(owner)),
    ]
    for thing in things:
        page = client.get(thing.get_absolute_url()).content.decode()
        assert "What was changed, newest first" in page, type(thing).__name__


def test_others_do_not_see_or_take_back(owner, client_of):
    radio = making.a_radio(owner)
    stranger = client_of(making.an_operator("Q2DEF"))
    assert stranger.post(f"/contacts/changes/{newest(radio).pk}/").status_code == 404
    assert "Little" not in stranger.get("/contacts/changes/").content.decode()
    assert Radio.objects.exists()


def test_a_deletion_is_shown_and_taken_back_on_the_page_of_changes(owner, client_of):
    radio = making.a_radio(owner, "Gone radio")
    making.a_power_setting(radio)
    client = client_of(owner)
    answer = client.post(f"/gear/{radio.pk}/delete/", {"confirm": "on"})
    assert answer.status_code == 302 and not Radio.objects.exists()
    change = Change.objects.of(owner).leading().first()
    shown = client.get(f"/contacts/changes/{change.pk}/").content.decode()
    assert "Take back all" in shown and "cannot be taken back" not in shown
    client.post(f"/contacts/changes/{change.pk}/", {})
    assert Radio.objects.get(pk=radio.pk).power_settings.count() == 1
