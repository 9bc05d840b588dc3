"""What the file pages read: summaries in words, what an undo takes along, what an export holds; in few queries."""

import datetime

import pytest
from django.urls import reverse

from outings.models import Contact, ImportedFile, ImportFinding
from outings.queries import files
from tests.making import a_contact, a_moment, an_operator, an_outing

pytestmark = pytest.mark.django_db

SUMMARY = {
    "records": 7, "first": a_moment("2026-05-01 13:10").timestamp(), "last": a_moment("2026-05-03 08:00").timestamp(),
    "calls": {"Q1ABC/P": 7}, "bands": {"40m": 3, "20m": 4}, "modes": {"CW": 7}, "program": "QXLAB", "version": "3.1.4",
    "encoding": "cp1252", "counts": {"new": 1, "changed": 2}, "result": {"new": 1, "outings": 1, "updated": 2},
}


def a_file(owner, **fields):
    return ImportedFile.objects.create(
        owner=owner, name="park.adi", status=ImportedFile.Status.IMPORTED, summary=SUMMARY, format="adi",
        finished_at=a_moment(), **fields,
    )


@pytest.fixture
def imported():
    return a_file(an_operator())


def contacts(imported, count):
    """So many contacts that a file brought, one of them edited since; some with letters beyond ASCII."""
    outing = an_outing(imported.owner)
    rows = Contact.objects.bulk_create(
        Contact(
            owner=imported.owner, outing=outing, call=f"Q{n % 10}AB", station_call="Q1ABC", mode="CW", band="20m",
            started_at=a_moment() + datetime.timedelta(minutes=n), name="Zoë" if n % 2 else "Kim", imported_by=imported,
        ) for n in range(count)
    )
    Contact.objects.filter(pk=rows[0].pk).update(revision=2)


def test_a_summary_is_put_into_words_without_a_query(imported, django_assert_num_queries):
    with django_assert_num_queries(0):
        found = files.summary_of(imported)
    assert (found.first, found.last) == (a_moment("2026-05-01 13:10"), a_moment("2026-05-03 08:00"))
    assert found.bands == (("40m", 3), ("20m", 4)), "from low to high"
    assert [count.text for count in found.counts] == ["1 new", "2 in your log, but different"]
    assert found.counts[1].href == reverse("outings:file_findings", args=[imported.pk, "changed"])
    assert [count.text for count in found.result] == ["1 contact added", "2 contacts updated", "1 outing made"]
    assert "Windows-1252" in found.encoding
    assert files.summary_of(ImportedFile(owner=imported.owner, name="new.adi")) is None


@pytest.mark.parametrize("count", [1, 200])
def test_an_undo_takes_one_query_and_a_look_at_an_export_two_however_long(imported, count, django_assert_num_queries):
    contacts(imported, count)
    with django_assert_num_queries(1):
        words = files.undo_in_words(imported)
    assert words.startswith(f"{count} contact") and "1 of them w" in words and "2 contacts that it changed" in words
    with django_assert_num_queries(2):
        found = files.export_preview(Contact.objects.of(imported.owner))
    assert (found.count, found.complete, found.first) == (count, True, a_moment())
    assert found.converted == ((("name", count // 2, "Zoë", "Zoe"),) if count > 1 else ())


def test_the_pages_take_as_many_queries_for_many_files_findings_and_contacts_as_for_few(
    imported, client_of, django_assert_num_queries, django_assert_max_num_queries
):
    client = client_of(imported.owner)
    pages = [reverse("outings:file_list"), reverse("outings:file", args=[imported.pk]), reverse("outings:export"),
             reverse("outings:file_findings", args=[imported.pk, "changed"])]
    outing = an_outing(imported.owner)
    for number in range(30):
        if number == 1:
            for page in pages:
                with django_assert_max_num_queries(9):
                    client.get(page)
        ImportFinding.objects.create(imported_file=imported, kind="changed", record=number, reason="differs")
        a_file(imported.owner, sha256=f"{number}")
        a_contact(outing, call=f"Q{number % 10}XY")
    for page in pages:
        with django_assert_max_num_queries(9):
            client.get(page)
