"""Pages of the kits: packing list, weight, lines and arrangements; what they refuse."""

import datetime

import pytest
from django.test import Client

from equipment.models import Kit, KitItem, Radio
from tests import making

pytestmark = pytest.mark.django_db

DAY = datetime.date(2026, 1, 1)


def lines(kit):
    return list(kit.lines.values_list("item__name", "quantity", "position"))


def a_shore_kit(owner):
    wire = making.an_arrangement(making.an_antenna(owner, weight_kg=0.4), "wire", bands=["40m", "20m"])
    return making.a_kit(
        owner, items=[(making.a_radio(owner, weight_kg=0.31), 2), making.a_feedline(owner)], arrangements=[wire]
    )


def test_a_kit_is_kept_and_the_antenna_of_its_arrangement_goes_along(client_of):
    owner = making.an_operator()
    radio, pack = making.a_radio(owner), making.a_pack(owner)
    wire = making.an_arrangement(making.an_antenna(owner))
    client_of(owner).post("/gear/kits/new/", {
        "name": "Shore kit", "arrangements": [wire.pk], "notes": "bag",
        **making.typed_rows(
            {"item": pack.pk, "quantity": "2"}, {"item": radio.pk, "quantity": ""}, {"item": "", "quantity": "1"}
        ),
    })
    kit = Kit.objects.get()
    assert (kit.owner, kit.name, kit.notes, list(kit.arrangements.all())) == (owner, "Shore kit", "bag", [wire])
    assert lines(kit) == [("Pack one", 2, 0), ("Little radio", 1, 1), ("Wire antenna", 1, 2)]


def test_a_kit_page_shows_the_packing_list_the_weight_and_the_bands(client_of):
    kit = a_shore_kit(making.an_operator())
    page = client_of(kit.owner).get(f"/gear/kits/{kit.pk}/").content.decode()
    for text in ("620\u00a0g", "1 of 3 not weighed", "at least 1.02\u00a0kg", "40m", "Wire antenna: wire"):
        assert text in page


def test_the_list_of_kits_shows_those_in_use_or_all(client_of):
    kit = a_shore_kit(making.an_operator())
    making.a_kit(kit.owner, "Old kit", retired_on=DAY)
    making.a_kit(making.an_operator("Q2DEF"), "Kit of another")
    client = client_of(kit.owner)
    page = client.get("/gear/kits/").content.decode()
    assert "Shore kit" in page
    assert "at least" in page
    assert "Old kit" not in page
    everything = client.get("/gear/kits/?state=all").content.decode()
    assert "Old kit" in everything
    assert "Kit of another" not in everything


def test_lines_are_changed_removed_and_added(client_of):
    kit = a_shore_kit(making.an_operator())
    radio, line = kit.lines.all()
    mast = making.an_accessory(kit.owner)
    client_of(kit.owner).post(f"/gear/kits/{kit.pk}/edit/", {
        "name": "Other kit",
        **making.typed_rows(
            {"id": radio.pk, "kit": kit.pk, "item": radio.item_id, "quantity": "2", "DELETE": "on"},
            {"id": line.pk, "kit": kit.pk, "item": line.item_id, "quantity": "3"},
            {"item": mast.pk, "quantity": "1"}, before=2,
        ),
    })
    kit.refresh_from_db()
    assert (kit.name, lines(kit), kit.arrangements.count()) == ("Other kit", [("Thin coax", 3, 0), ("Mast", 1, 1)], 0)


def test_the_form_offers_gear_in_use_and_what_the_kit_has_already(client_of):
    kit = a_shore_kit(making.an_operator())
    making.a_radio(kit.owner, "Retired elsewhere", retired_on=DAY)
    making.an_arrangement(making.an_antenna(kit.owner, "Retired whip", retired_on=DAY), "whip on the car")
    kit.lines.first().item.retire(DAY)
    page = client_of(kit.owner).get(f"/gear/kits/{kit.pk}/edit/").content.decode()
    assert "Little radio (retired)" in page
    assert "Retired elsewhere" not in page
    assert "whip on the car" not in page


def test_the_form_takes_as_many_queries_with_much_gear_and_many_lines(client_of, django_assert_max_num_queries):
    owner = making.an_operator()
    items = [making.an_accessory(owner, f"Clamp {number}") for number in range(40)]
    kit = making.a_kit(owner, items=items[:20])
    client = client_of(owner)
    with django_assert_max_num_queries(8):
        client.get(f"/gear/kits/{kit.pk}/edit/")


def a_typed_kit(owner, **fields):
    radio = making.a_radio(owner)
    return radio, {"name": "Kit", **making.typed_rows({"item": radio.pk, "quantity": "1"}), **fields}


