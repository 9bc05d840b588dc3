"""Performance notes: found by their words and by what they are about."""

import pytest

from outings.models import Note
from tests.making import a_note, a_pack, a_radio, a_site, an_antenna, an_arrangement, an_operator, an_outing

pytestmark = pytest.mark.django_db


@pytest.fixture
def operator():
    return an_operator()


def test_a_note_is_found_by_words_of_its_title_and_text_together(operator):
    note = a_note(operator, "Coil", "Tap three is best.")
    a_note(operator, "Coil", "Nothing about the other thing.")
    assert list(Note.objects.of(operator).mentioning("coil THREE")) == [note]
    assert not Note.objects.of(operator).mentioning("coil four").exists()


def test_a_note_is_found_once_by_the_names_of_what_it_is_about(operator):
    antenna = an_antenna(operator, "Whip")
    about = [
        an_arrangement(antenna, "whip up high"), an_arrangement(antenna, "whip low"), a_pack(operator, "Blue pack"),
        a_radio(operator, "Tin radio"), an_outing(operator, site=a_site(operator, "Heron Marsh")),
    ]
    note = a_note(operator, about=about)
    for word in ("whip", "blue", "tin", "heron", "whip heron tin"):
        assert list(Note.objects.of(operator).mentioning(word)) == [note], word


def test_a_note_shows_up_with_each_thing_that_it_is_about_and_no_other(operator):
    antenna = an_antenna(operator)
    first, second = an_arrangement(antenna, "one"), an_arrangement(antenna, "two")
    pack, outing = a_pack(operator), an_outing(operator)
    note = a_note(operator, about=[first, pack, outing])
    notes = Note.objects.of(operator)
    for thing in (first, pack, outing, antenna):
        assert list(notes.about(thing)) == [note]
    assert not notes.about(second).exists()
    assert not notes.about(a_radio(operator)).exists()


def test_notes_of_another_operator_are_never_among_them(operator):
    pack = a_pack(operator)
    a_note(an_operator("Q2DEF"), "Coil", about=[pack])
    assert not Note.objects.of(operator).mentioning("coil").exists()
    assert not Note.objects.of(operator).about(pack).exists()


def test_a_withdrawn_note_is_gone_until_it_is_brought_back(operator):
    note = a_note(operator)
    note.withdraw(operator)
    assert not Note.objects.of(operator).exists()
    assert list(Note.everything.of(operator).withdrawn()) == [note]
    note.bring_back(operator)
    assert list(Note.objects.of(operator)) == [note]
