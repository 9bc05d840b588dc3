"""Text of any script, measured and broken into lines."""

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from outings.papers import lettering, typefaces

STYLE = lettering.Style()
ALPHABET = "aWi .,-Ω Юя かな漢 한국 שלום العربية हिन्दी ไทย 012\u0301\n"


@settings(max_examples=150, deadline=None)
@given(st.text(alphabet=ALPHABET, max_size=120), st.sampled_from((40.0, 120.0, 400.0)))
def test_no_line_is_wider_than_its_room_and_no_letter_is_lost(text, room_pt):
    lines = lettering.lines(text, STYLE, room_pt)
    assert all(lettering.width_pt(line, STYLE, base) <= room_pt + 0.01 for line, base in lines)
    together = "".join(line for line, _ in lines)
    assert together.replace(" ", "") == typefaces.printable(text).replace(" ", "").replace("\n", "")


def test_a_line_breaks_after_spaces_and_a_long_word_between_letters():
    assert [line for line, _ in lettering.lines("one two\nthree", STYLE, 400)] == ["one two", "three"]
    broken = [line for line, _ in lettering.lines("W" * 60, STYLE, 100)]
    assert len(broken) > 3
    assert "".join(broken) == "W" * 60


def test_japanese_breaks_between_letters():
    assert len(lettering.lines("日本語の山" * 10, STYLE, 100)) > 3


def test_joined_letters_are_shaped_and_not_set_one_by_one():
    # Source: the Arabic letter heh has other forms at the start, in the middle and at the end (Unicode, chapter 9.2).
    alone = {glyph for glyph, _, _ in lettering.glyphs("ه", typefaces.TEXT, True)[0]}
    joined = {glyph for glyph, _, _ in lettering.glyphs("ههه", typefaces.TEXT, True)[0]}
    assert len(joined) == 3
    assert not alone & joined


def test_a_vowel_sign_of_devanagari_stands_before_its_letter():
    # Source: the sign i is written before the consonant that it follows in speech (Unicode, chapter 12.1).
    face = "NotoSansDevanagari-Regular"
    first = lettering.glyphs("कि", face, False)[0][0][0]
    assert first != lettering.glyphs("क", face, False)[0][0][0]


def test_the_shaper_counts_a_run_as_wide_as_the_sum_of_its_advances():
    placed, wide = lettering.glyphs("שלום", typefaces.TEXT, True)
    assert placed[0][1] == pytest.approx(0)
    assert wide > placed[-1][1] > 0


def test_a_text_that_is_split_in_a_table_stays_within_the_room_it_was_set_for():
    text = lettering.Text("feedpoint at eight metres, far end at two metres, choke of twelve turns")
    text.wrap(100, 500)
    parts = text.split(112, 2.5 * text.style.line_pt)  # the column with its padding
    assert [line for part in parts for line in part.set_lines] == text.set_lines
    assert all(lettering.width_pt(line, text.style, base) <= 100 for part in parts for line, base in part.set_lines)


def test_a_text_is_split_between_lines_into_two_parts():
    text = lettering.Text("one\ntwo\nthree", STYLE)
    text.wrap(400, 500)
    first, second = text.split(400, 2.5 * STYLE.line_pt)
    assert [line for line, _ in first.set_lines] == ["one", "two"]
    assert [line for line, _ in second.set_lines] == ["three"]
    assert text.split(400, 0.5 * STYLE.line_pt) == []


@pytest.mark.parametrize(
    "odd",
    ["\u0301", "\u200d", "\x00a", "\ufffe", "🇩🇪👨‍👩‍👧", "\u202e", "\n\n", " ", "", "\u3000" * 99, "\u0915\u094d" * 60],
)
def test_odd_texts_are_no_errors(odd):
    assert all(lettering.width_pt(line, STYLE) <= 60 for line, _ in lettering.lines(odd, STYLE, 60))