@pytest.mark.parametrize(
    ("fields", "said"),
    [
        ({"name": ""}, "This field is required"),
        ({"rows-0-quantity": "0"}, "greater than or equal to 1"),
        ({"rows-0-quantity": "100"}, "less than or equal to 99"),
        ({"rows-0-quantity": "two"}, "whole number"),
        ({"rows-0-item": "999999"}, "not one of the available choices"),
        ({"rows-0-item": "x"}, "not one of the available choices"),
        ({"arrangements": ["999999"]}, "not one of the available choices"),
    ],
)
def test_a_kit_that_cannot_be_is_refused_and_keeps_what_was_typed(client_of, fields, said):
    owner = making.an_operator()
    _, data = a_typed_kit(owner, notes="kept", **fields)
    answer = client_of(owner).post("/gear/kits/new/", data)
    assert answer.status_code == 422
    assert said in answer.content.decode()
    assert "kept</textarea>" in answer.content.decode()
    assert not Kit.objects.exists()


def test_an_item_stands_once_in_a_kit(client_of):
    owner = making.an_operator()
    radio, _ = a_typed_kit(owner)
    twice = making.typed_rows({"item": radio.pk, "quantity": "1"}, {"item": radio.pk, "quantity": "2"})
    data = {"name": "Kit", **twice}
    answer = client_of(owner).post("/gear/kits/new/", data)
    assert answer.status_code == 422
    assert "Little radio stands here twice" in answer.content.decode()


def test_gear_and_arrangements_of_another_do_not_come_into_a_kit(client_of):
    owner, other = making.an_operator(), making.an_operator("Q2DEF")
    theirs, wire = making.a_radio(other), making.an_arrangement(making.an_antenna(other))
    for data in (
        {"name": "Kit", **making.typed_rows({"item": theirs.pk, "quantity": "1"})},
        {"name": "Kit", "arrangements": [wire.pk], **making.typed_rows()},
    ):
        answer = client_of(owner).post("/gear/kits/new/", data)
        assert answer.status_code == 422
        assert "not one of the available choices" in answer.content.decode()
    assert not KitItem.objects.exists()


def test_an_antenna_does_not_leave_while_its_arrangement_stays(client_of):
    owner = making.an_operator()
    wire = making.an_arrangement(making.an_antenna(owner), "wire")
    kit = making.a_kit(owner, items=[wire.antenna], arrangements=[wire])
    line = kit.lines.get()
    row = {"id": line.pk, "kit": kit.pk, "item": line.item_id, "quantity": "1", "DELETE": "on"}
    data = {"name": "Kit", "arrangements": [wire.pk], **making.typed_rows(row, before=1)}
    answer = client_of(owner).post(f"/gear/kits/{kit.pk}/edit/", data)
    assert answer.status_code == 422
    assert "its arrangement wire is still ticked" in answer.content.decode()
    assert kit.lines.exists()


def test_more_lines_come_without_losing_what_was_typed(client_of):
    owner = making.an_operator()
    radio, data = a_typed_kit(owner, more="1", name="half a na")
    page = client_of(owner).post("/gear/kits/new/", data).content.decode()
    assert 'value="half a na"' in page
    assert f'<option value="{radio.pk}" selected>' in page
    assert 'name="rows-3-item"' in page
    assert not Kit.objects.exists()


def test_a_kit_is_copied_retired_taken_back_and_deleted(client_of):
    kit = a_shore_kit(making.an_operator())
    client = client_of(kit.owner)
    client.post(f"/gear/kits/{kit.pk}/copy/")
    assert lines(Kit.objects.exclude(pk=kit.pk).get()) == lines(kit)
    client.post(f"/gear/kits/{kit.pk}/retire/")
    assert Kit.objects.retired().get() == kit
    client.post(f"/gear/kits/{kit.pk}/take-back/")
    assert not Kit.objects.retired().exists()
    client.post(f"/gear/kits/{kit.pk}/delete/")
    assert not Kit.objects.filter(pk=kit.pk).exists()
    assert Radio.objects.count() == 1


def test_a_kit_of_an_outing_is_not_deleted(client_of):
    kit = making.a_kit()
    making.an_outing(kit.owner, kit=kit)
    answer = client_of(kit.owner).post(f"/gear/kits/{kit.pk}/delete/")
    assert (answer.status_code, Kit.objects.count()) == (409, 1)
    assert "1 outing" in answer.content.decode()


WRITES = ["edit/", "copy/", "retire/", "take-back/", "delete/"]


def state():
    return list(Kit.objects.values()), list(KitItem.objects.values())


def test_nobody_sees_or_changes_the_kit_of_another(client_of):
    kit, other = a_shore_kit(making.an_operator()), client_of(making.an_operator("Q2DEF"))
    before = state()
    assert {other.get(f"/gear/kits/{kit.pk}/{page}").status_code for page in ("", "edit/", "delete/")} == {404}
    assert {other.post(f"/gear/kits/{kit.pk}/{write}", {"name": "x"}).status_code for write in WRITES} == {404}
    assert state() == before


def test_a_visitor_is_sent_to_log_in_and_changes_no_kit():
    kit, visitor = a_shore_kit(making.an_operator()), Client()
    before = state()
    for address in ("/gear/kits/", "/gear/kits/new/", *(f"/gear/kits/{kit.pk}/{write}" for write in WRITES)):
        assert visitor.post(address, {"name": "x"}).url.startswith("/login/")
    assert state() == before
