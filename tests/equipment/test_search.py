"""Search folds the case of letters of every script, the same way on SQLite and PostgreSQL."""

import pytest

from equipment.models import Item
from outings.models import Contact, Note, Outing
from outings.queries import plans, sites
from tests.making import a_contact, a_moment, a_note, a_radio, a_site, an_operator, an_outing

pytestmark = pytest.mark.django_db

# Source: Unicode Standard, section 3.13 and SpecialCasing.txt: ö, й, final sigma, ß, dotless i.
PAIRS = [
    ("Öland", "öLAND"), ("Тихий Холм", "тихий холм"), ("Άνεμος", "ΆΝΕΜΟΣ"), ("Straße", "STRASSE"), ("Ağrı", "AĞRI"),
    ("50 % _ \\ 'x'", "% _ \\ 'X'"),
]


@pytest.mark.parametrize(("kept", "typed"), [*PAIRS, *((b, a) for a, b in PAIRS[:-1])])
def test_names_notes_and_comments_are_found_in_either_case(kept, typed):
    owner = an_operator()
    item = a_radio(owner, kept)
    site = a_site(owner, kept)
    outing = an_outing(site=a_site(owner), references=[{"programme": "Hills", "reference": kept}])
    note, contact = a_note(owner, "About", kept), a_contact(outing, comment=kept)
    word = typed.split()[0]
    assert [row.pk for row in Item.objects.naming(typed)] == [item.pk]
    assert list(sites.site_list(owner, text=typed)) == [site]
    assert list(Contact.objects.mentioning(typed)) == [contact]
    assert list(Note.objects.mentioning(word)) == [note]
    if "\\" not in kept:  # which JSON escapes
        found = plans.outing_list(owner, which="past", now=a_moment("2026-06-01 00:00"), text=typed)
        assert list(found) == [outing] == list(Outing.objects.all())
    assert not Contact.objects.mentioning(f"{typed}x").exists()


def test_columns_without_a_value_hold_nothing():
    assert not Contact.objects.mentioning("x").exists()
    a_contact()
    assert not Contact.objects.mentioning("None").exists()
