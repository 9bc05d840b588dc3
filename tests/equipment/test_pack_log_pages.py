"""Pages of a pack's logs: looking at a file, keeping it, its pictures and health over time, and refusals."""

import datetime
import re

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from hypothesis import HealthCheck, example, given, settings
from hypothesis import strategies as st

from equipment.models import Change, Pack, PackLog, PackReading
from equipment.queries.pack_logs import due, pack_health, since_full
from tests import making

pytestmark = pytest.mark.django_db


def a_file(content=None, name="load test.csv"):
    return SimpleUploadedFile(name, making.a_pack_log_file() if content is None else content, "text/csv")


def looked_at(client, pack, **typed):
    return client.post(f"/gear/{pack.pk}/logs/new/", {"kind": "test", "log": a_file(), "look": "1", **typed})


def kept(client, pack, answer, **changed):
    form = answer.context["form"]
    data = {name: form[name].value() for name in form.fields if name != "log" and form[name].value() is not None}
    return client.post(f"/gear/{pack.pk}/logs/new/", {**data, "keep": "1", **changed})


def test_a_file_is_shown_before_anything_is_kept(client_of):
    pack = making.a_pack()
    answer = looked_at(client_of(pack.owner), pack)
    page = answer.content.decode()
    assert answer.status_code == 200
    for text in ("Columns parted by", "semicolons", "comma", "Spannung (mV), in mV", "Strom (mA), in mA"):
        assert text in page
    assert 'data-picture="traces"' in page and "Some moments of the log" in page
    assert not PackLog.everything.exists()


def test_a_capacity_test_is_kept_with_its_file_and_measures_the_pack(client_of):
    pack = making.a_pack(cutoff_v=10.0)
    client = client_of(pack.owner)
    answer = kept(client, pack, looked_at(client, pack), began="2026-05-01T09:00", note="on the bench")
    row = PackLog.objects.get()
    assert answer.headers["Location"] == row.get_absolute_url() or answer.status_code == 302
    assert row.file == making.a_pack_log_file()
    assert row.ah == pytest.approx(5.5, rel=0.01) and row.is_complete  # 2 A in the mean until the pack is empty
    assert row.resistance_ohm == pytest.approx(0.06, rel=0.05)
    pack.refresh_from_db()
    assert pack.measured_ah == row.ah and pack.measured_on == datetime.date(2026, 5, 1)
    assert pack.resistance_ohm == row.resistance_ohm
    page = client.get(row.get_absolute_url()).content.decode()
    assert "load test.csv" in page and "on the bench" in page
    file = client.get(f"/gear/logs/{row.pk}/file/")
    assert file.content == row.file and "attachment" in file.headers["Content-Disposition"]
    assert "92\xa0%" in client.get(f"/gear/{pack.pk}/").content.decode().replace(" %", "\xa0%")


def test_a_log_whose_file_cannot_be_read_any_more_still_shows_what_was_found(client_of):
    row = making.a_pack_log()
    row.file = b"spoiled"
    row.save()
    page = client_of(row.owner).get(row.get_absolute_url(), follow=True).content.decode()
    assert "cannot be drawn any more" in page and "5.5" in page


def test_the_history_does_not_repeat_the_file(client_of):
    row = making.a_pack_log()
    assert "packed_file" not in Change.objects.of(row.owner).get(subject=row.uuid).after
    row.withdraw(row.owner)
    row.bring_back(row.owner)
    assert PackLog.objects.get().file == making.a_pack_log_file()


def test_wishes_about_columns_and_units_are_followed_and_kept_for_reading_again(client_of):
    pack = making.a_pack()
    client = client_of(pack.owner)
    content = b"0,2,13.2\n60,2,12.0\n120,2,9.9\n"
    wrong = looked_at(client, pack, log=a_file(content))
    assert wrong.status_code == 422 and "This cannot be a capacity test" in wrong.content.decode()
    right = kept(client, pack, wrong, volts="2", amps="1", time_unit="min", began="2026-05-01T09:00")
    assert right.status_code == 302
    row = PackLog.objects.get()
    assert row.ah == pytest.approx(2 * (60 + 60 * 2.0 / 2.1) / 60, rel=1e-6)
    assert client.get(row.get_absolute_url()).status_code == 200


def test_a_charge_that_ends_at_a_small_current_is_full_and_resets_the_count(client_of):
    pack = making.a_pack(rated_ah=6.0, max_charge_v=14.4)
    client = client_of(pack.owner)
    content = b"time (min),V,A\n0,13.2,3\n60,14.4,3\n90,14.4,0.2\n"
    looked = looked_at(client, pack, kind="charge", log=a_file(content))
    assert kept(client, pack, looked, began="2026-05-01T09:00").status_code == 302
    row = PackLog.objects.get()
    assert row.is_complete and row.ah == pytest.approx(3.8)
    making.a_pack_log(pack, at="2026-05-02 09:00")
    found = since_full(pack)
    assert found.full_at == making.a_moment("2026-05-01 10:30")
    assert found.used_ah == pytest.approx(5.5, rel=0.01)


def test_a_file_of_readings_becomes_readings(client_of):
    pack = making.a_pack()
    client = client_of(pack.owner)
    content = b"time,V\n2026-05-01 09:00:30,13.2\n2026-05-01 10:00:30,13.1\n"
    looked = looked_at(client, pack, kind="readings", log=a_file(content), doing="receiving")
    assert kept(client, pack, looked).status_code == 302
    first, second = PackReading.objects.order_by("at")
    assert (first.at, first.voltage_v) == (making.a_moment("2026-05-01 09:00:30"), 13.2)
    assert second.current_a is None and second.doing == "receiving"
    assert not PackLog.objects.exists()


