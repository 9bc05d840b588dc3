"""Imports into the log: what is new, known, changed or deleted, stints and outings, undo, and work that is cut off."""

import datetime
import io
import json

import pytest
from django.core.management import CommandError, call_command
from django.utils import timezone

from equipment.models import Change
from outings.intake import importing, preview, spool, undoing, uploads, work
from outings.models import Contact, ImportedFile, ImportFinding, Outing, Site, Stint
from tests import making

pytestmark = pytest.mark.django_db


def text_of(*records):
    """An ADI file of records given as {field: text}; the usual fields are filled in."""
    usual = {"QSO_DATE": "20260501", "TIME_ON": "1310", "BAND": "20m", "MODE": "SSB", "MY_GRIDSQUARE": "JO62QM"}
    lines = []
    for record in records:
        fields = {**usual, **record}
        lines.append("".join(f"<{name}:{len(text)}>{text}" for name, text in fields.items() if text) + "<EOR>\n")
    return "made for a test<EOH>\n" + "".join(lines)


@pytest.fixture
def operator():
    return making.an_operator()


@pytest.fixture
def take_in(operator, tmp_path):
    """A function that imports records with these choices and returns the ImportedFile."""

    def imported(*records, text=None, **choices):
        path = tmp_path / "log.adi"
        path.write_text(text or text_of(*records), encoding="utf-8")
        staged = uploads.stage_path(operator, path)
        preview.read_through(staged)
        assert staged.status == ImportedFile.Status.READ, staged.message
        staged.choices = choices
        return importing.carry_out(staged)

    return imported


def result(imported):
    assert imported.status == ImportedFile.Status.IMPORTED, imported.message
    return {name: number for name, number in imported.summary["result"].items() if number}


def test_contacts_are_known_by_call_minute_band_and_mode(take_in):
    first = {"CALL": "Q0XYZ", "STATION_CALLSIGN": "Q1ABC/P"}
    take_in(first)
    assert result(take_in(first))["known"] == 1
    changes = {"TIME_ON": "131037"}, {"TIME_ON": "1311"}, {"BAND": "40m"}, {"MODE": "CW"}, {"STATION_CALLSIGN": "Q1ABC"}
    assert result(take_in(*({**first, **change} for change in changes)))["new"] == 4
    assert Contact.objects.count() == 5


def test_what_was_mended_since_is_still_known(take_in, operator):
    take_in({"CALL": "Q0XYZ"})
    contact = Contact.objects.get()
    contact.started_at += datetime.timedelta(hours=2)
    contact.keep(operator)
    assert result(take_in({"CALL": "Q0XYZ"})) == {"known": 1}


def test_changed_records_are_shown_and_update_only_on_the_operators_say(take_in):
    take_in({"CALL": "Q0XYZ", "NAME": "Kim"})
    imported = take_in({"CALL": "Q0XYZ", "NAME": "Kimberly"})
    assert result(imported) == {"changed": 1}
    finding = ImportFinding.objects.get(imported_file=imported)
    assert finding.kind == "changed" and "Kimberly" in finding.reason and "Kim," in finding.reason
    assert Contact.objects.get().name == "Kim"
    imported = take_in({"CALL": "Q0XYZ", "NAME": "Kimberly"}, update_changed=True)
    assert result(imported)["updated"] == 1
    contact = Contact.objects.get()
    assert (contact.name, contact.revision) == ("Kimberly", 2)
    undoing.undo(imported)
    assert Contact.objects.get().name == "Kim"


def test_an_update_that_was_edited_since_holds_up_the_undo(take_in, operator):
    take_in({"CALL": "Q0XYZ", "NAME": "Kim"})
    imported = take_in({"CALL": "Q0XYZ", "NAME": "Kimberly"}, update_changed=True)
    contact = Contact.objects.get()
    contact.name = "K."
    contact.keep(operator)
    with pytest.raises(importing.CannotImport, match="Q0XYZ"):
        undoing.undo(imported)
    assert Contact.objects.get().name == "K."
    imported.refresh_from_db()
    assert imported.status == ImportedFile.Status.IMPORTED


def test_an_undone_import_can_be_done_again(take_in):
    identity = "8d7ab1f4-53a1-4bb5-9d0e-0c6a0d6a1c11"
    records = [{"CALL": "Q0XYZ", "APP_STATIONLOG_UUID": identity}, {"CALL": "Q2DEF"}]
    undoing.undo(take_in(*records))
    assert not (Contact.objects.exists() or Outing.objects.exists() or Stint.objects.exists())
    assert result(take_in(*records))["new"] == 2
    assert Contact.objects.filter(uuid=identity).count() == 1
    assert Contact.objects.count() == 2 and Outing.objects.count() == 1


