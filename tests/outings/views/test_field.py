"""What a phone asks and hands in over HTTP: what it gets, and whom it is refused to."""

import json
import uuid

import pytest
from django.db import OperationalError, connection
from django.test import Client

from equipment.models import Kit
from outings.models import Contact, FieldEntry
from tests import making

pytestmark = pytest.mark.django_db


def a_request(outing, **changes):
    values = {"outing": str(outing.uuid), "call": "Q0XYZ", "started_at": "2026-05-01T14:05:00Z", "mode": "CW"}
    entry = {
        "id": str(uuid.uuid4()), "kind": "contact", "action": "put", "subject": str(uuid.uuid4()), "seq": 1, "base": 0,
        "edited_at": "2026-05-01T14:05:00Z", "values": values,
    }
    return {"phone": str(uuid.uuid4()), "now": "2026-05-01T14:06:00Z", "entries": [entry | changes]}


def post(client, body, **headers):
    body = body if isinstance(body, (str, bytes)) else json.dumps(body)
    return client.post("/field/hand-in/", body, content_type="application/json", headers=headers)


def test_a_phone_takes_everything_of_an_outing_along(client_of, django_assert_max_num_queries):
    operator = making.an_operator()
    kit = Kit.objects.create(owner=operator, name="Shore kit")
    outing = making.an_outing(operator, kit=kit)
    antenna = making.an_antenna(operator)
    making.an_arrangement(antenna, bands=["20m"])
    making.a_pack(operator)
    making.a_power_setting(making.a_radio(operator))
    stint = making.a_stint(outing)
    making.a_contact(outing, stint=stint)
    making.a_contact(making.an_outing(operator, site=outing.site, start="2026-03-01 10:00"), call="Q7OLD", name="Ada")
    client = client_of(operator)
    making.an_accessory(operator, "Folding panel", source="solar")
    with django_assert_max_num_queries(30):
        data = client.get(f"/field/outings/{outing.uuid}/").json()
    assert data["outing"]["station_call"] == outing.station_call
    assert data["gear"]["arrangements"][0]["settings"][0]["band"] == "20m" and data["gear"]["radios"][0]["powers"]
    assert data["gear"]["sources"][:2] == ["Folding panel", "mains"]
    assert data["contacts"][0]["stint"] == data["stints"][0]["uuid"] == str(stint.uuid)
    assert [one["c"] for one in data["earlier"]] == ["Q7OLD"] and data["earlier"][0]["n"] == "Ada"
    assert {event["what"] for event in data["light"]} == {"dawn", "sunrise", "sunset", "dusk"}


def test_a_phone_learns_whether_what_was_taken_last_is_still_here(client_of):
    outing = making.an_outing()
    client = client_of(outing.owner)
    identity = post(client, asked := a_request(outing)).json()["answers"][0]["id"]
    assert identity == asked["entries"][0]["id"]

    def has(newest, client=client):
        return client.get("/field/hello/", {"newest": newest}).json().get("has")

    assert has(identity) is True and has(uuid.uuid4()) is False and has("x' OR 1=1") is has("") is None
    assert has(identity, client_of(making.an_operator("Q2DEF"))) is False


def test_a_handed_in_contact_is_in_the_log_and_the_answer_says_so(client_of):
    outing = making.an_outing()
    client = client_of(outing.owner)
    asked = a_request(outing)
    answer = post(client, asked).json()
    assert answer["answers"] == [
        {"id": asked["entries"][0]["id"], "outcome": "taken", "reason": "", "revision": 1, "conflict": False}
    ]
    assert post(client, asked).json()["answers"][0]["outcome"] == "had"
    assert Contact.objects.get().call == "Q0XYZ"


@pytest.mark.parametrize("path", ["/field/hello/", "/field/outings/", f"/field/outings/{uuid.UUID(int=7)}/"])
def test_without_a_login_a_phone_is_told_so_in_json(client, path):
    making.an_operator()
    answer = client.get(path)
    assert answer.status_code == 401 and answer.json()["problem"] == "login"


def test_handing_in_without_a_login_stores_nothing(client):
    outing = making.an_outing()
    assert post(client, a_request(outing)).status_code == 401
    assert not Contact.objects.exists()


def test_another_operator_sees_and_writes_nothing(client_of):
    outing, stranger = making.an_outing(), making.an_operator("Q9ZZZ")
    client = client_of(stranger)
    assert client.get(f"/field/outings/{outing.uuid}/").status_code == 404
    assert client.get("/field/outings/").json()["outings"] == []
    assert post(client, a_request(outing)).json()["answers"][0]["outcome"] == "refused"
    assert not Contact.objects.exists()


def test_a_post_from_another_site_is_refused():
    outing = making.an_outing()
    client = Client(enforce_csrf_checks=True)
    client.force_login(outing.owner)
    assert post(client, a_request(outing)).status_code == 403
    token = client.get("/field/hello/").json()["token"]
    assert post(client, a_request(outing), **{"X-CSRFToken": token}).status_code == 200


