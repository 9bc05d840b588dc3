"""Stints on the log page: begin, pause, change, stop, and putting them right afterwards."""

import pytest
from django.utils import timezone

from outings.models import Contact, Pause, Stint
from tests import making
from tests.making import (
    a_contact,
    a_kit,
    a_moment,
    a_pack,
    a_radio,
    a_stint,
    an_antenna,
    an_arrangement,
    an_operator,
    an_outing,
)

pytestmark = pytest.mark.django_db
HTMX = {"HTTP_HX_REQUEST": "true"}


@pytest.fixture(autouse=True)
def now(monkeypatch):
    """It is 14:05:37 UTC on 2026-05-01, an hour after the outing began."""
    moment = a_moment("2026-05-01 14:05:37")
    monkeypatch.setattr(timezone, "now", lambda: moment)
    return moment


@pytest.fixture
def outing():
    """An outing with a kit of one radio, one arrangement and one pack; another radio stays at home."""
    owner = an_operator()
    radio, antenna, pack = a_radio(owner, "Field radio"), an_antenna(owner), a_pack(owner)
    arrangement = an_arrangement(antenna)
    a_radio(owner, "Attic radio")
    kit = a_kit(owner, items=[radio, antenna, pack], arrangements=[arrangement])
    return an_outing(owner, kit=kit, bands=["40m", "20m"])


@pytest.fixture
def stint(outing):
    return a_stint(
        outing, minutes=None, frequency_hz=14_285_000, radio=outing.kit.lines.first().item.radio, swr_at_radio=1.3
    )


def post(client, outing, path, **data):
    return client.post(f"/outings/{outing.pk}/log/stints/{path}", data)


def begin(client, outing, **data):
    data = {"tuning": "20m", "mode_typed": "SSB", **data}
    return post(client, outing, "begin/", **{f"begin-{name}": value for name, value in data.items()})


def change(client, stint, **data):
    """Send the form of a running stint as the page fills it, with some fields typed over."""
    page = client.get(f"/outings/{stint.outing_id}/log/")
    form = next(item["change"] for item in page.context["on_air"] if item["line"].stint.pk == stint.pk)
    sent = {form.add_prefix(name): form[name].value() for name in form.fields}
    sent = {name: "" if value is None else value for name, value in sent.items()}
    return post(client, stint.outing, f"{stint.pk}/change/", **sent | {form.add_prefix(n): v for n, v in data.items()})


def test_the_kit_of_the_outing_comes_first_and_is_proposed(client_of, outing):
    form = client_of(outing.owner).get(f"/outings/{outing.pk}/log/").context["begin"]
    radios = form.fields["radio"].widget.choices
    assert [heading for heading, _ in list(radios)[1:]] == ["In the kit", "Other gear"]
    assert list(radios)[1][1][0][1] == "Field radio" and list(radios)[2][1][0][1] == "Attic radio"
    kit = outing.kit
    assert form["radio"].value() == kit.lines.get(item__kind="radio").item_id
    assert form["arrangement"].value() == kit.arrangements.get().pk
    assert form["tuning"].value() == "40m"


def test_a_stint_begins_now_with_all_that_was_noted(client_of, outing, now):
    kit = outing.kit
    response = begin(
        client_of(outing.owner), outing, radio=kit.lines.get(item__kind="radio").item_id,
        arrangement=kit.arrangements.get().pk, pack=kit.lines.get(item__kind="pack").item_id, tuning="7032",
        mode_typed="cw", power="500 mW", calling="both", tuner_in="false", swr_at_radio="1,4", setup_min="12",
        note="wet",
    )
    assert response.status_code == 302
    stint = Stint.objects.get()
    assert (stint.started_at, stint.running, stint.band, stint.frequency_hz) == (now, True, "40m", 7_032_000)
    assert (stint.mode, stint.power_w, stint.calling, stint.tuner_in) == ("CW", 0.5, "both", False)
    assert (stint.swr_at_radio, stint.setup_min, stint.note) == (1.4, 12, "wet")
    assert (stint.pack.name, stint.arrangement, stint.radio.name) == ("Pack one", kit.arrangements.get(), "Field radio")


