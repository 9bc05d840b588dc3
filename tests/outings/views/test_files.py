"""The pages of files: upload, preview, import, undo, export, and who may not."""

from pathlib import Path

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.urls import reverse

from outings.forms.files import ImportForm
from outings.models import Contact, ImportedFile, ImportFinding, Outing, Site, Stint
from tests import making

pytestmark = pytest.mark.django_db

LINES = (
    "<CALL:5>Q0XYZ <QSO_DATE:8>20260501 <TIME_ON:4>1310 <BAND:3>20m <MODE:3>SSB <MY_GRIDSQUARE:6>JO62QM "
    "<MY_RIG:6>Little <MY_ANTENNA:4>Wire <NAME:3>Kim <EOR>\n"
    "<CALL:5>Q2DEF <QSO_DATE:8>20260501 <TIME_ON:4>1314 <BAND:3>20m <MODE:3>SSB <MY_GRIDSQUARE:6>JO62QM "
    "<GRIDSQUARE:4>JN58 <MY_RIG:6>Little <EOR>\n"
    "<CALL:5>Q2DEF <QSO_DATE:8>20260501 <TIME_ON:4>1314 <BAND:3>20m <MODE:3>SSB <EOR>\n"
    "<CALL:5>Q3GHI <QSO_DATE:8>20261301 <TIME_ON:4>1316 <BAND:3>20m <MODE:3>SSB <EOR>\n"
)


def upload(client, text=LINES, name="park.adi"):
    data = text if isinstance(text, bytes) else text.encode()
    return client.post(reverse("outings:file_list"), {"log": SimpleUploadedFile(name, data)})


def read_file(client, text=LINES):
    response = upload(client, text)
    assert response.status_code == 302
    return ImportedFile.objects.latest("pk")


def choices(imported, **changes):
    """What the form of a file sends when nothing is changed in it."""
    form = ImportForm(imported=imported)
    values = {}
    for field in form:
        value = field.value()
        if value not in (None, False):
            values[field.html_name] = value
    return {**values, **changes}


def do_import(client, imported, **changes):
    response = client.post(reverse("outings:file_import", args=[imported.pk]), choices(imported, **changes))
    imported.refresh_from_db()
    return response


def test_letters_that_were_guessed_wrong_are_put_right_before_the_import(client_of):
    client = client_of(making.an_operator())
    name = "Андрей"
    line = f"<CALL:5>Q0XYZ <QSO_DATE:8>20260501 <TIME_ON:4>1310 <BAND:3>20m <MODE:3>SSB <NAME:6>{name} <EOR>"
    imported = read_file(client, line.encode("cp1251"))
    page = client.get(reverse("outings:file", args=[imported.pk])).content.decode()
    assert "Are the letters right?" in page and "Àíäðåé" in page
    again = reverse("outings:file_read_again", args=[imported.pk])
    client.post(again, {"encoding": "utf-16"})
    imported.refresh_from_db()
    assert imported.choices == {} and imported.status == ImportedFile.Status.READ
    client.post(again, {"encoding": "cp1251"})
    imported.refresh_from_db()
    assert name in client.get(reverse("outings:file", args=[imported.pk])).content.decode()
    do_import(client, imported)
    assert Contact.objects.get().name == name
    assert "Are the letters right?" not in client.get(reverse("outings:file", args=[imported.pk])).content.decode()


def test_a_file_whose_letters_are_certain_asks_nothing(client_of):
    client = client_of(making.an_operator())
    for text in (LINES, LINES.replace("Kim", "Kím")):
        imported = read_file(client, text)
        page = client.get(reverse("outings:file", args=[imported.pk])).content.decode()
        assert "Are the letters right?" not in page


def test_a_file_is_previewed_imported_and_undone_whole(client_of):
    operator = making.an_operator()
    client = client_of(operator)
    imported = read_file(client)
    page = client.get(reverse("outings:file", args=[imported.pk])).content.decode()
    assert "2 new" in page and "1 refused" in page and "1 repeated" in page
    assert not Contact.objects.exists()
    assert do_import(client, imported).status_code == 302
    assert imported.status == ImportedFile.Status.IMPORTED
    assert sorted(Contact.objects.values_list("call", flat=True)) == ["Q0XYZ", "Q2DEF"]
    assert (Outing.objects.count(), Site.objects.count(), Stint.objects.count()) == (1, 1, 2)
    assert Contact.objects.get(call="Q2DEF").distance_km > 300
    assert client.get(reverse("outings:file", args=[imported.pk])).status_code == 200
    assert "Undo the import" in client.get(reverse("outings:file_undo", args=[imported.pk])).content.decode()
    client.post(reverse("outings:file_undo", args=[imported.pk]))
    assert not (Contact.objects.exists() or Outing.objects.exists() or Stint.objects.exists())
    assert Site.objects.in_use().count() == 0
    imported.refresh_from_db()
    assert imported.status == ImportedFile.Status.UNDONE


