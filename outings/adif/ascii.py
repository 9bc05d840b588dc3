"""The nearest ASCII of a text, for ADI files, where the standard allows nothing else; pure."""

import re
import unicodedata

# Letters and signs that Unicode does not take apart. Common transliterations, no source.
NEAREST = str.maketrans({
    "ß": "ss", "ẞ": "SS", "æ": "ae", "Æ": "AE", "œ": "oe", "Œ": "OE", "ø": "o", "Ø": "O", "đ": "d", "Đ": "D",
    "ð": "d", "Ð": "D", "þ": "th", "Þ": "Th", "ł": "l", "Ł": "L", "ħ": "h", "Ħ": "H", "ı": "i", "ŋ": "ng", "Ŋ": "Ng",
    "ŧ": "t", "Ŧ": "T", "‘": "'", "’": "'", "‚": "'", "‛": "'", "“": '"', "”": '"', "„": '"', "«": '"', "»": '"',
    "‹": "'", "›": "'", "–": "-", "—": "-", "―": "-", "‐": "-", "‑": "-", "−": "-", "…": "...", "•": "*", "·": ".",
    "×": "x", "÷": "/", "°": "deg", "\u03a9": "ohm", "\u2126": "ohm", "µ": "u", "μ": "u", "€": "EUR", "£": "GBP",
    "¥": "JPY",
    "©": "(c)", "®": "(r)", "¿": "?", "¡": "!", "´": "'", "ʹ": "'", "′": "'", "″": '"',
    "\t": " ", "→": "->", "←": "<-",
})
NOT_ASCII = re.compile(r"[^ -~\n]")


def is_plain(text):
    """Whether a text has only what ADI allows: codes 32 to 126, and line breaks."""
    return not NOT_ASCII.search(text)


def nearest(text, *, lines=True):
    """The text with codes 32 to 126 only; `lines` keeps line breaks. What has no likeness becomes a question mark."""
    text = text.replace("\r\n", "\n").replace("\r", "\n")
    if not lines:
        text = text.replace("\n", " ")
    if is_plain(text):
        return text
    apart = unicodedata.normalize("NFKD", text.translate(NEAREST)).translate(NEAREST)
    return NOT_ASCII.sub("?", "".join(c for c in apart if not unicodedata.combining(c)))