def test_a_stint_may_have_begun_some_minutes_ago(client_of, outing):
    begin(client_of(outing.owner), outing, at="-20")
    assert Stint.objects.get().started_at == a_moment("2026-05-01 13:45:37")


def test_the_same_request_twice_begins_one_stint(client_of, outing):
    client = client_of(outing.owner)
    for _ in range(2):
        assert begin(client, outing, identity="6f1c1e0e-3a43-4d1e-9a67-0f53c3a5f5aa").status_code == 302
    assert Stint.objects.count() == 1


@pytest.mark.parametrize(
    ("typed", "field", "reason"),
    [
        ({"tuning": ""}, "tuning", "required"), ({"tuning": "21m"}, "tuning", "Give a band"),
        ({"mode_typed": "voice"}, "mode_typed", "no mode"), ({"power": "lots"}, "power", "is not a power"),
        ({"at": "1530"}, "at", "still ahead"), ({"swr_at_radio": "0.8"}, "swr_at_radio", "greater than or equal"),
        ({"setup_min": "-3"}, "setup_min", "greater than or equal"), ({"radio": "999"}, "radio", "valid choice"),
        ({"calling": "shouting"}, "calling", "valid choice"),
    ],
)
def test_a_refused_beginning_keeps_what_was_typed(client_of, outing, typed, field, reason):
    response = begin(client_of(outing.owner), outing, **{"note": "kept", **typed})
    assert response.status_code == 422 and 'value="kept"' in response.content.decode()
    assert reason in " ".join(response.context["begin"].errors[field])
    assert not Stint.objects.exists()


def test_gear_of_another_operator_is_refused(client_of, outing):
    other = an_operator("Q2DEF")
    gear = {"radio": a_radio(other).pk, "arrangement": an_arrangement(an_antenna(other)).pk, "pack": a_pack(other).pk}
    client = client_of(outing.owner)
    for name, pk in gear.items():
        response = begin(client, outing, **{name: pk})
        assert response.status_code == 422 and name in response.context["begin"].errors
    assert "Wire antenna" in client.get(f"/outings/{outing.pk}/log/").content.decode()  # one's own is offered
    stint = a_stint(outing, minutes=None)
    for name, pk in gear.items():
        assert change(client, stint, **{name: pk}).status_code == 422
        path = f"{stint.pk}/"
        assert post(client, outing, path, started="2026-05-01 1300", tuning="20m", mode_typed="SSB", **{name: pk}
                    ).status_code == 422
    assert Stint.objects.filter(radio__isnull=True, pack__isnull=True, arrangement__isnull=True).get() == stint


def test_a_pack_and_another_source_at_once_are_refused(client_of, outing):
    pack = outing.kit.lines.get(item__kind="pack").item_id
    response = begin(client_of(outing.owner), outing, pack=pack, other_source="mains")
    assert "not both" in str(response.context["begin"].errors["other_source"])


def test_a_frequency_outside_every_band_is_warned_of_and_kept_when_sent_again(client_of, outing):
    client = client_of(outing.owner)
    response = begin(client, outing, tuning="14400")
    assert response.status_code == 422 and "in no band" in response.content.decode()
    begin(client, outing, tuning="14400", outside=response.context["begin"].data["begin-outside"])
    assert (Stint.objects.get().band, Stint.objects.get().frequency_hz) == ("", 14_400_000)


def test_one_radio_is_not_begun_twice(client_of, stint):
    response = begin(client_of(stint.owner), stint.outing, radio=stint.radio_id, tuning="40m")
    assert response.status_code == 422 and "on the air already" in response.content.decode()
    assert Stint.objects.count() == 1


