"""Pages of the gear: list, piece, arrangement; what they write and what they refuse."""

import datetime

import pytest
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from equipment.models import Accessory, Antenna, Arrangement, Feedline, Item, Pack, Radio
from outings.models import Note
from tests import making

pytestmark = pytest.mark.django_db


def a_typed_radio(**fields):
    return {
        "name": "Blue box", "weight_kg": "0,31", "receive_a": "90 mA", "modes": ["CW", "SSB"],
        "other_modes": "olivia, CW", "typed_in": "metric",
        **making.typed_rows(
            {"label": "low", "output_w": "500 mW"}, {"label": "high", "output_w": "5", "transmit_a": "1,1"},
            {"label": "", "output_w": ""},
        ),
        **fields,
    }


# --- the list ---------------------------------------------------------------------------------------------------------


def test_the_list_shows_own_gear_in_use_and_what_tells_it_apart(client_of):
    owner = making.an_operator()
    making.a_power_setting(making.a_radio(owner, "Blue box", weight_kg=0.31), output_w=5)
    making.a_pack(owner, retired_on=datetime.date(2026, 1, 1))
    making.a_radio(making.an_operator("Q2DEF"), "Radio of another")
    page = client_of(owner).get("/gear/").content.decode()
    assert "Blue box" in page
    assert "1 power setting, up to 5\u00a0W" in page
    assert "310\u00a0g" in page
    assert "Pack one" not in page
    assert "Radio of another" not in page


def test_all_of_the_lists_state_is_in_its_address(client_of):
    owner = making.an_operator()
    making.a_radio(owner, "Blue box", maker="Hilltop", retired_on=datetime.date(2026, 1, 1))
    making.a_pack(owner, "Hilltop pack")
    page = client_of(owner).get("/gear/?q=hilltop&kind=radio&state=retired&sort=-weight").content.decode()
    assert "Blue box" in page
    assert "Hilltop pack" not in page
    assert 'value="hilltop"' in page
    assert '<option value="-weight" selected>' in page
    assert 'aria-sort="descending"' in page


@pytest.mark.parametrize("query", ["kind=nonsense", "state=x", "sort=owner__password", "page=x", "page=999", "q=%00"])
def test_an_address_that_makes_no_sense_still_gives_a_list(client_of, query):
    owner = making.an_operator()
    making.a_radio(owner)
    answer = client_of(owner).get(f"/gear/?{query}")
    assert answer.status_code == 200


def test_htmx_gets_the_rows_only_and_caches_know(client_of):
    owner = making.an_operator()
    making.a_radio(owner)
    client = client_of(owner)
    part = client.get("/gear/?q=little", headers={"HX-Request": "true"})
    assert part.content.decode().lstrip().startswith("<p")
    assert "<!doctype" in client.get("/gear/?q=little").content.decode()
    assert "HX-Request" in part["Vary"]


def test_an_empty_list_says_what_to_do(client_of):
    client = client_of(making.an_operator())
    assert "No gear in use yet" in client.get("/gear/").content.decode()
    assert "Nothing fits" in client.get("/gear/?q=absent").content.decode()


def test_the_list_takes_as_many_queries_with_two_hundred_pieces(client_of, django_assert_num_queries):
    owner = making.an_operator()
    making.a_radio(owner)
    client = client_of(owner)
    client.get("/gear/")
    with django_assert_num_queries(9):  # session, operator, count, pieces, arrangements, power settings, 3: due
        client.get("/gear/")
    for number in range(50):
        making.a_pack(owner, f"Pack {number:02d}")
        making.a_feedline(owner, f"Line {number:02d}")
        making.an_arrangement(making.an_antenna(owner, f"Wire {number:02d}"))
        making.a_power_setting(making.a_radio(owner, f"Radio {number:02d}"))
    with django_assert_num_queries(9):
        page = client.get("/gear/").content.decode()
    assert "1–100 of 201 pieces" in page
    assert "?page=2" in page


# --- pieces -----------------------------------------------------------------------------------------------------------


