"""The standard's own test file, through import and export, field by field."""

import io

import pytest
from django.core.management import call_command

from outings.adif import adi, adx, normalise
from outings.models import Contact, ImportedFile
from tests import making, trying

FOUND_IN = "STATIONLOG_ADIF_TEST_FILE"


def wanted(record):
    """What must be written of a record: its fields, import-only ones replaced as the standard says."""
    found = {}
    for field in record.fields:
        for name, value in normalise.exported(field.name, field.value):
            found.setdefault(name, value)
    return found


@pytest.mark.django_db
def test_every_field_of_every_record_comes_back(tmp_path):
    path = trying.file_from(FOUND_IN, "the ADIF standard's own test file")
    with open(path, "rb") as file:
        _, records = adi.read(file.read())
    assert len(records) == 6197
    making.an_operator()
    call_command("import_adif", path, operator="Q1ABC", stdout=io.StringIO())
    assert Contact.objects.count() == 6197
    assert not Contact.objects.marked().exists()  # every value in it is legal
    call_command("import_adif", path, operator="Q1ABC", stdout=io.StringIO())
    assert Contact.objects.count() == 6197
    assert ImportedFile.objects.latest("pk").summary["result"]["known"] == 6197
    for ending, reader in (("adi", lambda data: adi.read(data)), ("adx", lambda data: adx.read(io.BytesIO(data)))):
        out = tmp_path / f"out.{ending}"
        call_command("export_adif", operator="Q1ABC", adx=ending == "adx", to=out, stderr=io.StringIO())
        header, written = reader(out.read_bytes())
        assert len(header.defined) == 10  # the two that no record uses are left out
        assert not header.faults
        found = {}
        for record in written:
            assert not record.faults
            values = {field.name: field.value for field in record.fields}
            found.setdefault((values["CALL"], values["QSO_DATE"], values["TIME_ON"]), []).append(values)
        differing = []
        for record in records:
            fields = wanted(record)
            values = found[(fields["CALL"], fields["QSO_DATE"], fields["TIME_ON"])].pop(0)
            differing += [(name, text, values.get(name)) for name, text in fields.items() if values.get(name) != text]
        assert differing == []