def test_pause_resume_and_stop_at_typed_times(client_of, stint):
    client, when = client_of(stint.owner), f"when-{stint.pk}-at"
    post(client, stint.outing, f"{stint.pk}/pause/", **{when: "1310"})
    assert "paused since 13:10" in client.get(f"/outings/{stint.outing_id}/log/").content.decode()
    post(client, stint.outing, f"{stint.pk}/resume/", **{when: "1320"})
    post(client, stint.outing, f"{stint.pk}/stop/", **{when: ""})
    stint = Stint.objects.get()
    assert stint.ended_at == a_moment("2026-05-01 14:05:37")
    assert stint.on_air_s == 55 * 60 + 37


def test_a_refused_time_is_kept_and_nothing_is_changed(client_of, stint):
    client, when = client_of(stint.owner), f"when-{stint.pk}-at"
    for path, typed, reason in [
        ("pause", "1200", "cannot begin before"), ("stop", "noon", "HHMM"), ("resume", "", "not paused"),
        ("stop", "1630", "still ahead"),
    ]:
        response = post(client, stint.outing, f"{stint.pk}/{path}/", **{when: typed})
        assert response.status_code == 422 and reason in response.content.decode()
        assert f'value="{typed}"' in response.content.decode() or not typed
    assert Stint.objects.get().running and not Pause.objects.exists()


def test_a_change_types_only_what_is_different(client_of, stint):
    a_contact(stint=stint, at="2026-05-01 13:50")
    client = client_of(stint.owner)
    response = change(client, stint, tuning="7100", at="-20")
    assert response.status_code == 302
    first, second = Stint.objects.all()
    assert first.ended_at == second.started_at == a_moment("2026-05-01 13:45:37")
    assert (second.band, second.frequency_hz, second.radio, second.submode, second.power_w, second.calling) == (
        "40m", 7_100_000, stint.radio, "USB", 10, "calling"
    )
    assert second.swr_at_radio is None  # it was measured on the other band
    assert (Contact.objects.get().stint, Contact.objects.get().band) == (second, "40m")


def test_a_change_of_power_keeps_band_frequency_and_swr(client_of, stint):
    change(client_of(stint.owner), stint, power="5")
    second = Stint.objects.last()
    assert (second.power_w, second.frequency_hz, second.swr_at_radio) == (5, 14_285_000, 1.3)


def test_a_change_of_nothing_or_before_the_beginning_is_refused(client_of, stint):
    client = client_of(stint.owner)
    response = change(client, stint)
    assert response.status_code == 422 and "Nothing is different" in response.content.decode()
    response = change(client, stint, power="5", at="1230")
    assert response.status_code == 422 and "before the stint began" in response.content.decode()
    assert Stint.objects.get().running


def test_with_htmx_the_answer_holds_the_pieces_that_changed_and_not_the_row(client_of, stint):
    page = client_of(stint.owner).post(
        f"/outings/{stint.outing_id}/log/stints/{stint.pk}/pause/", {f"when-{stint.pk}-at": ""}, **HTMX
    ).content.decode()
    assert page.lstrip().startswith('<section id="on-air"')
    assert 'id="entry-stint"' in page and 'id="entry-form"' not in page and "Paused at 14:05:37" in page


def test_a_boundary_is_moved_back_and_its_contacts_follow(client_of, stint):
    contact = a_contact(stint=stint, at="2026-05-01 13:20")
    second = stint.follow_with(stint.owner, a_moment("2026-05-01 13:30"), band="40m", frequency_hz=7_100_000)
    client = client_of(stint.owner)
    assert "The stint before ends then" in client.get(
        f"/outings/{stint.outing_id}/log/stints/{second.pk}/boundary/"
    ).content.decode()
    post(client, stint.outing, f"{second.pk}/boundary/", **{f"boundary-{second.pk}-at": "1315"})
    assert Stint.objects.get(pk=second.pk).started_at == a_moment("2026-05-01 13:15")
    assert Stint.objects.get(pk=stint.pk).on_air_s == 15 * 60
    assert Contact.objects.get().stint == second
    response = post(client, stint.outing, f"{second.pk}/boundary/", **{f"boundary-{second.pk}-at": "1200"})
    assert response.status_code == 422 and "must begin later" in response.content.decode()
    assert contact.pk == Contact.objects.get().pk


