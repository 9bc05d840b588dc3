"""Stints as the observations of a comparison: what is compared, contacts, hours, and what is held fixed.

Three queries, however many stints there are: the stints with their counts; the times of the contacts, and the pauses,
of those that have to be split because an hour block ends within them.
"""

from collections import Counter
from dataclasses import dataclass, field
from functools import cached_property

from django.db import models
from django.utils import timezone

from outings import windows
from outings.evidence.comparison import Observation
from outings.models import Contact, Pause

from .dimensions import DIMENSIONS, NOTHING, labelled, mode_key
from .packed import Joined, Microseconds, numbers

BLOCK_S = 4 * 3600  # an hour block: four hours by the sun
DEGREE_S = 240  # the sun takes so long for a degree of longitude
OUTING, BAND, MODE, HOUR, CALLING = range(5)  # places in a block


@dataclass(frozen=True)
class Way:
    """One way to compare: what else than outing, band, mode, hour block and calling has to be held fixed, and what of
    these is compared itself and so is not held fixed."""

    also: tuple = ()
    instead_of: int | None = None
    never: tuple = ()  # what follows from the thing compared, or decides it


WAYS = {
    "arrangement": Way(),
    "antenna": Way(never=("arrangement",)),
    "radio": Way(("arrangement",)),
    "pack": Way(("arrangement",)),
    "power": Way(("arrangement",)),
    "tap": Way(("antenna",), never=("arrangement",)),
    "height": Way(("antenna",), never=("arrangement",)),
    "mode": Way(("arrangement",), MODE),
    "band": Way(("arrangement",), BAND),
}
HOLDABLE = ("antenna", "arrangement", "radio", "pack", "power", "light", "season", "k_index")


def held_beside(by, more=()):
    """What is held fixed beside outing, band, mode, hour block and calling; never what is compared."""
    way = WAYS[by]
    wanted = [*way.also, *(name for name in more if name in HOLDABLE)]
    return tuple(dict.fromkeys(name for name in wanted if name != by and name not in way.never))


@dataclass
class Group:
    """The stints of one of the things compared, added up."""

    key: str
    label: str
    on_air_h: float = 0.0
    inferred_h: float = 0.0
    contacts: int = 0
    bands: Counter = field(default_factory=Counter)  # hours on each
    all: set = field(default_factory=set, repr=False)  # its stints
    running_ones: set = field(default_factory=set, repr=False)
    inferred_ones: set = field(default_factory=set, repr=False)

    @property
    def stints(self):
        return len(self.all)

    @property
    def running(self):
        return len(self.running_ones)

    @property
    def inferred(self):
        return len(self.inferred_ones)

    def add(self, piece):
        on_air_h = piece.on_air_s / 3600
        self.all.add(piece.stint)
        self.on_air_h += on_air_h
        self.contacts += piece.contacts
        self.bands[piece.band] += on_air_h
        if piece.running:
            self.running_ones.add(piece.stint)
        if piece.inferred:
            self.inferred_ones.add(piece.stint)
            self.inferred_h += on_air_h


@dataclass(frozen=True)
class Piece:
    """A stint, or the part of it within one hour block: where its parts belong, and what of it is compared."""

    stint: int
    key: str
    on_air_s: float
    contacts: int
    block: tuple
    band: str
    inferred: bool
    running: bool
    pair: str = ""  # the round of a fair test


@dataclass(frozen=True)
class Observed:
    """The observations of a comparison, the groups behind them, and what was left out."""

    by: str
    also: tuple[str, ...]
    labels: dict  # of the things compared, by key; no two are alike, since a comparison knows them by name
    pieces: tuple[Piece, ...] = field(repr=False)
    unnoted: int = 0  # stints of which it was not noted what is compared
    timeless: int = 0  # stints without time on the air

    @cached_property
    def groups(self):
        """The things compared, added up, by key."""
        found = {}
        for piece in self.pieces:
            if piece.key not in found:
                found[piece.key] = Group(piece.key, self.labels[piece.key])
            found[piece.key].add(piece)
        return found

    @property
    def also_held(self):
        """The words of what is held fixed beside the usual."""
        return tuple(DIMENSIONS[name].word for name in self.also)

    def on_band(self, band):
        """The same question to one band alone."""
        return Observed(self.by, self.also, self.labels, tuple(one for one in self.pieces if one.band == band))

    def observations(self):
        """As `outings.evidence.comparison.compare` takes them, named by their labels."""
        return tuple(
            Observation(self.labels[one.key], one.contacts, one.on_air_s / 3600, one.block, f"{one.stint}", one.pair)
            for one in self.pieces
        )


@dataclass(frozen=True)
class Row:
    """A stint as it comes from the database."""

    pk: int
    started_at: object
    ended_at: object
    on_air_s: int | None
    inferred: bool
    outing: int
    longitude_deg: float
    band: str
    mode: str
    submode: str
    calling: str
    plan: int | None
    round: int | None
    contacts: int
    compared: tuple
    also: tuple

    @property
    def pair(self):
        return "" if self.plan is None else f"{self.plan}/{self.round}"

    def sun_s(self, moment):
        """A moment by the sun of the site, in seconds."""
        return moment.timestamp() + self.longitude_deg * DEGREE_S


