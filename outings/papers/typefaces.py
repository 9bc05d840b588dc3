"""The typefaces that papers are set in, kept beside this module, and which of them has a letter.

Simple scripts are set as embedded text. Scripts that need shaping (joined, stacked or reordered letters, and whatever
runs from the right) are shaped by HarfBuzz and drawn as outlines, with the text itself unseen below, so that it can
be searched and copied.
"""

import functools
import unicodedata
from pathlib import Path

import uharfbuzz
from reportlab.pdfbase import pdfmetrics
from reportlab.pdfbase.ttfonts import TTFont

FOLDER = Path(__file__).parent / "fonts"

TEXT, BOLD = "DejaVuSans", "DejaVuSans-Bold"
CALL, CALL_BOLD = "AtkinsonHyperlegibleMono-Regular", "AtkinsonHyperlegibleMono-Bold"
CJK = "wqy-microhei"
OTHER = (
    "NotoSansThai-Regular", "NotoSansLao-Regular", "NotoSansDevanagari-Regular", "NotoSansBengali-Regular",
    "NotoSansTamil-Regular", "NotoSansTelugu-Regular", "NotoSansGujarati-Regular", "NotoSansGurmukhi-Regular",
    "NotoSansKannada-Regular", "NotoSansMalayalam-Regular", "NotoSansSinhala-Regular", "NotoSansKhmer-Regular",
    "NotoSansMyanmar-Regular", "NotoSansEthiopic-Regular", "NotoSansOriya-Regular", "NotoSansThaana-Regular",
)
MISSING = "\ufffd"  # printed for a letter that no typeface here has

# Blocks of scripts whose letters join, stack or change places, so that letter by letter would be wrong.
SHAPED = (
    (0x0590, 0x08FF),  # Hebrew, Arabic, Syriac, Thaana, N'Ko, Samaritan, Mandaic
    (0x0900, 0x0DFF),  # the scripts of India and Sinhala
    (0x0E00, 0x0EFF),  # Thai, Lao
    (0x1000, 0x109F),  # Myanmar
    (0x1780, 0x17FF),  # Khmer
    (0xFB1D, 0xFDFF), (0xFE70, 0xFEFE),  # presentation forms
)
BETWEEN_ALL_LETTERS = (  # a line may break anywhere in these, they are written without spaces
    (0x0E00, 0x0EFF), (0x1000, 0x109F), (0x1780, 0x17FF), (0x2E80, 0x312F), (0x3130, 0x9FFF), (0xAC00, 0xD7A3),
    (0xF900, 0xFAFF), (0xFF00, 0xFFEF),
)


def path(name):
    """The file of a typeface."""
    return FOLDER / (f"{name}.ttc" if name == CJK else f"{name}.ttf")


@functools.cache
def font(name):
    """A typeface, registered for PDF at its first use."""
    loaded = TTFont(name, str(path(name)), shapable=False)
    pdfmetrics.registerFont(loaded)
    return loaded


@functools.cache
def shaper(name):
    """The same typeface for HarfBuzz."""
    return uharfbuzz.Font(uharfbuzz.Face(uharfbuzz.Blob.from_file_path(str(path(name)))))


def within(letter, ranges):
    """Whether a character lies in one of the ranges of code points."""
    return any(low <= ord(letter) <= high for low, high in ranges)


@functools.lru_cache(maxsize=20_000)
def name_for(letter, wanted):
    """The typeface that prints a character: the wanted one, else the first that has it, None if none has."""
    others = (BOLD, TEXT) if wanted in (BOLD, CALL_BOLD) else (TEXT,)
    for name in (wanted, *others, *OTHER, CJK):
        if ord(letter) in font(name).face.charToGlyph:
            return name
    return None


def printable(text):
    """What can be set of a text: composed (NFC), without control characters and marks of explicit direction.

    Line ends stay; a tab becomes a space; a letter that no typeface has becomes a replacement character.
    """
    kept = []
    for letter in unicodedata.normalize("NFC", text.replace("\r\n", "\n").replace("\r", "\n")):
        if letter == "\n":
            kept.append(letter)
        elif letter in "\t\u2028\u2029":
            kept.append(" ")
        elif letter in "\u200c\u200d":  # they join and part letters; the shaper reads them
            kept.append(letter)
        elif unicodedata.category(letter) in ("Cc", "Cf", "Cs") or 0xFE00 <= ord(letter) <= 0xFE0F:
            continue
        elif name_for(letter, TEXT) is None:
            kept.append(MISSING)
        else:
            kept.append(letter)
    return "".join(kept)