def test_a_radio_is_kept_with_its_power_settings(client_of):
    owner = making.an_operator()
    answer = client_of(owner).post("/gear/new/radio/", a_typed_radio())
    radio = Radio.objects.get()
    assert answer.url == reverse("equipment:item", args=[radio.pk])
    assert (radio.owner, radio.weight_kg, radio.receive_a) == (owner, 0.31, 0.09)
    assert radio.modes == ["CW", "SSB", "OLIVIA"]
    assert list(radio.power_settings.values_list("label", "output_w", "transmit_a")) == [
        ("low", 0.5, None), ("high", 5, 1.1)
    ]


@pytest.mark.parametrize(
    ("kind", "model", "fields"),
    [
        ("antenna", Antenna, {}),
        ("pack", Pack, {"chemistry": "LiFePO4", "cells_in_series": "4", "rated_ah": "6000 mAh"}),
        ("feedline", Feedline, {"line_type": "RG-316", "length_m": "25 ft"}),
        ("accessory", Accessory, {"serial": "1", "acquired_on": "2026-01-02"}),
    ],
)
def test_each_kind_is_kept_and_shown(client_of, kind, model, fields):
    owner = making.an_operator()
    client = client_of(owner)
    assert client.get(f"/gear/new/{kind}/").status_code == 200
    answer = client.post(f"/gear/new/{kind}/", {"name": "Thing", "notes": "a <b>note</b>", **fields}, follow=True)
    assert model.objects.get().owner == owner
    page = answer.content.decode()
    assert "Thing is kept." in page
    assert "a &lt;b&gt;note&lt;/b&gt;" in page


def test_what_a_radio_has_is_on_its_page(client_of):
    owner = making.an_operator(units="imperial")
    radio = making.a_radio(owner, serial="00417", weight_kg=0.45359237, receive_a=0.09, modes=["CW"])
    making.a_power_setting(radio, "low", 0.5, transmit_a=0.31, measured_on=datetime.date(2026, 4, 1))
    kit = making.a_kit(owner, items=[radio])
    page = client_of(owner).get(f"/gear/{radio.pk}/").content.decode()
    for text in ("00417", "1\u00a0lb", "500\u00a0mW", "0.310\u00a0A", "2026-04-01", kit.name):
        assert text in page


def test_a_pack_page_shows_limits_the_last_readings_and_cautions(client_of):
    pack = making.a_pack(measured_ah=5.6, resistance_ohm=0.045, max_charge_a=3, max_charge_v=14.6)
    making.a_reading(pack, 13.31, doing="resting", temperature_c=-3.5)
    page = client_of(pack.owner).get(f"/gear/{pack.pk}/").content.decode()
    for text in ("5.6\u00a0Ah", "45.0\u00a0mΩ", "14.60\u00a0V", "13.31\u00a0V", "resting", "fuse", "below freezing"):
        assert text in page


def test_an_antenna_with_many_arrangements_takes_as_many_queries_as_with_one(client_of, django_assert_num_queries):
    antenna = making.an_antenna()
    for number in range(10):
        making.an_arrangement(antenna, f"way {number}", bands=["20m", "40m"])
    client = client_of(antenna.owner)
    # session, operator, item, antenna, its arrangements, bands, coils, notes, history twice, kits
    with django_assert_num_queries(11):
        client.get(f"/gear/{antenna.pk}/")


def test_a_changed_piece_is_saved_and_a_row_removed(client_of):
    owner = making.an_operator()
    radio = making.a_radio(owner)
    low, high = making.a_power_setting(radio), making.a_power_setting(radio, "high", 10)
    data = {
        "name": "Other name", **making.typed_rows(
            {"id": low.pk, "radio": radio.pk, "label": "low", "output_w": "4"},
            {"id": high.pk, "radio": radio.pk, "label": "high", "output_w": "10", "DELETE": "on"},
            {"label": "middle", "output_w": "7"}, before=2,
        ),
    }
    client_of(owner).post(f"/gear/{radio.pk}/edit/", data)
    radio.refresh_from_db()
    assert (radio.name, list(radio.power_settings.values_list("label", "output_w"))) == (
        "Other name", [("low", 4), ("middle", 7)]
    )


