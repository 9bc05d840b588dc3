"""A realistic year from upload to import and out again, held against the totals it was made with."""

import collections
import datetime
import io
from urllib.parse import urlencode

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.urls import reverse

from outings.adif import adi, adx
from outings.forms.files import ImportForm
from outings.models import Contact, ImportedFile, Outing, Site, Stint
from tests import making
from tests.realistic_year import LOCAL_SHIFT_H, a_year

pytestmark = pytest.mark.django_db


def take_in(client, name, data):
    """Upload a file and import it with the form as it is offered."""
    client.post(reverse("outings:file_list"), {"log": SimpleUploadedFile(name, data)})
    imported = ImportedFile.objects.latest("pk")
    assert imported.status == ImportedFile.Status.READ, imported.message
    form = ImportForm(imported=imported)
    values = {f.html_name: f.value() for f in form if f.value() not in (None, False)}
    response = client.post(reverse("outings:file_import", args=[imported.pk]), values)
    assert response.status_code == 302, response.content.decode()
    imported.refresh_from_db()
    assert imported.status == ImportedFile.Status.IMPORTED, imported.message
    return imported


def counted(name):
    return dict(collections.Counter(Contact.objects.values_list(name, flat=True)))


def by_day():
    return dict(collections.Counter(at.date() for at in Contact.objects.values_list("started_at", flat=True)))


def test_an_evening_logged_in_local_time_is_mended_onto_its_day_and_taken_back(client_of):
    """The evening came in as two outings, on two days: its clock is shifted, and all of it moved onto the first."""
    year = a_year(6)
    operator = making.an_operator()
    client = client_of(operator)
    for name, data in year.files:
        take_in(client, name, data)
    assert by_day() == year.by_day_as_logged != year.by_day
    assert Outing.objects.count() == year.outings_as_logged == year.outings + 1
    evening = Contact.objects.filter(
        call__in=year.local_time_calls, started_at__gte=datetime.datetime.combine(
            year.local_time_day, datetime.time(), datetime.UTC
        ), started_at__lt=datetime.datetime.combine(
            year.local_time_day + datetime.timedelta(days=2), datetime.time(), datetime.UTC
        ),
    )
    first, second = Outing.objects.filter(contacts__in=evening).distinct().order_by("window_start")
    before = list(evening.values_list("pk", "started_at", "outing", "stint", "distance_km"))
    hours = on_air(client)
    address = reverse("outings:contact_mend") + "?" + urlencode({"chosen": [row[0] for row in before]}, doseq=True)
    sent = {"shift": f"-{LOCAL_SHIFT_H} h", "outing": first.pk, "stints": "correct"}
    preview = client.post(address, sent).context["preview"]
    assert (preview.changing, preview.bystanders) == (len(year.local_time_calls), 0)
    done = client.post(address, {**sent, "apply": preview.fingerprint})
    assert by_day() == year.by_day
    assert Contact.objects.count() == year.contacts and counted("band") == year.by_band
    assert first.contacts.count() == len(year.local_time_calls) and not second.contacts.exists()
    assert on_air(client) == hours, "the stints moved with their contacts, so that all rates are as they were"
    client.post(reverse("outings:outing_delete", args=[second.pk]))
    assert Outing.objects.count() == year.outings
    client.post(reverse("outings:outing_restore", args=[second.pk]))
    client.post(done.url)
    assert list(evening.values_list("pk", "started_at", "outing", "stint", "distance_km")) == before


def on_air(client):
    """Contacts and hours on the air by band, as the performance page shows them."""
    groups = client.get("/performance/", {"by": "band"}).context["found"].groups
    return {group.key: (group.contacts, group.on_air_h) for group in groups}


def test_a_year_comes_in_with_its_known_totals_and_goes_out_again(client_of):
    year = a_year()
    operator = making.an_operator()
    antenna = making.an_antenna(operator, "Wire")
    sloping = making.an_arrangement(antenna, "sloping")
    radio = making.a_radio(operator, "Pocket five")
    client = client_of(operator)
    results = [take_in(client, name, data).summary["result"] for name, data in year.files]
    total = collections.Counter()
    for result in results:
        total.update(result)
    assert Contact.objects.count() == total["new"] == year.contacts
    assert (total["lost"], total["twice"]) == (year.refused, year.twice)
    assert counted("station_call") == year.by_call
    assert counted("band") == year.by_band
    assert counted("mode") == year.by_mode
    assert by_day() == year.by_day_as_logged
    assert Outing.objects.count() == year.outings_as_logged
    assert Contact.objects.marked().count() == year.marked
    assert Contact.objects.filter(distance_km__isnull=False).count() == year.with_grid
    assert Contact.objects.stintless().count() == 1  # the one whose mode is none
    assert not Stint.objects.filter(inferred=False).exists()
    on_wire = Contact.objects.filter(stint__arrangement=sloping, stint__radio=radio).count()
    named = ["MY_ANTENNA", "", "Wire: sloping"]
    assert on_wire == sum(named in raw for raw in Contact.objects.values_list("raw", flat=True))
    assert on_wire > 0
    # The same files again add nothing.
    for name, data in year.files:
        assert take_in(client, name, data).summary["result"]["new"] == 0
    assert (Contact.objects.count(), Site.objects.count()) == (year.contacts, 5)
    # Out again, as ADI and as ADX: every contact, every field that nobody changed.
    text = b"".join(client.get(reverse("outings:export_file", args=["adx"])).streaming_content)
    header, records = adx.read(io.BytesIO(text))
    assert len(records) == year.contacts
    assert sum(not record.get("NAME_INTL").isascii() for record in records) == year.names_beyond_ascii
    odd = next(record for record in records if record.get("CALL") == "Q5ODD")
    assert odd.get("APP_QXLAB_NOTE") == "kept" and odd.get("QXFIELD") == "of nobody" and "QXFIELD" in header.defined
    assert odd.get("APP_STATIONLOG_ASIS_MODE") == "PHONE" and odd.get("COMMENT") == "a <eor> within"
    text = b"".join(client.get(reverse("outings:export_file", args=["adi"])).streaming_content)
    _, records = adi.read(text)
    assert text.isascii() and len(records) == year.contacts
    assert not any(record.faults for record in records)
    # A third operator's log takes our own file without loss; our own log knows every contact by its UUID.
    assert take_in(client, "own.adi", text).summary["result"]["known"] == year.contacts
    other = making.an_operator("Q7OTHER")
    take_in(client_of(other), "own.adi", text)
    columns = "uuid", "call", "started_at", "mode", "distance_km"
    mine, theirs = (set(Contact.objects.of(who).values_list(*columns)) for who in (operator, other))
    assert mine == theirs


def test_the_year_is_the_same_each_time_and_another_for_another_seed():
    assert a_year(4, seed=5).files == a_year(4, seed=5).files
    assert a_year(4, seed=5).files != a_year(4, seed=6).files