def test_a_whole_stint_is_added_over_midnight_and_the_next_proposed_from_its_end(client_of):
    outing = an_outing(start="2026-04-20 22:00")
    stray = a_contact(outing, at="2026-04-21 00:30")
    client = client_of(outing.owner)
    data = {"started": "2330", "ended": "0045", "tuning": "20m", "mode_typed": "USB", "power": "5"}
    response = post(client, outing, "add/", **data, another="1")
    assert response.status_code == 302 and response.url.endswith("/stints/add/")
    stint = Stint.objects.get()
    assert (stint.started_at, stint.ended_at) == (a_moment("2026-04-20 23:30"), a_moment("2026-04-21 00:45"))
    assert stint.on_air_s == 75 * 60
    assert Contact.objects.get(pk=stray.pk).stint == stint
    form = client.get(response.url).context["form"]
    assert [form[name].value() for name in ("started", "tuning", "mode_typed")] == ["2026-04-21 0045", "20m", "USB"]


@pytest.mark.parametrize(
    ("typed", "field"),
    [({"ended": ""}, "ended"), ({"started": "25:00"}, "started"), ({"ended": "2026-05-01 1200"}, None),
     ({"started": "2026-05-02 1300"}, "started"), ({"ended": "1500"}, "ended")],
)
def test_a_refused_whole_stint_keeps_what_was_typed(client_of, outing, typed, field):
    data = {"started": "1300", "ended": "1330", "tuning": "20m", "mode_typed": "SSB", "note": "kept"}
    response = post(client_of(outing.owner), outing, "add/", **data | typed)
    assert response.status_code == 422 and 'value="kept"' in response.content.decode()
    assert response.context["form"].errors[field or "__all__"]
    assert not Stint.objects.exists()


def test_a_stint_is_corrected_and_its_contacts_follow(client_of, outing):
    stint = a_stint(outing, minutes=60, frequency_hz=14_285_000)
    contact = a_contact(stint=stint, at="2026-05-01 13:10")
    client = client_of(outing.owner)
    form = client.get(f"/outings/{outing.pk}/log/stints/{stint.pk}/").context["form"]
    assert (form["started"].value(), form["ended"].value()) == ("2026-05-01 1300", "2026-05-01 1400")
    data = {"started": "2026-05-01 1255", "ended": "1400", "tuning": "17m", "mode_typed": "SSB", "power": "5"}
    post(client, outing, f"{stint.pk}/", **data)
    stint = Stint.objects.get()
    assert (stint.on_air_s, stint.band, stint.frequency_hz, stint.power_w) == (65 * 60, "17m", None, 5)
    assert Contact.objects.get(pk=contact.pk).band == "17m"


def test_a_stint_is_deleted_after_a_question_and_its_contacts_stay(client_of, stint):
    a_contact(stint=stint)
    client = client_of(stint.owner)
    page = client.get(f"/outings/{stint.outing_id}/log/stints/{stint.pk}/delete/").content.decode()
    assert "Its contacts (1) stay" in page and Stint.objects.exists()
    post(client, stint.outing, f"{stint.pk}/delete/")
    assert not Stint.objects.exists() and Contact.objects.get().stint is None
    assert Stint.everything.get().history().first().action == "delete"


def test_own_sources_of_power_are_offered_those_of_the_kit_first(client_of):
    panel = making.an_accessory(name="Folding panel", source="solar")
    making.an_accessory(panel.owner, "A supply", source="mains")
    making.an_accessory(panel.owner, "Tripod")
    outing = making.an_outing(panel.owner, kit=making.a_kit(panel.owner, items=[panel]))
    page = client_of(panel.owner).get(f"/outings/{outing.pk}/log/").content.decode()
    offered = page.partition('<datalist id="sources">')[2].partition("</datalist>")[0]
    names = [part.partition('"')[0] for part in offered.split('value="')[1:]]
    assert names == ["Folding panel", "A supply", "mains", "solar panel", "internal pack", "vehicle", "generator"]
