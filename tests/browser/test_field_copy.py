"""The copy that the phone saves is known again by the laptop, whichever of copy and queue comes first."""

import itertools
import re
from pathlib import Path

import pytest
from django.urls import reverse
from django.utils import timezone

from equipment.models import PackReading
from outings.adif import ascii
from outings.models import ChecklistLine, Contact, FieldEntry, ImportedFile, Outing, Remark, Stint
from tests import making
from tests.browser.test_field import go_on_air, hand_in, log, opened
from tests.browsing import says
from tests.outings.views.test_files import choices, upload

pytestmark = pytest.mark.django_db(transaction=True)


def an_outing(day_offset=0):
    operator = making.an_operator()
    making.a_radio(operator, "Kleines Gerät")
    making.an_arrangement(making.an_antenna(operator, "Wire für 20 m"), "sloping, 6 m up", bands=["20m"])
    making.a_pack(operator, "Pack α")
    start = timezone.now() + timezone.timedelta(days=day_offset)
    return making.an_outing(operator, start=f"{start:%Y-%m-%d %H:%M}")


def typed_offline(page):
    """A little of everything, typed without a network; the text of the copy saved then."""
    page.context.set_offline(True)
    go_on_air(page, ago="50", power="500 mW", tuned="14.285")
    page.evaluate("document.querySelector('#more').open = true")
    log(page, "Q0XYZ", name="Zoë Ærø", their_grid="JO22", comment="sunny — 21 °C")
    log(page, "Q5?")
    log(page, "Q7ABC/P", their_reference="qs-0042, qs-0043", state="ut", rst_sent="55")
    log(page, "Q4GONE")
    page.click("#undo")
    says(page, "#kept", "taken back")
    go_on_air(page, tuned="7150", ago="1")
    log(page, "Q8DEF")
    page.click("[data-part=home]")
    with page.expect_download() as download:
        page.click("#copy")
    return Path(download.value.path()).read_text("ascii")


def contacts_alone(text):
    """The copy without what waited on the phone, as another program would write it again."""
    return re.sub(r"<APP_STATIONLOG_ENTRIES:[^\n]*\n", "", text, count=1)


def imported(client, text):
    """Import a file as a user does who changes nothing in the form; what came of it."""
    upload(client, text)
    staged = ImportedFile.objects.latest("pk")
    assert staged.status == ImportedFile.Status.READ, staged.message
    for name, value in choices(staged).items():  # every name of gear in the copy is one of ours
        assert value or not name.startswith(("radio_", "arrangement_", "pack_")), name
    client.post(reverse("outings:file_import", args=[staged.pk]), choices(staged))
    staged.refresh_from_db()
    assert staged.status == ImportedFile.Status.IMPORTED, staged.message
    return {name: count for name, count in staged.summary["result"].items() if count}


def contacts():
    return sorted(Contact.objects.values_list("call", "pending", "name", "comment", "band", "stint__inferred"))


TYPED = sorted([
    ("Q0XYZ", False, "Zoë Ærø", "sunny — 21 °C", "20m", False), ("Q5?", True, "", "", "20m", False),
    ("Q7ABC/P", False, "", "", "20m", False), ("Q8DEF", False, "", "", "40m", False),
])


@pytest.mark.parametrize("day_offset", [0, 5])
def test_a_copy_that_is_imported_before_the_phone_hands_in_makes_nothing_twice(signed_in_page, client_of, day_offset):
    outing = an_outing(day_offset)
    client = client_of(outing.owner)
    page = opened(signed_in_page, outing)
    text = typed_offline(page)
    assert imported(client, contacts_alone(text))["new"] == 4
    assert Contact.objects.count() == 4
    gear = Stint.objects.filter(inferred=True).values_list("arrangement__name", "radio__name", "pack__name")
    assert set(gear) == {("sloping, 6 m up", "Kleines Gerät", "Pack α")}
    page.context.set_offline(False)
    hand_in(page)
    assert contacts() == TYPED
    assert list(Outing.objects.all()) == [outing]
    assert Stint.objects.count() == 2 and not Stint.objects.filter(inferred=True).exists()
    assert Contact.everything.filter(deleted_at=None).count() == 4
    assert imported(client, text) == {"known": 4}
    assert contacts() == TYPED