def test_contacts_that_were_deleted_stay_deleted_unless_asked_back(take_in, operator):
    take_in({"CALL": "Q0XYZ"}, {"CALL": "Q2DEF"})
    Contact.objects.get(call="Q0XYZ").withdraw(operator)
    assert result(take_in({"CALL": "Q0XYZ"})) == {"deleted": 1}
    assert result(take_in({"CALL": "Q0XYZ"}, bring_back=True))["new"] == 1
    assert Contact.objects.filter(call="Q0XYZ").count() == 1
    assert Contact.everything.filter(call="Q0XYZ").count() == 1


def test_our_uuid_tells_contacts_apart_and_older_revisions_change_nothing(take_in, operator):
    outing = making.an_outing(operator)
    contact = making.a_contact(outing, name="Kim")
    contact.name = "Kimberly"
    contact.keep(operator)
    record = {"CALL": "Q9OTHER", "APP_STATIONLOG_UUID": str(contact.uuid), "APP_STATIONLOG_REVISION": "1"}
    assert result(take_in(record)) == {"known": 1}
    assert result(take_in({**record, "APP_STATIONLOG_REVISION": "2"})) == {"changed": 1}


def test_repeated_records_are_taken_once_or_as_the_operator_says(take_in):
    imported = take_in({"CALL": "Q0XYZ"}, {"CALL": "Q0XYZ"})
    assert result(imported)["twice"] == 1
    assert "record 1" in ImportFinding.objects.get(imported_file=imported, kind="twice").reason
    undoing.undo(imported)
    assert result(take_in({"CALL": "Q0XYZ"}, {"CALL": "Q0XYZ"}, take_twice=True))["new"] == 2


def test_outings_are_made_by_site_day_and_own_call_and_filled_up_later(take_in):
    take_in(
        {"CALL": "Q0XYZ"}, {"CALL": "Q2DEF", "QSO_DATE": "20260502"}, {"CALL": "Q2DEF", "MY_GRIDSQUARE": "JN58SD"},
        {"CALL": "Q3GHI", "STATION_CALLSIGN": "Q100ABC"},
    )
    assert (Outing.objects.count(), Site.objects.count()) == (4, 2)
    take_in({"CALL": "Q4JKL", "TIME_ON": "1330"})
    assert (Outing.objects.count(), Site.objects.count()) == (4, 2)


def test_a_reference_finds_its_site(take_in, operator):
    site = making.a_site(operator, grid="JO62QM")
    take_in({"CALL": "Q0XYZ", "MY_SIG": "Shorelines", "MY_SIG_INFO": "qs-0042", "MY_GRIDSQUARE": ""})
    assert Outing.objects.get().site == site
    take_in({"CALL": "Q2DEF", "MY_SIG": "Shorelines", "MY_SIG_INFO": "QS-0043"})
    made = Site.objects.exclude(pk=site.pk).get()
    assert made.references == [{"programme": "Shorelines", "reference": "QS-0043"}] and made.grid == "JO62qm"


def test_a_digital_contact_joins_the_recorded_stint_of_its_family(take_in, operator):
    outing = making.an_outing(operator)
    digital = making.a_stint(outing, mode="FT8", submode="", minutes=30)
    voice = making.a_stint(outing, minutes=30)
    take_in(
        {"CALL": "Q0XYZ", "MODE": "MFSK", "SUBMODE": "FT4"}, {"CALL": "Q2DEF"}, {"CALL": "Q3GHI", "TIME_ON": "1340"},
        outing=outing.pk,
    )
    stints = dict(Contact.objects.values_list("call", "stint"))
    assert (stints["Q0XYZ"], stints["Q2DEF"]) == (digital.pk, voice.pk)
    assert stints["Q3GHI"] not in (digital.pk, voice.pk, None)


def test_large_imports_are_spooled_and_stored_alike(take_in, monkeypatch):
    monkeypatch.setattr(spool, "KEPT", 3)
    records = [{"CALL": f"Q{n % 10}A{chr(65 + n % 26)}", "TIME_ON": f"{n // 60:02d}{n % 60:02d}"} for n in range(1200)]
    assert result(take_in(*records))["new"] == 1200
    found = {f"{at:%H%M}": call for at, call in Contact.objects.values_list("started_at", "call")}
    assert found == {record["TIME_ON"]: record["CALL"] for record in records}