def test_findings_name_record_line_field_and_reason(client_of):
    client = client_of(making.an_operator())
    imported = read_file(client)
    refused = ImportFinding.objects.get(kind="refused")
    assert (refused.record, refused.line, refused.field) == (4, 4, "QSO_DATE")
    page = client.get(reverse("outings:file_findings", args=[imported.pk, "refused"])).content.decode()
    assert "QSO_DATE" in page and "Q3GHI" in page
    assert client.get(reverse("outings:file_findings", args=[imported.pk, "nonsense"])).status_code == 404


def test_gear_and_site_are_as_the_operator_says(client_of):
    operator = making.an_operator()
    radio = making.a_radio(operator, "Pocket five")
    site = making.a_site(operator, "Heron Hide")
    client = client_of(operator)
    imported = read_file(client)
    sent = choices(imported)
    names = {name: value for name, value in sent.items() if name.startswith(("site_", "radio_"))}
    assert names["site_0"] == site.pk  # the grid square of the file is the site's
    field = next(n for n, kind, text in ImportForm(imported=imported).names if kind == "radio" and text == "Little")
    do_import(client, imported, **{field: radio.pk})
    assert Outing.objects.get().site == site
    assert set(Stint.objects.values_list("radio", flat=True)) == {radio.pk}


def test_a_file_without_places_needs_a_say_and_keeps_what_was_chosen(client_of):
    client = client_of(making.an_operator(home_grid=""))
    imported = read_file(client, "<CALL:5>Q0XYZ<QSO_DATE:8>20260501<TIME_ON:4>1310<BAND:3>20m<MODE:3>SSB<EOR>")
    response = do_import(client, imported, name_0="Cliff top")
    assert response.status_code == 422
    assert "Cliff top" in response.content.decode() and "grid square" in response.content.decode()
    assert imported.status == ImportedFile.Status.READ
    assert do_import(client, imported, name_0="Cliff top", grid_0="IO91").status_code == 302
    assert Site.objects.get().name == "Cliff top"


def test_all_contacts_may_go_onto_one_outing_and_join_its_stints(client_of):
    operator = making.an_operator()
    outing = making.an_outing(operator)
    stint = making.a_stint(outing, start="2026-05-01 13:00", minutes=13)
    client = client_of(operator)
    imported = read_file(client)
    assert do_import(client, imported, onto="outing").status_code == 422  # which one?
    assert do_import(client, imported, onto="outing", outing=outing.pk).status_code == 302
    assert set(Contact.objects.values_list("outing", flat=True)) == {outing.pk}
    assert Contact.objects.get(call="Q0XYZ").stint == stint
    inferred = Contact.objects.get(call="Q2DEF").stint
    assert inferred.inferred and "gap of more than 20 min" in inferred.inferred_rule


@pytest.mark.parametrize(("data", "word"), [
    (b"", "empty"), (b"not a log at all", "no ADIF field"), (b"\x89PNG\r\n\x1a\n" + b"\x00" * 100, "binary"),
    (b'<?xml version="1.0"?><!DOCTYPE ADX [<!ENTITY a "b">]><ADX>&a;</ADX>', "declaration"),
    (b"<?xml version='1.0'?><html/>", "root"), (b"x" * 3_000_000, "MB"),
], ids=["empty", "words", "picture", "entities", "other XML", "too large"])
def test_what_is_no_log_is_refused_and_leaves_nothing(client_of, settings, data, word):
    settings.LOG_UPLOAD_MAX_BYTES = 2 * 2**20
    client = client_of(making.an_operator())
    response = upload(client, data)
    assert response.status_code == 422
    assert word in response.content.decode()
    assert not ImportedFile.objects.exists()
    stored = [path for path in (settings.MEDIA_ROOT / "imports").rglob("*") if path.is_file()]
    assert not [path for path in stored if path.read_bytes() == data]


def test_a_truncated_file_says_which_record_is_lost(client_of):
    client = client_of(making.an_operator())
    read_file(client, LINES[: LINES.index("Q2DEF") + 3])
    lost = ImportFinding.objects.get(kind="refused")
    assert lost.record == 2 and "ends within this record" in lost.reason


