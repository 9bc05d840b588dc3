"""Pages of performance notes."""

import re

import pytest
from django.template import engines
from django.urls import reverse

from outings.models import Note
from tests.making import a_note, a_pack, a_site, an_antenna, an_arrangement, an_operator, an_outing

pytestmark = pytest.mark.django_db


@pytest.fixture
def operator():
    return an_operator()


def at(name, *args):
    return reverse(f"outings:{name}", args=args)


def test_a_note_is_written_tied_and_shown(client_of, operator):
    arrangement = an_arrangement(an_antenna(operator))
    outing = an_outing(operator)
    client = client_of(operator)
    sent = {"title": "Coil", "text": "Tap **three**", "arrangements": [arrangement.pk], "outings": [outing.pk]}
    page = client.post(at("note_new"), sent, follow=True)
    note = Note.objects.get()
    assert page.redirect_chain == [(at("note", note.pk), 302)]
    assert (note.owner, list(note.arrangements.all()), list(note.outings.all())) == (operator, [arrangement], [outing])
    shown = page.content.decode()
    assert "Tap <strong>three</strong>" in shown
    assert str(arrangement) in shown and arrangement.get_absolute_url() in shown
    assert note.history().count() == 1


def test_the_form_comes_filled_with_what_the_note_was_asked_to_be_about(client_of, operator):
    pack = a_pack(operator)
    other = a_pack(an_operator("Q2DEF"))
    page = client_of(operator).get(at("note_new"), {"packs": [pack.pk, other.pk, "x"]}).content.decode()
    assert re.search(rf'<input[^>]*name="packs"[^>]*value="{pack.pk}"[^>]*checked', page)
    assert f'name="packs" value="{other.pk}"' not in page


def test_editing_a_note_keeps_its_history(client_of, operator):
    note = a_note(operator)
    client_of(operator).post(at("note_edit", note.pk), {"title": "Coil", "text": "Tap four."})
    note.refresh_from_db()
    assert (note.title, note.text, note.revision) == ("Coil", "Tap four.", 2)
    page = client_of(operator).get(at("note", note.pk)).content.decode()
    assert "Tap **three** is best." in page and "Tap four." in page


def test_what_is_retired_stays_tied_when_a_note_is_edited(client_of, operator):
    arrangement = an_arrangement(an_antenna(operator), retired_on="2026-01-01")
    note = a_note(operator, about=[arrangement])
    page = client_of(operator).get(at("note_edit", note.pk)).content.decode()
    assert f'name="arrangements" value="{arrangement.pk}"' in page
    assert 'name="arrangements"' not in client_of(operator).get(at("note_new")).content.decode()


def test_a_refused_note_keeps_what_was_typed(client_of, operator):
    response = client_of(operator).post(at("note_new"), {"title": "", "text": "A long thought"})
    assert response.status_code == 422
    assert "A long thought" in response.content.decode()
    assert not Note.objects.exists()


def test_a_note_is_deleted_after_a_question_and_brought_back(client_of, operator):
    note, client = a_note(operator), client_of(operator)
    assert "Delete the note" in client.get(at("note_withdraw", note.pk)).content.decode()
    assert Note.objects.exists()
    assert "Bring back" in client.post(at("note_withdraw", note.pk), follow=True).content.decode()
    assert client.get(at("note", note.pk)).status_code == 404
    client.post(at("note_bring_back", note.pk))
    assert client.get(at("note", note.pk)).status_code == 200


def test_notes_are_searched(client_of, operator):
    a_note(operator, "Coil")
    a_note(operator, "Loop")
    page = client_of(operator).get(at("note_list"), {"q": "coil"}).content.decode()
    assert ">Coil</a>" in page and ">Loop</a>" not in page and "1 note mentions" in page
    none = client_of(operator).get(at("note_list"), {"q": "<whale>"}).content.decode()
    assert "0 notes mention" in none and "&lt;whale&gt;" in none and "No notes yet" not in none


def test_an_empty_list_says_what_a_note_is_for(client_of, operator):
    assert "No notes yet" in client_of(operator).get(at("note_list")).content.decode()


def test_the_list_takes_as_many_queries_for_twenty_notes_as_for_one(
    client_of, operator, django_assert_max_num_queries
):
    antenna, client = an_antenna(operator), client_of(operator)
    for number in range(20):
        arrangement = an_arrangement(antenna, f"number {number}")
        a_note(operator, about=[arrangement, an_outing(operator, site=a_site(operator))])
    with django_assert_max_num_queries(12):
        client.get(at("note_list"))


@pytest.mark.parametrize("name", ["note", "note_edit", "note_withdraw", "note_bring_back"])
def test_a_note_of_another_operator_cannot_be_reached(client_of, operator, name):
    note = a_note(an_operator("Q2DEF"))
    if name == "note_bring_back":
        note.withdraw(note.owner)
    client = client_of(operator)
    sent = {"title": "Mine now", "text": ""}
    assert client.post(at(name, note.pk), sent).status_code in (404, 405)
    if name != "note_bring_back":
        assert client.get(at(name, note.pk)).status_code == 404
    note = Note.everything.get()
    assert note.title == "What the coil does" and bool(note.deleted_at) is (name == "note_bring_back")


@pytest.mark.parametrize("name", ["note_list", "note_new", "note", "note_edit", "note_withdraw", "note_bring_back"])
def test_a_visitor_sees_no_notes(client, name):
    note = a_note()
    args = () if name in ("note_list", "note_new") else (note.pk,)
    for send in (client.get, client.post):
        assert send(at(name, *args)).url.startswith(reverse("login"))
    assert Note.objects.get().revision == 1


def test_a_note_is_never_tied_to_things_of_another_operator(client_of, operator):
    a_pack(operator)
    other = a_pack(an_operator("Q2DEF"))
    response = client_of(operator).post(at("note_new"), {"title": "Coil", "packs": [other.pk]})
    assert response.status_code == 422
    assert not Note.objects.exists()


def test_the_fragment_shows_notes_where_they_belong(rf, operator):
    pack = a_pack(operator)
    a_note(operator, "Sags", "Under *load*", about=[pack])
    request = rf.get("/")
    request.user = operator
    template = engines["django"].from_string("{% load notes %}{% notes_about pack %}")
    shown = template.render({"pack": pack.item_ptr}, request)
    assert "Sags" in shown and "<em>load</em>" in shown and f"?packs={pack.pk}" in shown
    assert "Nothing is noted yet" in template.render({"pack": a_pack(operator, "Pack two")}, request)