def test_nothing_is_stored_of_an_import_that_fails(take_in, monkeypatch):
    def broken(*args):
        raise RuntimeError("the disk is full")

    monkeypatch.setattr(importing._Import, "_store_changed", broken)
    with pytest.raises(RuntimeError):
        take_in({"CALL": "Q0XYZ"})
    assert not (Contact.everything.exists() or Outing.everything.exists() or Site.objects.exists())
    imported = ImportedFile.objects.get()
    assert imported.status == ImportedFile.Status.FAILED and "Nothing was stored" in imported.message


@pytest.mark.parametrize("model", [Outing, Site])
def test_an_outing_that_was_deleted_while_a_file_was_read_takes_no_contacts(take_in, monkeypatch, model):
    take_in({"CALL": "Q0XYZ"})
    store = importing._Import.store

    def store_later(work):
        Contact.everything.all().delete()
        Stint.everything.all().delete()
        Outing.everything.all().delete()
        if model is Site:
            Site.objects.all().delete()
        return store(work)

    monkeypatch.setattr(importing._Import, "store", store_later)
    day = "20260501" if model is Outing else "20260502"  # another day has a new outing at the site that was there
    imported = take_in({"CALL": "Q1ABC", "QSO_DATE": day})
    assert imported.status == ImportedFile.Status.FAILED and "was deleted meanwhile" in imported.message
    assert not Contact.everything.exists()


def test_an_import_that_was_killed_says_so_and_can_store_nothing_later(operator, tmp_path):
    path = tmp_path / "log.adi"
    path.write_text(text_of({"CALL": "Q0XYZ"}))
    imported = uploads.stage_path(operator, path)
    preview.read_through(imported)
    imported.begin(ImportedFile.Status.IMPORTING)
    late = importing._Import(imported)
    now = timezone.now()
    imported.give_up_if_silent(now)
    assert imported.status == ImportedFile.Status.IMPORTING
    imported.give_up_if_silent(now + datetime.timedelta(minutes=5))
    assert imported.status == ImportedFile.Status.FAILED and "interrupted" in imported.message
    with pytest.raises(importing.CannotImport):
        late.store()
    assert not Contact.objects.exists()


def test_large_files_are_worked_on_in_a_process_of_their_own(operator, monkeypatch):
    started = []
    monkeypatch.setattr(work.subprocess, "Popen", lambda command, **options: started.append((command, options)))
    imported = ImportedFile.objects.create(owner=operator, name="big.adi", size_bytes=10**8)
    work.start(imported)
    command, options = started[0]
    assert command[1:] == [str(work.Path(work.settings.BASE_DIR) / "manage.py"), "work_on_file", str(imported.pk)]
    assert options["env"]["STATIONLOG_DATA"] == str(work.settings.DATA_DIR)


def test_an_import_leaves_no_lines_of_history_but_for_what_it_changed(take_in):
    take_in({"CALL": "Q0XYZ"})
    assert not Change.objects.of_kinds(Contact, Outing, Stint).exists()


def test_the_command_imports_and_tells_as_json(operator, tmp_path):
    path = tmp_path / "log.adi"
    path.write_text(text_of({"CALL": "Q0XYZ"}, {"CALL": "Q2DEF", "QSO_DATE": "20269999"}))
    out = io.StringIO()
    call_command("import_adif", path, "--operator", "q1abc", "--json", stdout=out)
    told = json.loads(out.getvalue())
    assert (told["new"], told["lost"], told["outings"]) == (1, 1, 1)
    out = io.StringIO()
    call_command("export_adif", "--operator", "Q1ABC", stdout=out)
    assert "<CALL:5>Q0XYZ" in out.getvalue()


@pytest.mark.parametrize(("arguments", "word"), [
    (["none.adi", "--operator", "Q1ABC"], "cannot be read"), (["log.adi", "--operator", "Q9NONE"], "no operator"),
    (["log.adi", "--operator", "Q1ABC", "--outing", "99"], "no outing"),
    (["bad.adi", "--operator", "Q1ABC"], "no ADIF field"),
])
def test_the_command_refuses_in_words(operator, tmp_path, monkeypatch, arguments, word):
    monkeypatch.chdir(tmp_path)
    (tmp_path / "log.adi").write_text(text_of({"CALL": "Q0XYZ"}))
    (tmp_path / "bad.adi").write_text("hello")
    with pytest.raises(CommandError, match=word):
        call_command("import_adif", *arguments)
    assert not Contact.objects.exists()