def test_a_page_can_watch_the_work(client_of):
    operator = making.an_operator()
    client = client_of(operator)
    imported = ImportedFile.objects.create(owner=operator, name="big.adi", status="reading", progress=250, total=1000)
    page = client.get(reverse("outings:file_progress", args=[imported.pk]))
    assert "250 of about 1000" in page.content.decode() and "HX-Refresh" not in page
    imported.begin(ImportedFile.Status.READ)
    assert client.get(reverse("outings:file_progress", args=[imported.pk]))["HX-Refresh"] == "true"


def test_an_upload_can_be_read_again_and_forgotten(client_of, settings):
    client = client_of(making.an_operator())
    imported = read_file(client)
    path = imported.file.path
    client.post(reverse("outings:file_read_again", args=[imported.pk]))
    imported.refresh_from_db()
    assert imported.status == ImportedFile.Status.READ
    assert client.get(reverse("outings:file_discard", args=[imported.pk])).status_code == 200
    client.post(reverse("outings:file_discard", args=[imported.pk]))
    assert not ImportedFile.objects.exists()
    assert not Path(path).exists()


def test_an_imported_file_is_neither_forgotten_nor_imported_twice(client_of):
    client = client_of(making.an_operator())
    imported = read_file(client)
    sent = choices(imported)
    do_import(client, imported)
    client.post(reverse("outings:file_discard", args=[imported.pk]))
    client.post(reverse("outings:file_import", args=[imported.pk]), sent)
    client.post(reverse("outings:file_read_again", args=[imported.pk]))
    imported.refresh_from_db()
    assert imported.status == ImportedFile.Status.IMPORTED
    assert Contact.objects.count() == 2


def test_the_export_page_tells_what_adi_cannot_hold(client_of):
    operator = making.an_operator()
    contact = making.a_contact(making.an_outing(operator), name="Zoë")
    client = client_of(operator)
    page = client.get(reverse("outings:export")).content.decode()
    assert "1 contact" in page and "Zoë" in page and "Zoe" in page
    response = client.get(reverse("outings:export_file", args=["adi"]), {"outing": contact.outing_id})
    text = b"".join(response.streaming_content).decode("ascii")
    assert "<NAME:3>Zoe" in text and "1 values were written in their nearest ASCII" in text
    assert "Q1ABC-P-2026-05-01-Reed-Point.adi" in response["Content-Disposition"]
    text = b"".join(client.get(reverse("outings:export_file", args=["adx"])).streaming_content).decode()
    assert "<NAME_INTL>Zoë</NAME_INTL>" in text
    assert client.get(reverse("outings:export_file", args=["zip"])).status_code == 404


def test_an_export_holds_the_own_contacts_only(client_of):
    making.a_contact(making.an_outing(making.an_operator()), call="Q8SECRET")
    other = client_of(making.an_operator("Q7OTHER"))
    text = b"".join(other.get(reverse("outings:export_file", args=["adi"])).streaming_content).decode()
    assert "Q8SECRET" not in text and "<CALL" not in text


NAMES = ["file", "file_progress", "file_import", "file_read_again", "file_undo", "file_discard"]
POSTS = ["file_import", "file_read_again", "file_undo", "file_discard"]


@pytest.fixture
def an_upload(client_of):
    return read_file(client_of(making.an_operator()))


@pytest.mark.parametrize("name", NAMES)
def test_visitors_are_sent_to_log_in(client, an_upload, name):
    address = reverse(f"outings:{name}", args=[an_upload.pk])
    for response in (client.get(address), client.post(address)):
        assert response.status_code in (302, 405)
        assert response.status_code == 405 or "/login/" in response["Location"]
    lists = reverse("outings:file_list"), reverse("outings:export"), reverse("outings:export_file", args=["adi"])
    for address in lists:
        assert "/login/" in client.get(address)["Location"]


@pytest.mark.parametrize("name", NAMES)
def test_other_operators_find_nothing(client_of, an_upload, name):
    stranger = client_of(making.an_operator("Q7OTHER"))
    address = reverse(f"outings:{name}", args=[an_upload.pk])
    answers = {stranger.get(address).status_code, stranger.post(address).status_code}
    assert answers <= {404, 405} and 404 in answers
    findings = reverse("outings:file_findings", args=[an_upload.pk, "refused"])
    assert stranger.get(findings).status_code == 404
    assert an_upload.name not in stranger.get(reverse("outings:file_list")).content.decode()
    an_upload.refresh_from_db()
    assert an_upload.status == ImportedFile.Status.READ
