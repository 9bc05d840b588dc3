"""The form of a call sign: what can be one, what usually is one, and the call inside its affixes; pure."""

import re
from dataclasses import dataclass

LONGEST = 30
DOUBT = "?"
TYPED = re.compile(r"[A-Z0-9?]+(?:/[A-Z0-9?]+)*")
# ITU Radio Regulations, Article 19, No. 19.68: one to three characters of the series allocated to the country (three
# only where two do not tell it), one digit, and up to four characters that end in a letter.
USUAL = re.compile(r"(?=[A-Z0-9]*[A-Z])(?:[A-Z0-9]{1,2}|[0-9][A-Z]{2})[0-9][A-Z0-9]{0,3}[A-Z]")


class NotACall(ValueError):
    """The text cannot be a call sign; the message says why."""


@dataclass(frozen=True)
class Call:
    """A call sign as it was given on the air, with the call inside its affixes.

    `before` is what stands in front of the call (the country operated from), `after` what follows it (portable,
    mobile, a district). `doubtful` says that it was not fully copied; `usual` that its call has the usual form.
    """

    text: str
    base: str
    before: tuple
    after: tuple
    doubtful: bool
    usual: bool


def normalised(typed):
    """Upper case, without blanks, slashed zeros written as zeros: `q1abc /p` is `Q1ABC/P`."""
    return "".join(typed.split()).upper().replace("Ø", "0").replace("\\", "/")


def read(typed):
    """Take a call sign as typed apart.

    Letters and digits, in up to four parts between slashes; `?` stands for what was not copied and makes it doubtful.
    The call is the part of the usual form (ITU Radio Regulations No. 19.68), of several the longest, of equals the
    last; where none has that form, the longest part with both letters and digits, else the longest.

    Raises NotACall for an empty text, other characters, empty or too many parts, fewer than three or more than
    thirty characters.
    """
    text = normalised(typed)
    if not text:
        raise NotACall("A call sign is needed.")
    if not TYPED.fullmatch(text):
        strange = sorted({c for c in text if not re.fullmatch(r"[A-Z0-9?/]", c)})
        if strange:
            raise NotACall(f"A call sign has letters, digits and slashes, not {' '.join(strange)}.")
        raise NotACall("A slash in a call sign stands between two parts, such as Q1ABC/P.")
    parts = text.split("/")
    if len(parts) > 4:
        raise NotACall("A call sign has at most four parts between slashes.")
    if len(text) < 3:
        raise NotACall("A call sign has at least three characters; put ? for what was not copied.")
    if len(text) > LONGEST:
        raise NotACall(f"A call sign has at most {LONGEST} characters.")
    place = max(range(len(parts)), key=lambda n: (*_likeness(parts[n]), n))
    base = parts[place]
    return Call(
        text=text,
        base=base,
        before=tuple(parts[:place]),
        after=tuple(parts[place + 1 :]),
        doubtful=DOUBT in text,
        usual=bool(USUAL.fullmatch(base)),
    )


def base(text):
    """The call inside its affixes; the text itself where it cannot be a call sign: a log may hold anything."""
    try:
        return read(text).base
    except NotACall:
        return text


def _likeness(part):
    """How much a part looks like a call: usual form, letters and digits both, length."""
    mixed = any(c.isdigit() for c in part) and any(c.isalpha() for c in part)
    return bool(USUAL.fullmatch(part)), mixed, len(part)