def test_saving_a_form_as_it_is_shown_changes_nothing(client_of):
    """Values that feet and pounds cannot show exactly stay what they are to the last bit."""
    owner = making.an_operator(units="imperial")
    line = making.a_feedline(owner, length_m=7.123456789, weight_kg=0.1)
    wire = making.an_arrangement(making.an_antenna(owner), element_length_m=12.5, azimuth_deg=22.5)
    making.a_band_setting(wire, "20m", element_length_m=10.111111111)
    client = client_of(owner)
    for address, row in ((f"/gear/{line.pk}/edit/", line), (f"/gear/arrangements/{wire.pk}/edit/", wire)):
        form = client.get(address).context["form"]
        data = {bound.html_name: "" if bound.value() is None else bound.value() for bound in form}
        for part in [form.rows.management_form, *form.rows.forms] if hasattr(form, "rows") else []:
            data.update({bound.html_name: bound.value() for bound in part if bound.value() not in (None, False)})
        assert client.post(address, data).status_code == 302
        before = {field.attname: getattr(row, field.attname) for field in row._meta.concrete_fields}
        row.refresh_from_db()
        assert {field.attname: getattr(row, field.attname) for field in row._meta.concrete_fields} == before
    assert wire.band_settings.get().element_length_m == 10.111111111


def test_feet_stay_feet_when_the_preference_changes_while_the_form_is_open(client_of):
    owner = making.an_operator(units="imperial")
    line = making.a_feedline(owner, length_m=1)
    client = client_of(owner)
    shown = client.get(f"/gear/{line.pk}/edit/").context["form"]["typed_in"].value()
    owner.units = "metric"
    owner.save()
    client.post(f"/gear/{line.pk}/edit/", {"name": "Line", "length_m": "25", "typed_in": shown})
    line.refresh_from_db()
    assert line.length_m == 7.62


def test_more_rows_come_without_losing_or_checking_what_was_typed(client_of):
    owner = making.an_operator()
    answer = client_of(owner).post("/gear/new/radio/", a_typed_radio(name="", weight_kg="heavy", more="1"))
    page = answer.content.decode()
    assert answer.status_code == 200
    assert 'value="heavy"' in page
    assert 'value="500 mW"' in page
    assert 'name="rows-5-label"' in page
    assert 'name="rows-6-label"' not in page
    assert "error-summary" not in page
    assert not Item.objects.exists()


@pytest.mark.parametrize("total", ["", "x", "-5", "9999999999", "60"])
def test_more_rows_than_make_sense_are_not_given(client_of, total):
    data = a_typed_radio(more="1", **{"rows-TOTAL_FORMS": total})
    answer = client_of(making.an_operator()).post("/gear/new/radio/", data)
    assert answer.status_code == 200
    assert answer.content.decode().count("data-grow-row>") <= 61


def test_a_row_of_another_is_not_reached_through_a_form_of_ones_own(client_of):
    theirs = making.a_power_setting(making.a_radio(making.an_operator("Q2DEF")), "theirs")
    radio = making.a_radio()
    for before in (0, 1):
        row = {"id": theirs.pk, "radio": radio.pk, "label": "stolen", "output_w": "1"}
        data = {"name": "Radio", **making.typed_rows(row, before=before)}
        client_of(radio.owner).post(f"/gear/{radio.pk}/edit/", data)
        theirs.refresh_from_db()
        assert (theirs.label, theirs.radio.owner.call_sign) == ("theirs", "Q2DEF")


@pytest.mark.parametrize("changes", [{"rows-INITIAL_FORMS": "x"}, {"rows-0-id": "x"}, {"rows-0-id": ""}])
def test_rows_that_do_not_fit_what_is_stored_are_refused_without_a_crash(client_of, changes):
    radio = making.a_radio()
    setting = making.a_power_setting(radio)
    row = {"id": setting.pk, "radio": radio.pk, "label": "changed", "output_w": "1"}
    data = {"name": "Radio", **making.typed_rows(row, before=1), **changes}
    assert client_of(radio.owner).post(f"/gear/{radio.pk}/edit/", data).status_code == 422
    assert radio.power_settings.get().label == "low"


def test_a_row_of_a_band_is_removed_and_the_band_given_to_another_at_once(client_of):
    wire = making.an_arrangement(bands=["20m"])
    old = wire.band_settings.get()
    row = {"id": old.pk, "arrangement": wire.pk, "band": "20m", "DELETE": "on"}
    data = {"name": "wire", **making.typed_rows(row, {"band": "20m", "tap": "5"}, before=1)}
    answer = client_of(wire.owner).post(f"/gear/arrangements/{wire.pk}/edit/", data)
    assert answer.status_code == 302
    assert wire.band_settings.get().tap == "5"


