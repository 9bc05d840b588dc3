"""A realistic year from upload to import and out again, held against the totals it was made with."""

import collections
import io

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.urls import reverse

from outings.adif import adi, adx
from outings.forms.files import ImportForm
from outings.models import Contact, ImportedFile, Outing, Site, Stint
from tests import making
from tests.realistic_year import a_year

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
    assert collections.Counter(at.date() for at in Contact.objects.values_list("started_at", flat=True)) == year.by_day
    assert Outing.objects.count() == year.outings
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