@pytest.mark.parametrize(("content", "reason"), [
    (b"", "The file is empty"), (b"\0\1\2", "not a text file"), (b"dear diary\nit rained\n", "No table of numbers"),
    (b"time,V,A\n0,9,1\n1,9,1\n", "begins at or below the cut-off"), (b"time,V\n0,13\n1,12\n", "No current"),
    (b"time,V,A\n0,13,1\n9,12,1\n3,9,1\n", "Line 4: the time goes back"), (b"time,V,A\n0,13,0\n9,9,0\n", "no current"),
])
def test_an_odd_file_is_refused_with_the_reason_and_nothing_is_stored(client_of, content, reason):
    pack = making.a_pack()
    answer = looked_at(client_of(pack.owner), pack, log=a_file(content))
    assert answer.status_code == 422
    assert reason in answer.content.decode()
    assert not PackLog.everything.exists() and not PackReading.everything.exists()


@settings(max_examples=40, suppress_health_check=[HealthCheck.function_scoped_fixture, HealthCheck.too_slow])
@given(
    content=st.one_of(st.binary(max_size=200), st.text(max_size=200).map(str.encode)), kind=st.sampled_from(
        ["test", "charge", "readings", "x"]),
    name=st.text(max_size=30), carried=st.text(alphabet="AZaz09+/=", max_size=40),
)
@example(content=b"time,V,A\n0,13,1\n", kind="test", name="../../etc/passwd", carried="")
@example(content=b"", kind="test", name="x", carried="eNpLTEoGAAJNASc=")
def test_nothing_that_is_sent_breaks_the_page_or_is_stored_unasked(client_of, content, kind, name, carried):
    pack = Pack.objects.first() or making.a_pack()
    client = client_of(pack.owner)
    sent = {"kind": kind, "content": carried, "file_name": name, "look": "1"}
    if content:
        sent["log"] = SimpleUploadedFile("x", content)
    answer = client.post(f"/gear/{pack.pk}/logs/new/", sent)
    assert answer.status_code in (200, 422)
    assert not PackLog.everything.exists() and not PackReading.everything.exists()


def test_a_log_belongs_to_its_operator(client_of):
    row = making.a_pack_log()
    stranger = client_of(making.an_operator("Q2DEF"))
    assert stranger.post(f"/gear/{row.pack_id}/logs/new/", {"log": a_file()}).status_code == 404
    for verb in ("withdraw", "bring-back", "use"):
        assert stranger.post(f"/gear/logs/{row.pk}/{verb}/").status_code == 404
    assert stranger.get(f"/gear/logs/{row.pk}/file/").status_code == 404
    row.refresh_from_db()
    assert row.deleted_at is None


def test_a_log_is_withdrawn_and_brought_back(client_of):
    row = making.a_pack_log()
    client = client_of(row.owner)
    page = client.post(f"/gear/logs/{row.pk}/withdraw/", follow=True).content.decode()
    assert "1 withdrawn" in page and not PackLog.objects.exists()
    client.post(f"/gear/logs/{row.pk}/bring-back/")
    assert PackLog.objects.get() == row


def test_health_over_time_is_told_against_the_rated_capacity(django_assert_num_queries):
    pack = making.a_pack(rated_ah=6.0, resistance_ohm=0.06)
    making.a_pack_log(pack, at="2025-05-01 09:00")
    making.a_pack_log(pack, at="2026-05-01 09:00")
    with django_assert_num_queries(2):
        health = pack_health(pack, making.a_moment("2026-05-02 09:00"))
    assert [round(row.share_pct) for row in health.tests] == [92, 92]
    assert len(health.picture.data["panels"][0]["lines"][0]["points"]) == 2
    assert health.due == ()  # tested, seen and measured
    assert "No change since 2025-05-01" in health.fade


def test_fade_is_claimed_only_beyond_what_meters_may_be_off():
    pack = making.a_pack(rated_ah=6.0)
    making.a_pack_log(pack, at="2025-05-01 09:00", content=making.a_pack_log_file(capacity_ah=5.9))
    making.a_pack_log(pack, at="2026-05-01 09:00", content=making.a_pack_log_file(capacity_ah=5.5))
    # 1 % of the shunt and 0.5 % of the clock in each of two tests: 1.6 %
    assert re.match(r"6\.\d % less since 2025-05-01, give or take 1\.6 %", pack_health(pack).fade)


def test_without_a_file_the_form_asks_for_one(client_of):
    pack = making.a_pack()
    answer = client_of(pack.owner).post(f"/gear/{pack.pk}/logs/new/", {"kind": "test", "look": "1"})
    assert answer.status_code == 422 and answer.content.decode().count("Choose a file first.") == 2  # summary and field


@pytest.mark.parametrize(("fields", "seen", "word"), [
    ({}, None, "none was made yet"), ({"measured_on": datetime.date(2025, 1, 1)}, None, "485 days ago"),
    ({"resistance_ohm": None}, None, "internal resistance"), ({}, "2026-01-01 09:00", "for 120 days"),
])
def test_what_is_due_is_said(fields, seen, word):
    pack = making.a_pack(**fields)
    said = due(pack, [], seen and making.a_moment(seen), making.a_moment("2026-05-01 09:00"))
    assert any(word in one for one in said)
    pack.retired_on = datetime.date(2026, 4, 1)
    assert due(pack, [], None, making.a_moment("2026-05-01 09:00")) == ()