def test_two_bands_change_places(client_of):
    wire = making.an_arrangement(bands=["20m", "40m"])
    first, second = wire.band_settings.all()
    data = {"name": "wire", **making.typed_rows(
        {"id": first.pk, "arrangement": wire.pk, "band": "40m"},
        {"id": second.pk, "arrangement": wire.pk, "band": "20m"}, before=2,
    )}
    answer = client_of(wire.owner).post(f"/gear/arrangements/{wire.pk}/edit/", data)
    assert answer.status_code == 302
    assert [setting.band for setting in wire.band_settings.all()] == ["40m", "20m"]


@pytest.mark.parametrize(
    ("fields", "said"),
    [
        ({"name": ""}, "This field is required"),
        ({"weight_kg": "heavy"}, "“heavy” is not a weight"),
        ({"weight_kg": "-1"}, "cannot be below zero"),
        ({"weight_kg": "501"}, "cannot be above 500 kg"),
        ({"acquired_on": "2999-01-01"}, "has not come yet"),
        ({"acquired_on": "0026-01-01"}, "four digits"),
        ({"acquired_on": "yesterday"}, "Enter a valid date"),
        ({"modes": ["TELEPATHY"]}, "not one of the available choices"),
        ({"receive_a": "1e999"}, "is not a current"),
        ({"rows-0-output_w": ""}, "This field is required"),
        ({"rows-0-output_w": "loud"}, "“loud” is not a power"),
        ({"rows-1-label": "low"}, "low stands here twice"),
        ({"rows-TOTAL_FORMS": "x"}, "ManagementForm data is missing"),
    ],
)
def test_a_radio_that_cannot_be_is_refused_and_keeps_what_was_typed(client_of, fields, said):
    answer = client_of(making.an_operator()).post("/gear/new/radio/", a_typed_radio(notes="kept", **fields))
    page = answer.content.decode()
    assert answer.status_code == 422
    assert said in page
    assert "error-summary" in page
    assert ">\nkept</textarea>" in page
    assert not Item.objects.exists()


@pytest.mark.parametrize(
    ("fields", "said"),
    [
        ({"chemistry": "steam"}, "not one of the available choices"),
        ({"cells_in_series": "0"}, "greater than or equal to 1"),
        ({"cells_in_series": "401"}, "cannot be carried"),
        ({"cells_in_series": "four"}, "whole number"),
        ({"nominal_v": "24"}, "4 LiFePO4 cells in series lie between 8.0 and 14.8 V"),
        ({"max_charge_v": "16"}, "lie between 8.0 and 14.8 V"),
        ({"cutoff_v": "13"}, "below the lowest voltage"),
        ({"measured_ah": "12.1"}, "twice the rated capacity"),
        ({"measured_on": "2026-01-01"}, "no capacity was written down"),
        ({"resistance_ohm": "101"}, "cannot be above 100 Ω"),
    ],
)
def test_a_pack_that_cannot_be_is_refused(client_of, fields, said):
    data = {
        "name": "Pack", "chemistry": "LiFePO4", "cells_in_series": "4", "rated_ah": "6", "nominal_v": "12.8", **fields
    }
    answer = client_of(making.an_operator()).post("/gear/new/pack/", data)
    assert answer.status_code == 422
    assert said in answer.content.decode()
    assert not Pack.objects.exists()


def test_a_piece_cannot_have_come_after_it_was_retired(client_of):
    mast = making.an_accessory(retired_on=datetime.date(2025, 1, 1))
    answer = client_of(mast.owner).post(f"/gear/{mast.pk}/edit/", {"name": "Mast", "acquired_on": "2025-06-01"})
    assert answer.status_code == 422
    assert "retired on 2025-01-01" in answer.content.decode()


def test_a_kind_that_there_is_not_has_no_form(client_of):
    assert client_of(making.an_operator()).get("/gear/new/submarine/").status_code == 404


def test_a_copy_is_opened_for_its_name(client_of):
    radio = making.a_radio()
    making.a_power_setting(radio)
    answer = client_of(radio.owner).post(f"/gear/{radio.pk}/copy/", follow=True)
    twin = Radio.objects.exclude(pk=radio.pk).get()
    assert answer.request["PATH_INFO"] == f"/gear/{twin.pk}/edit/"
    assert "Little radio (copy)" in answer.content.decode()
    assert twin.power_settings.count() == 1