def observed(operator, stints, by="arrangement", more=(), now=None):
    """What an operator's stints show, by what is compared (a key of WAYS); `more` is held fixed, too.

    Doubtful contacts do not count. Stints that are running count up to `now`.
    """
    now = now or timezone.now()
    also = held_beside(by, more)
    rows = read(operator, stints, by, also)
    split = [row for row in rows if row.ended_at is None or len(blocks(row, row.ended_at)) > 1]
    times, pauses = contact_times(operator, split), pauses_of(split)
    labels, pieces, unnoted, timeless = {}, [], 0, 0
    for row in rows:
        key = DIMENSIONS[by].key(*row.compared)
        if key == NOTHING:
            unnoted += 1
            continue
        mine = parts(row, times.get(row.pk), pauses.get(row.pk, ()), now)
        if not mine:
            timeless += 1
            continue
        if key not in labels:
            labels[key] = labelled(DIMENSIONS[by], row.compared, operator)
        fixed = held(row, by, also)
        for hour, on_air_s, contacts in mine:
            block = (*fixed[:HOUR], hour, *fixed[CALLING:])
            pieces.append(Piece(
                row.pk, key, on_air_s, contacts, block, row.band, row.inferred, row.ended_at is None, row.pair
            ))
    return Observed(by, also, told_apart(labels), tuple(pieces), unnoted, timeless)


def read(operator, stints, by, also):
    """The stints with how many contacts count."""
    counted = (
        Contact.objects.of(operator).filter(stint=models.OuterRef("pk"), pending__in=[False])
        .order_by().values("stint").annotate(count=models.Count("*")).values("count")
    )
    columns = [
        "pk", "started_at", "ended_at", "on_air_s", "inferred", "outing_id", "outing__site__longitude_deg", "band",
        "mode", "submode", "calling", "block__plan_id", "block__round",
        models.functions.Coalesce(models.Subquery(counted), 0),
    ]
    fixed, widths = len(columns), [len(DIMENSIONS[name].columns) for name in (by, *also)]
    wanted = [column for name in (by, *also) for column in DIMENSIONS[name].columns]
    rows = []
    for values in stints.of(operator).order_by().values_list(*columns, *wanted):
        cut, rest = [], values[fixed:]
        for width in widths:
            cut.append(rest[:width])
            rest = rest[width:]
        rows.append(Row(*values[:fixed], cut[0], tuple(cut[1:])))
    return rows


def blocks(row, end):
    """The hour blocks by the sun that a stint touches, as whole numbers that go on over the days."""
    first = int(row.sun_s(row.started_at) // BLOCK_S)
    last = int(-(-row.sun_s(end) // BLOCK_S)) - 1
    return range(first, max(first, last) + 1)


def contact_times(operator, rows):
    """The times of the contacts of each stint, as an array of microseconds."""
    found = {row.pk: numbers("") for row in rows}
    if rows:
        contacts = Contact.objects.of(operator).counted().filter(stint__in=list(found)).order_by().values("stint_id")
        times = contacts.annotate(times=Joined(Microseconds("started_at"))).values_list("stint_id", "times")
        found |= {stint: numbers(text) for stint, text in times}
    return found


def sun_blocks(times_us, longitude_deg):
    """The hour blocks by the sun of an array of moments in microseconds, as `blocks`."""
    return ((times_us / 1_000_000 + longitude_deg * DEGREE_S) // BLOCK_S).astype(int)


def pauses_of(rows):
    """The pauses of each stint, in their order."""
    found = {}
    if rows:
        pauses = Pause.objects.filter(stint__in=[row.pk for row in rows]).order_by("started_at")
        for stint, start, end in pauses.values_list("stint_id", "started_at", "ended_at"):
            found.setdefault(stint, []).append((start, end))
    return found


def parts(row, times, pauses, now):
    """A stint by hour blocks: tuples (block of the day, seconds on the air, contacts), none where it has no time."""
    if times is None:
        hour = blocks(row, row.ended_at)[0] % 6
        return [(hour, float(row.on_air_s), row.contacts)] if row.on_air_s else []
    end = row.ended_at or max(now, row.started_at)
    touched = blocks(row, end)
    seconds, contacts = Counter(), Counter()
    for start, stop in windows.between_pauses(row.started_at, end, pauses):
        for block in touched:
            begin, finish = max(row.sun_s(start), block * BLOCK_S), min(row.sun_s(stop), (block + 1) * BLOCK_S)
            seconds[block] += max(finish - begin, 0)
    on = [block for block in touched if seconds[block] >= 1]
    for block, count in Counter(sun_blocks(times, row.longitude_deg).tolist()).items():
        if on:  # one in a pause or a second beside the stint belongs to the nearest part
            contacts[min(on, key=lambda one: abs(one - block))] += count
    return [(block % 6, seconds[block], contacts[block]) for block in on]


def held(row, by, also):
    """The block of a stint without its hour: None stands where a thing is compared itself."""
    fixed = [row.outing, row.band, mode_key(row.mode, row.submode), None, row.calling]
    if WAYS[by].instead_of is not None:
        fixed[WAYS[by].instead_of] = None
    beside = (DIMENSIONS[name].key(*values) for name, values in zip(also, row.also, strict=True))
    return (*fixed, *beside)


def told_apart(labels):
    """Labels by key, with a number behind those that are alike."""
    found, taken = {}, set()
    for key in sorted(labels, key=lambda key: (len(key), key)):
        label, number = labels[key], 2
        while label in taken:
            label, number = f"{labels[key]} ({number})", number + 1
        taken.add(label)
        found[key] = label
    return found
