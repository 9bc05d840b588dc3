"""An answer of the bench: the figure and its range, what it was computed from, and when not to trust it.

Values are in the stored units (SI, hours, ampere-hours, per cent); the page shows them in the operator's.
"""

from dataclasses import dataclass


@dataclass(frozen=True)
class Figure:
    """A number with its range; `kind` is one of `equipment.quantity_kinds`, `none` stands where there is no value."""

    what: str
    value: float | None
    kind: str = "number"
    low: float | None = None
    high: float | None = None
    note: str = ""
    none: str = "cannot be known"


@dataclass(frozen=True)
class Ground:
    """One thing that an answer was computed from, with the page of its record."""

    text: str
    href: str = ""


@dataclass(frozen=True)
class Caution:
    """What can hurt, and what helps."""

    title: str
    points: tuple[str, ...]


@dataclass(frozen=True)
class Picture:
    """A picture of static/pictures.js: its kind, its caption and its JSON, in the units that are shown."""

    kind: str
    caption: str
    data: dict


@dataclass(frozen=True)
class Table:
    """A table; the first cell of a row names it, the cells are texts in the units that are shown."""

    caption: str
    columns: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]


@dataclass(frozen=True)
class Answer:
    """What the bench says to one question: a sentence that stands alone, the figures, and all that belongs to them.

    `mark` is good, warn or bad with `word` beside it, where there is a yes or no. A refusal (see `refused`) has its
    reason as the sentence and no figures.
    """

    sentence: str
    title: str = ""
    figures: tuple[Figure, ...] = ()
    mark: str = ""
    word: str = ""
    reasons: tuple[str, ...] = ()
    computed_from: tuple[Ground, ...] = ()
    sources: tuple[str, ...] = ()
    doubts: tuple[str, ...] = ()  # when not to trust it
    cautions: tuple[Caution, ...] = ()
    pictures: tuple[Picture, ...] = ()
    tables: tuple[Table, ...] = ()
    is_refused: bool = False


def refused(reason, **more):
    """An answer that cannot be given, with the reason in its place; `reason` may be the error of a formula."""
    text = str(reason).strip()
    text = text[:1].upper() + text[1:]
    return Answer(sentence=text if text.endswith((".", "!", "?")) else f"{text}.", is_refused=True, **more)