def test_a_piece_is_retired_and_taken_back(client_of):
    radio = making.a_radio()
    client, before = client_of(radio.owner), timezone.now().date()
    page = client.post(f"/gear/{radio.pk}/retire/", follow=True).content.decode()
    assert "Take back into use" in page
    assert before <= Radio.objects.get().retired_on <= timezone.now().date()
    page = client.post(f"/gear/{radio.pk}/take-back/", follow=True).content.decode()
    assert "Take back into use" not in page
    assert Radio.objects.get().retired_on is None


def test_what_nothing_refers_to_is_deleted_after_a_question(client_of):
    radio = making.a_radio()
    client = client_of(radio.owner)
    assert "Delete Little radio?" in client.get(f"/gear/{radio.pk}/delete/").content.decode()
    assert Radio.objects.exists()
    page = client.post(f"/gear/{radio.pk}/delete/", follow=True).content.decode()
    assert "Little radio is deleted." in page
    assert not Item.objects.exists()


def test_what_something_refers_to_is_not_deleted_but_may_be_retired(client_of):
    outing = making.an_outing()
    radio = making.a_radio(outing.owner)
    making.a_stint(outing, radio=radio)
    making.a_kit(outing.owner, items=[radio])
    client = client_of(outing.owner)
    for answer, status in (
        (client.get(f"/gear/{radio.pk}/delete/"), 200), (client.post(f"/gear/{radio.pk}/delete/"), 409)
    ):
        page = answer.content.decode()
        assert answer.status_code == status
        assert "Little radio cannot be deleted" in page
        assert "1 stint" in page
        assert "1 place in a kit" in page
        assert f'action="/gear/{radio.pk}/retire/"' in page
    assert Radio.objects.exists()


def test_a_reference_that_comes_in_the_very_moment_still_refuses_the_deletion(client_of, monkeypatch):
    owner = making.an_operator()
    making.a_kit(owner, items=[radio := making.a_radio(owner)])
    answers = iter([[], ["1 place in a kit"]])
    monkeypatch.setattr("equipment.views.answers.references", lambda row: next(answers))
    assert client_of(owner).post(f"/gear/{radio.pk}/delete/").status_code == 409
    assert Radio.objects.exists()


@pytest.mark.parametrize("make", [making.a_radio, making.a_pack, making.an_antenna, making.an_arrangement])
def test_notes_about_a_piece_are_on_its_page(client_of, make):
    row = make()
    note = Note(owner=row.owner, title="Quiet at dusk")
    note.keep(row.owner)
    tied = making.an_arrangement(row) if isinstance(row, Antenna) else row
    getattr(note, Note.TIES[type(tied)]).add(tied)
    assert "Quiet at dusk" in client_of(row.owner).get(row.get_absolute_url()).content.decode()


# --- arrangements -----------------------------------------------------------------------------------------------------


def a_typed_arrangement(**fields):
    return {
        "name": "wire over the branch", "element_length_m": "12,5", "feedpoint_height_m": "4 ft", "azimuth_deg": "360",
        "orientation": "sloping", "radials": "4", "radial_length_m": "5", "transformer": "49:1", "coil": "air",
        **making.typed_rows(
            {"band": "40m", "tap": "7"}, {"band": "20m", "element_length_m": "10.1", "tuner": "on"}
        ),
        **fields,
    }


def test_an_arrangement_is_kept_with_its_band_settings(client_of):
    antenna = making.an_antenna()
    answer = client_of(antenna.owner).post(f"/gear/{antenna.pk}/arrangements/new/", a_typed_arrangement(), follow=True)
    row = Arrangement.objects.get()
    assert (row.owner, row.antenna, row.element_length_m, row.azimuth_deg) == (antenna.owner, antenna, 12.5, 0)
    assert row.feedpoint_height_m == 1.2192
    assert list(row.band_settings.values_list("band", "tap", "element_length_m", "tuner")) == [
        ("40m", "7", None, False), ("20m", "", 10.1, True)
    ]
    page = answer.content.decode()
    for text in ("12.5\u00a0m", "1.22\u00a0m", "49:1", "10.1\u00a0m", "needed", "power lines"):
        assert text in page


