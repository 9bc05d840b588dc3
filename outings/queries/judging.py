"""What a page of evidence shows of any measure: a verdict, and a line for each of the things compared."""

import datetime
from dataclasses import dataclass, field, replace
from functools import cached_property

from django.db import models

from outings.evidence import rates

from .observing import observed


@dataclass(frozen=True)
class Asked:
    """A question to the log: which stints, compared by what (a key of `observing.WAYS`), what else is held fixed."""

    operator: object
    stints: models.QuerySet
    by: str = "arrangement"
    more: tuple[str, ...] = ()
    now: datetime.datetime | None = None
    beyond_km: float = 1500.0

    @cached_property
    def seen(self):
        """The stints as they are compared, an `observing.Observed`; read once, however many measures ask."""
        return observed(self.operator, self.stints, self.by, self.more, self.now)


@dataclass(frozen=True)
class Measure:
    """One thing that gear is judged by.

    word: as it is chosen; unit: of a raw value; against: what the adjusted figure says; neutral: its value where two
    are alike (1 of a ratio, 0 of a difference); read: how to read the picture, in one line; judge: Asked to Judged;
    counts: what the n of a line counts; behind: what a list of the contacts adds to the filter to show just these, None
    where it can only show them among others.
    """

    word: str
    unit: str
    against: str
    neutral: float
    read: str
    judge: object
    counts: str = "contacts"
    behind: str | None = ""

    def of(self, found):
        """The measure in the units of a judgement: the operator's."""
        if not found.unit or found.unit == self.unit:
            return self
        return replace(self, unit=found.unit, against=self.against.replace(self.unit, found.unit, 1))


@dataclass(frozen=True)
class Line:
    """One of the things compared: what was counted (raw), and how it stands against the reference (adjusted).

    value with low and high is raw; effect with its ends is adjusted, its ends None where the data do not bound them,
    all None where it cannot be told, with `reason`. why: what makes raw and adjusted differ. in_blocks: the same ratio
    from common blocks alone; drawn: the raw rate drawn towards the others; both None where there is none.
    """

    key: str
    label: str
    stints: int
    running: int
    inferred: int
    inferred_h: float
    on_air_h: float
    contacts: int
    value: float | None
    low: float | None
    high: float | None
    raw_effect: float | None
    effect: float | None
    effect_low: float | None
    effect_high: float | None
    is_reference: bool = False
    claimed: bool = False  # told apart from the reference, after allowing for many comparisons
    chance_best: float | None = None
    reason: str = ""
    why: str = ""
    in_blocks: rates.InStrata | None = None
    drawn: rates.Shrunk | None = None

    @property
    def is_told(self):
        """Whether there is anything adjusted to draw."""
        return self.effect_low is not None or self.effect_high is not None


@dataclass(frozen=True)
class Judged:
    """The answer. state: empty (no stints), alone (nothing to compare with), apart (nothing can be told apart), open
    (compared, nothing claimed) or told. `next` says what to do about it."""

    state: str
    verdict: str
    next: tuple[str, ...]
    lines: tuple[Line, ...] = ()
    reference: str = ""
    held_fixed: tuple[str, ...] = ()
    remarks: tuple[str, ...] = ()
    dispersion: float | None = None
    confidence: float = 0.95
    unnoted: int = 0
    timeless: int = 0
    also: tuple[str, ...] = field(default=())
    method: tuple[str, ...] = ()  # how it was judged, in three sentences or so
    unit: str = ""  # of raw values, where it is not the measure's own

    @property
    def stints(self):
        return sum(line.stints for line in self.lines)

    @property
    def contacts(self):
        return sum(line.contacts for line in self.lines)

    @property
    def on_air_h(self):
        return sum(line.on_air_h for line in self.lines)

    @property
    def inferred(self):
        return sum(line.inferred for line in self.lines)

    @property
    def inferred_h(self):
        return sum(line.inferred_h for line in self.lines)

    @property
    def running(self):
        return sum(line.running for line in self.lines)

    @property
    def compares(self):
        """Whether there is a picture to draw."""
        return self.state in ("open", "told")

    @property
    def has_chances(self):
        """Whether the measure gives chances to be best."""
        return any(line.chance_best is not None for line in self.lines)

    @property
    def has_second_opinions(self):
        """Whether the question was answered in other ways, too."""
        return any(line.in_blocks or line.drawn for line in self.lines)
