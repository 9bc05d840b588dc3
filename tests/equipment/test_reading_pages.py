"""Readings of a pack: typed, changed, withdrawn, brought back; what is refused."""

import datetime
import re

import pytest
from django.test import Client
from django.utils import timezone

from equipment.models import PackReading
from tests import making

pytestmark = pytest.mark.django_db


def a_typed_reading(**fields):
    return {"at": "2026-05-01T12:30", "voltage_v": "13,31", "doing": "resting", **fields}


def test_a_reading_is_kept_with_its_history(client_of):
    pack = making.a_pack()
    answer = client_of(pack.owner).post(
        f"/gear/{pack.pk}/readings/new/",
        a_typed_reading(current_a="90 mA", temperature_c="−3,5", resting_since="2026-05-01T08:00", note="in the shade"),
        follow=True,
    )
    reading = PackReading.objects.get()
    assert (reading.owner, reading.pack, reading.at) == (pack.owner, pack, making.a_moment("2026-05-01 12:30"))
    assert (reading.voltage_v, reading.current_a, reading.temperature_c) == (13.31, 0.09, -3.5)
    assert reading.resting_since == making.a_moment("2026-05-01 08:00")
    assert (reading.history().get().action, reading.history().get().actor) == ("create", pack.owner)
    assert "13.31\u00a0V" in answer.content.decode()


def test_the_form_starts_with_now(client_of):
    pack, before = making.a_pack(), timezone.now()
    page = client_of(pack.owner).get(f"/gear/{pack.pk}/readings/new/").content.decode()
    shown = making.a_moment(re.search(r'value="(\d{4}-\d\d-\d\dT\d\d:\d\d)"', page)[1])
    assert before - datetime.timedelta(minutes=1) < shown <= timezone.now()


def test_a_reading_that_is_saved_unchanged_keeps_its_seconds_and_its_revision(client_of):
    reading = making.a_reading(at="2026-05-01 12:30:45", doing="resting")
    client_of(reading.owner).post(f"/gear/readings/{reading.pk}/edit/", a_typed_reading(voltage_v="13.2"))
    kept = PackReading.objects.get()
    assert (kept.at, kept.revision) == (making.a_moment("2026-05-01 12:30:45"), 1)


def test_a_changed_reading_raises_its_revision(client_of):
    reading = making.a_reading()
    client_of(reading.owner).post(f"/gear/readings/{reading.pk}/edit/", a_typed_reading(voltage_v="12.9"))
    kept = PackReading.objects.get()
    assert (kept.voltage_v, kept.revision) == (12.9, 2)
    assert kept.history().first().before["voltage_v"] == 13.2


def test_a_withdrawn_reading_can_be_brought_back(client_of):
    reading = making.a_reading()
    client = client_of(reading.owner)
    page = client.post(f"/gear/readings/{reading.pk}/withdraw/", follow=True).content.decode()
    assert "1 withdrawn" in page
    assert not PackReading.objects.exists()
    assert client.post(f"/gear/readings/{reading.pk}/withdraw/").status_code == 404
    assert client.get(f"/gear/readings/{reading.pk}/edit/").status_code == 404
    client.post(f"/gear/readings/{reading.pk}/bring-back/")
    assert PackReading.objects.get().revision == 3
    assert client.post(f"/gear/readings/{reading.pk}/bring-back/").status_code == 404


def test_the_list_takes_as_many_queries_with_many_readings(client_of, django_assert_num_queries):
    pack = making.a_pack()
    client = client_of(pack.owner)
    for number in range(30):
        making.a_reading(pack, 13 + number / 100, at=f"2026-05-{number + 1:02d} 12:00")
    with django_assert_num_queries(6):  # session, operator, pack, count, readings, withdrawn
        client.get(f"/gear/{pack.pk}/readings/")


@pytest.mark.parametrize(
    ("fields", "said"),
    [
        ({"at": "2999-01-01T00:00"}, "has not come yet"),
        ({"at": "noon"}, "Enter a valid date/time"),
        ({"at": ""}, "This field is required"),
        ({"voltage_v": ""}, "This field is required"),
        ({"voltage_v": "-13"}, "cannot be below zero"),
        ({"voltage_v": "133"}, "4 LiFePO4 cells in series cannot have 133 V"),
        ({"current_a": "x"}, "“x” is not a current"),
        ({"temperature_c": "-61"}, "cannot be below -60 °C"),
        ({"temperature_c": "121"}, "cannot be above 120 °C"),
        ({"doing": "sleeping"}, "not one of the available choices"),
        ({"resting_since": "2026-05-01T12:31"}, "after the reading itself"),
        ({"resting_since": "2026-05-01T08:00", "doing": "charging"}, "Only for a resting pack"),
    ],
)
def test_a_reading_that_cannot_be_is_refused_and_keeps_what_was_typed(client_of, fields, said):
    pack = making.a_pack()
    answer = client_of(pack.owner).post(f"/gear/{pack.pk}/readings/new/", a_typed_reading(note="kept so", **fields))
    page = answer.content.decode()
    assert answer.status_code == 422
    assert said in page
    assert 'value="kept so"' in page
    assert not PackReading.everything.exists()


def test_nobody_sees_or_changes_the_readings_of_another(client_of):
    reading, other = making.a_reading(), client_of(making.an_operator("Q2DEF"))
    for address in (
        f"/gear/{reading.pack_id}/readings/new/", f"/gear/readings/{reading.pk}/edit/",
        f"/gear/readings/{reading.pk}/withdraw/", f"/gear/readings/{reading.pk}/bring-back/",
    ):
        assert other.post(address, a_typed_reading()).status_code == 404
    assert other.get(f"/gear/{reading.pack_id}/readings/").status_code == 404
    assert list(PackReading.everything.values_list("revision", "deleted_at")) == [(1, None)]


def test_a_visitor_is_sent_to_log_in_and_changes_no_reading():
    reading, visitor = making.a_reading(), Client()
    for address in (
        f"/gear/{reading.pack_id}/readings/", f"/gear/{reading.pack_id}/readings/new/",
        f"/gear/readings/{reading.pk}/edit/", f"/gear/readings/{reading.pk}/withdraw/",
        f"/gear/readings/{reading.pk}/bring-back/",
    ):
        assert visitor.post(address, a_typed_reading()).url.startswith("/login/")
    assert list(PackReading.everything.values_list("revision", "deleted_at")) == [(1, None)]


def test_readings_belong_to_packs_only(client_of):
    radio = making.a_radio()
    assert client_of(radio.owner).get(f"/gear/{radio.pk}/readings/").status_code == 404
