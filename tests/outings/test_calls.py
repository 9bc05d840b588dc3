"""Call signs: what can be one, what usually is one, and the call inside its affixes."""

import pytest

from outings import calls


@pytest.mark.parametrize(
    ("typed", "text", "base"),
    [
        ("q1abc", "Q1ABC", "Q1ABC"),
        (" q1 abc ", "Q1ABC", "Q1ABC"),
        ("qØxyz", "Q0XYZ", "Q0XYZ"),
        ("Q1ABC/P", "Q1ABC/P", "Q1ABC"),
        ("Q1ABC/QRP/4", "Q1ABC/QRP/4", "Q1ABC"),
        ("F/Q1ABC/P", "F/Q1ABC/P", "Q1ABC"),
        ("MM/Q6DF/P", "MM/Q6DF/P", "Q6DF"),  # the ADIF standard's way of writing portable calls
        ("QA7K/Q2", "QA7K/Q2", "QA7K"),
        ("Q1A/Q2BCD", "Q1A/Q2BCD", "Q2BCD"),
    ],
)
def test_a_call_is_written_in_capitals_and_found_inside_its_affixes(typed, text, base):
    call = calls.read(typed)
    assert (call.text, call.base, call.usual, call.doubtful) == (text, base, True, False)


def test_what_stands_before_and_after_the_call_is_told_apart():
    call = calls.read("F/Q1ABC/QRP/P")
    assert call.before == ("F",)
    assert call.after == ("QRP", "P")


# The forms of ITU Radio Regulations No. 19.68 and 19.68A, with letters of no country; 2X0ABC stands for series that
# begin with a digit, 3QA0X for those where three characters name the country (19.68 note: the third a letter).
@pytest.mark.parametrize("text", ["Q1A", "Q1ABC", "Q1ABCD", "QA7K", "QA7KLM", "2Q0ABC", "3QA0X", "Q12X", "Q1A2B"])
def test_the_usual_forms_are_known(text):
    assert calls.read(text).usual


@pytest.mark.parametrize("text", ["QABC", "Q123", "12345", "Q1ABCDE", "HELLO", "QAB1C", "Q100ABCDE"])
def test_a_strange_form_is_kept_but_marked(text):
    assert not calls.read(text).usual


@pytest.mark.parametrize("text", ["Q1?BC", "Q1ABC?", "??1ABC", "Q1ABC/?"])
def test_a_question_mark_makes_a_call_doubtful(text):
    assert calls.read(text).doubtful


@pytest.mark.parametrize(
    ("text", "reason"),
    [
        ("", "needed"), ("   ", "needed"), ("Q1-ABC", "not -"), ("Q1ABC;", "not ;"),
        ("QÄ1ABC", "not Ä"), ("Q１ABC", "not １"),
        ("/Q1ABC", "between two parts"), ("Q1ABC/", "between two parts"), ("Q1ABC//P", "between two parts"),
        ("A/B/Q1ABC/P/M", "at most four"), ("Q1", "at least three"), ("Q1ABC/" + "A" * 25, "at most 30"),
    ],
)
def test_what_cannot_be_a_call_is_refused_with_the_reason(text, reason):
    with pytest.raises(calls.NotACall, match=reason):
        calls.read(text)


def test_the_call_inside_anything_is_the_text_itself_where_it_is_none():
    assert calls.base("Q1ABC/P") == "Q1ABC"
    assert calls.base("–") == "–"
