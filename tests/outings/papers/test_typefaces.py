"""The typefaces that papers carry along."""

import pytest

from outings.papers import typefaces

SAMPLES = {
    "Latin": "Åßŵİđ", "Vietnamese": "Việt", "Greek": "Ωμέγαἀ", "Cyrillic": "Юрийїґ", "Armenian": "Հայ",
    "Georgian": "საქ", "Hebrew": "שלום", "Arabic": "السلام", "Devanagari": "हिन्दी", "Bengali": "বাংলা",
    "Tamil": "தமிழ்", "Telugu": "తెలుగు", "Gujarati": "ગુજરાતી", "Gurmukhi": "ਪੰਜਾਬੀ", "Kannada": "ಕನ್ನಡ",
    "Malayalam": "മലയാളം", "Sinhala": "සිංහල", "Thai": "ไทยที่", "Lao": "ລາວ", "Khmer": "ខ្មែរ",
    "Myanmar": "မြန်မာ", "Ethiopic": "አማርኛ", "Chinese": "中国漢字臺灣", "Japanese": "日本語かなカナ", "Korean": "한국어",
    "signs": "Ω□→↑°×−µ½²✓",
}


@pytest.mark.parametrize("script", SAMPLES)
def test_a_typeface_here_has_every_letter(script):
    assert [letter for letter in SAMPLES[script] if typefaces.name_for(letter, typefaces.TEXT) is None] == []


def test_a_call_sign_is_set_in_the_face_with_the_slashed_zero():
    assert {typefaces.name_for(letter, typefaces.CALL_BOLD) for letter in "Q0XYZ/P"} == {typefaces.CALL_BOLD}


def test_every_file_is_named_in_the_list_of_licences_and_together_they_stay_small():
    listed = (typefaces.FOLDER / "README.txt").read_text(encoding="utf-8")
    files = [path for path in typefaces.FOLDER.iterdir() if path.suffix in (".ttf", ".ttc")]
    for path in files:
        family = "NotoSans*-" if path.name.startswith("NotoSans") else f"{path.name.split('-')[0]}-"
        assert path.name in listed or family in listed
    assert sum(path.stat().st_size for path in files) < 12_000_000
    for licence in ("OFL.txt", "DejaVu.txt", "Apache-2.0.txt"):
        assert licence in listed
        assert (typefaces.FOLDER / licence).stat().st_size > 1000


def test_what_cannot_be_printed_is_replaced_or_left_out():
    assert typefaces.printable("a\tb\r\nc\x07d") == "a b\ncd"
    assert typefaces.printable("safe\u202eevil") == "safeevil"
    assert typefaces.printable("\U0001f3d5\ufe0f") == typefaces.MISSING
    assert typefaces.printable("e\u0301") == "é"
