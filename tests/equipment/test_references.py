"""What refers to a piece of gear, and so stands against deleting it."""

import pytest

from equipment import queries
from outings.models import ChecklistLine, Note
from tests import making

pytestmark = pytest.mark.django_db


def said(row):
    return [str(reference) for reference in queries.references(row)]


def test_nothing_refers_to_new_gear_whatever_is_below_it():
    owner = making.an_operator()
    making.a_power_setting(radio := making.a_radio(owner))
    making.an_arrangement(antenna := making.an_antenna(owner), bands=["40m"])
    kit = making.a_kit(owner, items=[making.an_accessory(owner)])
    assert [said(row) for row in (radio, antenna, making.a_pack(owner), kit)] == [[], [], [], []]


def test_a_kit_refers_to_its_items_and_arrangements():
    owner = making.an_operator()
    wire = making.an_arrangement(making.an_antenna(owner))
    making.a_kit(owner, items=[radio := making.a_radio(owner)], arrangements=[wire])
    making.a_kit(owner, "Other kit", items=[radio])
    assert said(radio) == ["2 places in kits"]
    assert said(wire) == ["1 kit"]
    assert said(wire.antenna) == ["1 kit"]


def test_stints_refer_to_radio_pack_and_arrangement_even_when_deleted():
    outing = making.an_outing()
    radio, pack = making.a_radio(outing.owner), making.a_pack(outing.owner)
    wire = making.an_arrangement(making.an_antenna(outing.owner))
    stint = making.a_stint(outing, radio=radio, pack=pack, arrangement=wire)
    making.a_stint(outing, start="2026-05-01 14:30", radio=radio)
    assert (said(radio), said(pack), said(wire), said(wire.antenna)) == (
        ["2 stints"], ["1 stint"], ["1 stint"], ["1 stint"]
    )
    stint.withdraw(outing.owner)
    assert said(radio) == ["1 stint and 1 deleted stint that can come back"]
    assert said(wire) == ["1 deleted stint that can come back"]


def test_an_outing_refers_to_its_kit():
    kit = making.a_kit()
    making.an_outing(kit.owner, kit=kit)
    assert said(kit) == ["1 outing"]


def test_readings_never_go_silently():
    reading = making.a_reading()
    assert said(reading.pack) == ["1 pack reading"]
    reading.withdraw(reading.owner)
    assert said(reading.pack) == []


def test_notes_and_checklists_refer_as_long_as_they_live():
    outing = making.an_outing()
    radio = making.a_radio(outing.owner)
    note = Note(owner=outing.owner)
    note.keep(outing.owner)
    note.radios.add(radio)
    line = ChecklistLine(owner=outing.owner, outing=outing, text="radio", item=radio)
    line.keep(outing.owner)
    assert sorted(said(radio)) == ["1 checklist line", "1 note"]
    note.withdraw(outing.owner)
    line.withdraw(outing.owner)
    assert said(radio) == []
