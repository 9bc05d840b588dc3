"""Direction of letters, against the Unicode rules as another program carries them out."""

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from outings.papers import direction
from tests.trying import reference_library

WORDS = ["Q1ABC", "kHz", "שלום", "הר", "حديقة", "الملك", "12", "7.1", "-5", "٣", "+", "/", "…", "Ω", "50%"]


def shown(text, base):
    """The letters from left to right; pairs that mirror are not in the words."""
    runs = direction.in_visual_order(list(zip(text, direction.levels(text, base), strict=True)), lambda run: run[1])
    return "".join(letter for letter, _ in runs)


@settings(max_examples=400, deadline=None)
@given(st.lists(st.sampled_from(WORDS), min_size=1, max_size=7).map(" ".join), st.sampled_from((0, 1)))
def test_mixed_text_stands_in_the_order_of_the_unicode_rules(text, base):
    # Source: python-bidi, which carries out UAX #9 by the unicode-bidi crate.
    bidi = reference_library("bidi", "python-bidi")
    assert shown(text, base) == bidi.get_display(text, base_dir="RL"[1 - base])


def test_the_first_letter_with_a_direction_decides():
    assert direction.base_level("12 - שלום Q1ABC") == 1
    assert direction.base_level("12 - Q1ABC שלום") == 0
    assert direction.base_level("12 - ") == 0


def test_plain_latin_text_has_one_level():
    assert direction.levels("Q0XYZ/P 14.285 MHz") == [0] * 18


@pytest.mark.parametrize("text", ["", " ", "…"])
def test_text_without_letters_is_no_error(text):
    assert direction.levels(text, 1) == [1] * len(text)