@pytest.mark.parametrize(
    ("fields", "said"),
    [
        ({"name": ""}, "This field is required"),
        ({"element_length_m": "2001"}, "cannot be above 2000 m"),
        ({"azimuth_deg": "361"}, "cannot be above 360"),
        ({"radials": "301"}, "cannot be carried"),
        ({"radials": "0"}, "their number is 0"),
        ({"radials": "-1"}, "greater than or equal to 0"),
        ({"rows-1-band": "40m"}, "40m stands here twice"),
        ({"rows-1-band": "41m"}, "not one of the available choices"),
        ({"rows-1-element_length_m": "1,2.3"}, "a comma and a point"),
    ],
)
def test_an_arrangement_that_cannot_be_is_refused(client_of, fields, said):
    antenna = making.an_antenna()
    answer = client_of(antenna.owner).post(f"/gear/{antenna.pk}/arrangements/new/", a_typed_arrangement(**fields))
    assert answer.status_code == 422
    assert said in answer.content.decode()
    assert not Arrangement.objects.exists()


def test_an_arrangement_is_copied_retired_taken_back_and_deleted(client_of):
    wire = making.an_arrangement(bands=["20m"])
    client = client_of(wire.antenna.owner)
    address = f"/gear/arrangements/{wire.pk}"
    client.post(f"{address}/copy/")
    assert Arrangement.objects.exclude(pk=wire.pk).get().band_settings.count() == 1
    client.post(f"{address}/retire/")
    assert Arrangement.objects.retired().get() == wire
    client.post(f"{address}/take-back/")
    assert Arrangement.objects.in_use().count() == 2
    answer = client.post(f"{address}/delete/", follow=True)
    assert answer.request["PATH_INFO"] == f"/gear/{wire.antenna_id}/"
    assert not Arrangement.objects.filter(pk=wire.pk).exists()


def test_changing_an_arrangement_that_was_used_says_so(client_of):
    outing = making.an_outing()
    wire = making.an_arrangement(making.an_antenna(outing.owner))
    client = client_of(outing.owner)
    assert "In use already" not in client.get(f"/gear/arrangements/{wire.pk}/edit/").content.decode()
    making.a_stint(outing, arrangement=wire)
    assert "In use already: 1 stint." in client.get(f"/gear/arrangements/{wire.pk}/edit/").content.decode()


def test_an_arrangement_of_a_kit_is_not_deleted(client_of):
    wire = making.an_arrangement()
    making.a_kit(wire.antenna.owner, arrangements=[wire])
    answer = client_of(wire.antenna.owner).post(f"/gear/arrangements/{wire.pk}/delete/")
    assert (answer.status_code, Arrangement.objects.count()) == (409, 1)
    assert "1 kit" in answer.content.decode()


# --- who may ----------------------------------------------------------------------------------------------------------

WRITES = [
    "{item}/edit/", "{item}/copy/", "{item}/retire/", "{item}/take-back/", "{item}/delete/",
    "{item}/arrangements/new/", "arrangements/{arrangement}/edit/", "arrangements/{arrangement}/copy/",
    "arrangements/{arrangement}/retire/", "arrangements/{arrangement}/take-back/", "arrangements/{arrangement}/delete/",
]
READS = [
    "{item}/", "arrangements/{arrangement}/", *(one for one in WRITES if one.endswith(("edit/", "delete/", "new/")))
]


def addresses(wire, patterns):
    return [f"/gear/{pattern.format(item=wire.antenna_id, arrangement=wire.pk)}" for pattern in patterns]


def state():
    return list(Item.objects.values()), list(Arrangement.objects.values())


def test_nobody_sees_or_changes_the_gear_of_another(client_of):
    wire, other = making.an_arrangement(), client_of(making.an_operator("Q2DEF"))
    before = state()
    assert {other.get(address).status_code for address in addresses(wire, READS)} == {404}
    assert {other.post(address, a_typed_arrangement()).status_code for address in addresses(wire, WRITES)} == {404}
    assert state() == before


def test_a_visitor_is_sent_to_log_in_and_changes_nothing():
    wire, visitor = making.an_arrangement(), Client()
    before = state()
    for address in [*addresses(wire, [*READS, *WRITES]), "/gear/", "/gear/new/", "/gear/new/radio/"]:
        assert visitor.post(address, a_typed_radio()).url.startswith("/login/")
    assert state() == before