@pytest.mark.parametrize("body", [b"", b"{", b"[]", b'{"entries": 5}', b"\xff" * 50])
def test_what_is_no_request_is_answered_with_the_reason(client_of, body):
    answer = post(client_of(making.an_operator()), body)
    assert answer.status_code == 400 and answer.json()["reason"]


def test_a_body_that_is_too_large_is_refused(client_of):
    outing = making.an_outing()
    asked = a_request(outing)
    asked["entries"][0]["values"]["notes"] = "x" * (2 * 1024 * 1024)
    assert post(client_of(outing.owner), asked).status_code in (400, 413)
    assert not Contact.objects.exists()


def test_the_clock_error_that_the_phone_measured_counts_however_long_the_request_took(client_of):
    outing = making.an_outing()
    client = client_of(outing.owner)
    for measured, kept in ((95.5, 95.5), (-0.25, -0.25)):
        post(client, a_request(outing) | {"clock_error_s": measured})
        assert FieldEntry.objects.latest("id").clock_error_s == kept
    post(client, a_request(outing))
    assert FieldEntry.objects.latest("id").clock_error_s < -100 * 24 * 3600  # its request says a day long ago
    for wrong in ("fast", True, 1e300):
        assert post(client, a_request(outing) | {"clock_error_s": wrong}).status_code == 400
    assert FieldEntry.objects.count() == 3


def test_a_full_disk_is_said_in_words_that_the_phone_knows_and_nothing_is_half_stored(client_of, monkeypatch):
    outing = making.an_outing()
    client = client_of(outing.owner)
    client.raise_request_exception = False
    asked = a_request(outing)
    asked["entries"][0]["values"]["notes"] = "long " * 3_900
    if connection.vendor == "sqlite":  # a database that may not grow is a full one
        with connection.cursor() as cursor:
            cursor.execute("PRAGMA page_count")
            (pages,) = cursor.fetchone()
            cursor.execute(f"PRAGMA max_page_count = {pages}")
    else:
        def full(*args, **kwargs):
            from psycopg.errors import DiskFull

            raise OperationalError from DiskFull()

        monkeypatch.setattr("outings.intake.phone.hand_in", full)
    try:
        answer = post(client, asked)
    finally:
        if connection.vendor == "sqlite":
            connection.cursor().execute("PRAGMA max_page_count = 1073741823")
        monkeypatch.undo()
    assert answer.status_code == 507 and "is full" in answer.json()["reason"]
    assert not FieldEntry.objects.exists() and not Contact.objects.exists()
    assert post(client, asked).json()["answers"][0]["outcome"] == "taken"


@pytest.mark.parametrize("hostile", [
    {"id": "../../etc/passwd"}, {"id": {"$gt": ""}}, {"kind": "operator"}, {"kind": ["contact"]}, {"action": "drop"},
    {"seq": -1}, {"seq": True}, {"base": "0; delete"}, {"edited_at": "now()"}, {"edited_at": 1e18},
    {"subject": "00000000-0000-0000-0000-00000000000g"}, {"values": "x"}, {"values": [[]] * 500},
    {"values": {"outing": {"uuid": 1}}}, {"id": "\ud800"}, {"kind": None},
])
def test_hostile_entries_are_refused_one_by_one_and_store_nothing(client_of, hostile):
    outing = making.an_outing()
    asked = a_request(outing, **hostile)
    good = a_request(outing)["entries"][0]
    asked["entries"].append(good)
    answers = post(client_of(outing.owner), asked).json()["answers"]
    assert [answer["outcome"] for answer in answers] == ["refused", "taken"] and answers[0]["reason"]
    assert Contact.objects.count() == 1


HEAD = f'{{"phone": "{uuid.UUID(int=1)}", "now": "2026-05-01T14:06:00Z", "entries": '


@pytest.mark.parametrize("body", [
    HEAD + "[" * 100_000 + "]" * 100_000 + "}",
    HEAD + "[" + ",".join(["{}"] * 501) + "]}",
    HEAD + '[{"seq": 1e400, "base": Infinity}]}',
    HEAD.replace(str(uuid.UUID(int=1)), "a phone") + "[]}",
], ids=["deep", "many", "not a number", "no phone"])
def test_a_hostile_request_is_refused_whole(client_of, body):
    answer = post(client_of(making.an_operator()), body)
    assert answer.status_code == 400 and answer.json()["reason"]
    assert not FieldEntry.objects.exists()


def test_a_member_of_an_outing_cannot_reach_its_owners_other_outings(client_of):
    outing = making.an_outing()
    other = making.an_outing(outing.owner, site=outing.site, start="2026-06-01 10:00")
    guest = making.an_operator("Q2DEF")
    making.a_member(outing, guest)
    client = client_of(guest)
    assert client.get(f"/field/outings/{outing.uuid}/").status_code == 200
    assert client.get(f"/field/outings/{other.uuid}/").status_code == 404
    assert post(client, a_request(outing)).json()["answers"][0]["outcome"] == "taken"
    assert post(client, a_request(other)).json()["answers"][0]["outcome"] == "refused"
    assert Contact.objects.get().outing == outing