def test_a_copy_brings_everything_that_waited_and_the_phone_hands_nothing_in_twice(signed_in_page, client_of):
    """As from a phone that keeps its entries under an address where the computer is not reached any more."""
    outing = an_outing()
    ChecklistLine(owner=outing.owner, outing=outing, text="Mast", section="pack").keep(outing.owner)
    page = opened(signed_in_page, outing)
    page.context.set_offline(True)
    page.click("[data-part=list]")
    page.click("#checklist label")
    says(page, "#kept", "Ticked")
    page.click("[data-part=measure]")
    page.fill("#measure [name=voltage_v]", "13.1")
    page.click("#measure button")
    says(page, "#kept", "13.1 V kept")
    page.fill("#remark [name=text]", "Wind from the north")
    page.click("#remark button")
    says(page, "#kept", "Note kept")
    page.click("[data-part=log]")
    text = typed_offline(page)
    result = imported(client_of(outing.owner), text)
    assert result["known"] == 4 and result["handed_in"] == FieldEntry.objects.count() and "new" not in result
    assert contacts() == TYPED and Stint.objects.filter(inferred=False).count() == 2 == Stint.objects.count()
    assert (PackReading.objects.get().voltage_v, Remark.objects.get().text) == (13.1, "Wind from the north")
    assert ChecklistLine.objects.get().ticked_at
    before = FieldEntry.objects.count()
    page.context.set_offline(False)
    hand_in(page)
    assert FieldEntry.objects.count() == before and contacts() == TYPED


def test_a_copy_without_a_contact_is_taken_in_too(signed_in_page, client_of):
    outing = an_outing()
    page = opened(signed_in_page, outing)
    page.context.set_offline(True)
    page.click("[data-part=measure]")
    page.fill("#noise [name=value]", "4")
    page.click("#noise button")
    says(page, "#kept", "Noise kept")
    page.click("[data-part=home]")
    with page.expect_download() as download:
        page.click("#copy")
    client = client_of(outing.owner)
    assert imported(client, Path(download.value.path()).read_text("ascii")) == {"handed_in": 1}
    assert Remark.objects.get().value == 4
    assert client.get(reverse("outings:file", args=[ImportedFile.objects.get().pk])).status_code == 200


def test_a_copy_of_another_log_brings_its_contacts_alone(signed_in_page, client_of):
    page = opened(signed_in_page, an_outing())
    text = typed_offline(page)
    elsewhere = client_of(making.an_operator("Q9ZZZ"))
    upload(elsewhere, text)
    staged = ImportedFile.objects.latest("pk")
    elsewhere.post(reverse("outings:file_import", args=[staged.pk]), choices(staged))
    staged.refresh_from_db()
    assert staged.summary["result"]["new"] == 4 and "handed_in" not in staged.summary["result"]
    assert set(Contact.objects.values_list("owner__call_sign", flat=True)) == {"Q9ZZZ"}
    assert not FieldEntry.objects.exists()


def test_a_copy_that_is_imported_after_the_phone_has_handed_in_changes_nothing(signed_in_page, client_of):
    outing = an_outing()
    client = client_of(outing.owner)
    page = opened(signed_in_page, outing)
    text = typed_offline(page)
    page.context.set_offline(False)
    hand_in(page)
    before = sorted(Contact.everything.values_list("uuid", "call", "revision", "deleted_at"))
    assert imported(client, text) == {"known": 4}
    assert sorted(Contact.everything.values_list("uuid", "call", "revision", "deleted_at")) == before
    assert contacts() == TYPED and list(Outing.objects.all()) == [outing]


def test_phone_and_server_write_letters_beyond_ascii_alike(signed_in_page, client_of):
    page = opened(signed_in_page, an_outing())
    ranges = [range(0xA0, 0x250), range(0x370, 0x400), range(0x2010, 0x2044), range(0x2190, 0x2194)]
    letters = "".join(map(chr, itertools.chain(*ranges))) + "\u2126\t€️🗻日本"
    phones = page.evaluate("async (text) => (await import('/static/field/adif.js')).ascii(text)", letters)
    assert phones == ascii.nearest(letters)