def test_what_changes_something_is_not_done_by_following_a_link(client_of):
    wire = making.an_arrangement()
    writes = addresses(wire, [one for one in WRITES if one.endswith(("copy/", "retire/", "take-back/"))])
    client, before = client_of(wire.owner), state()
    assert {client.get(address).status_code for address in writes} == {405}
    assert state() == before


def test_how_an_arrangement_is_fed_and_grounded_is_kept_and_shown(client_of):
    line = making.a_feedline(name="Grey coax")
    antenna, client = making.an_antenna(line.owner), client_of(line.owner)
    typed = {
        "name": "sloper", "typed_in": "metric", "element_length_m": "20,2", "feedpoint_height_m": "1,2",
        "far_end_height_m": "8", "slope_deg": "20", "orientation": "sloping", "ground": "salt water",
        "choke": "12 turns", "feedline": line.pk, **making.typed_rows(),
    }
    page = client.post(f"/gear/{antenna.pk}/arrangements/new/", typed, follow=True).content.decode()
    kept = Arrangement.objects.get()
    assert (kept.far_end_height_m, kept.slope_deg, kept.ground, kept.choke, kept.feedline) == (
        8.0, 20.0, "salt water", "12 turns", line
    )
    for words in ("Far-end height", "8\u00a0m", "20°", "salt water", "12 turns", "Grey coax"):
        assert words in page


@pytest.mark.parametrize(
    ("fields", "said"),
    [({"far_end_height_m": "30"}, "shorter than the difference"), ({"far_end_height_m": "8", "slope_deg": "60"}, "20°"),
     ({"slope_deg": "91"}, "above 90"), ({"ground": "lava"}, "valid choice"), ({"feedline": "999999"}, "valid choice")],
)
def test_a_slope_or_a_ground_that_cannot_be_is_refused(client_of, fields, said):
    antenna = making.an_antenna()
    typed = {
        "name": "sloper", "typed_in": "metric", "element_length_m": "20", "feedpoint_height_m": "1.2",
        "orientation": "sloping", **making.typed_rows(), **fields,
    }
    answer = client_of(antenna.owner).post(f"/gear/{antenna.pk}/arrangements/new/", typed)
    assert answer.status_code == 422 and said in answer.content.decode()
    assert not Arrangement.objects.exists()


def test_only_feedlines_and_radios_of_ones_own_that_are_in_use_are_offered(client_of):
    own, other = making.a_feedline(name="Own coax"), making.a_feedline(making.an_operator("Q2DEF"), "Their coax")
    old = making.a_feedline(own.owner, "Old coax", retired_on=timezone.now().date())
    arrangement = making.an_arrangement(making.an_antenna(own.owner), feedline=old)
    page = client_of(own.owner).get(f"/gear/arrangements/{arrangement.pk}/edit/").content.decode()
    assert "Own coax" in page and "Old coax" in page and other.name not in page
    arrangement = making.an_arrangement(making.an_antenna(own.owner, "Other"))
    page = client_of(own.owner).get(f"/gear/arrangements/{arrangement.pk}/edit/").content.decode()
    assert "Old coax" not in page


def test_a_source_of_power_is_kept_and_shown_with_its_caution(client_of):
    owner = making.an_operator()
    client = client_of(owner)
    typed = {"name": "Folding panel", "typed_in": "metric", "source": "solar", "rated_w": "28"}
    page = client.post("/gear/new/accessory/", typed, follow=True).content.decode()
    assert "solar panel" in page and "28\u00a0W" in page and "cannot be switched off" in page
    answer = client.post("/gear/new/accessory/", {"name": "Panel", "typed_in": "metric", "rated_w": "28"})
    assert answer.status_code == 422 and "what kind of source" in answer.content.decode()


def test_a_pack_inside_a_radio_is_named_on_both_pages(client_of):
    radio = making.a_radio(name="Tin set")
    client = client_of(radio.owner)
    typed = {"name": "Cells within", "typed_in": "metric", "chemistry": "Li-ion", "inside": radio.pk}
    page = client.post("/gear/new/pack/", typed, follow=True).content.decode()
    assert "Built into" in page and "Tin set" in page
    assert "Cells within" in client.get(radio.get_absolute_url()).content.decode()
