"""What the log of one outing shows: stints, contacts, figures, the gear to choose from, and what is known of a call."""

import datetime
from dataclasses import dataclass

from django.core.paginator import Paginator
from django.db.models import Count, Max, Q
from django.db.models.functions import TruncDate

from equipment.models import Accessory, Arrangement, Item, Pack, Radio
from outings import calls, sun
from outings.models import Contact, Outing, Stint

NEWEST = 30
A_PAGE = 200
HOUR = datetime.timedelta(hours=1)
USUAL_SOURCES = ("mains", "solar panel", "internal pack", "vehicle", "generator")
SOURCE_LETTERS = Stint._meta.get_field("other_source").max_length


@dataclass(frozen=True)
class Gear:
    """What can be put on the air, each kind as two tuples: what is in the outing's kit, and all else in use."""

    radios: tuple
    arrangements: tuple
    packs: tuple
    sources: tuple  # of power, other than packs: names to be offered


@dataclass(frozen=True)
class StintLine:
    """A stint with its seconds on the air (until now while it runs), its open pause and the count of its contacts."""

    stint: Stint
    on_air_s: int
    pause: object
    contacts: int


@dataclass(frozen=True)
class Day:
    """Contacts of one UTC day."""

    date: datetime.date
    contacts: int


@dataclass(frozen=True)
class Figures:
    """The counts of an outing; doubtful contacts are apart."""

    now: datetime.datetime
    contacts: int
    goal: int | None
    doubtful: int
    last_hour: int
    days: tuple
    on_air_s: int
    sunset_at: datetime.datetime | None

    @property
    def missing(self):
        """Contacts short of the goal; None without one."""
        return max(self.goal - self.contacts, 0) if self.goal else None


@dataclass(frozen=True)
class Basis:
    """What the row to type into rests on: the stints, the contact logged last, the next serial number."""

    outing: Outing
    now: datetime.datetime
    stints: tuple
    latest: Contact | None
    next_serial: int


@dataclass(frozen=True)
class Log(Basis):
    """The page of one outing's log."""

    contacts: object  # a Page of the newest or of all
    all_of_them: bool
    strays: tuple
    gone: Contact | None  # deleted last, in the past hour
    figures: Figures
    gear: Gear

    @property
    def running(self):
        return tuple(line for line in self.stints if line.stint.running)

    @property
    def several(self):
        """How many stints run at once, where that is more than one."""
        return len(self.running) if len(self.running) > 1 else 0

    @property
    def total(self):
        return self.figures.contacts + self.figures.doubtful


@dataclass(frozen=True)
class Known:
    """What is known while a contact is typed."""

    call: calls.Call | None
    duplicates: tuple
    earlier: tuple
    contact: Contact

    @property
    def offered(self):
        """Name, grid and state from the latest earlier contacts that have them."""
        found = {}
        for contact in self.earlier:
            for name in ("name", "their_grid", "state"):
                if getattr(contact, name):
                    found.setdefault(name, getattr(contact, name))
        return found


def gear_of(outing, operator):
    """The gear to choose from, the outing's kit first; a member is shown no other gear than the outing's."""
    in_kit = set(outing.kit.lines.values_list("item_id", flat=True)) if outing.kit else set()
    put_up = set(outing.kit.arrangements.values_list("pk", flat=True)) if outing.kit else set()
    owner = outing.owner_id
    radios = Radio.objects.of(owner).in_use().only("name", "retired_on")
    packs = Pack.objects.of(owner).in_use().only("name", "retired_on")
    arrangements = list(Arrangement.objects.of(owner).in_use().select_related("antenna"))
    kit_antennas = {a.antenna_id for a in arrangements} & in_kit
    chosen = {a.pk for a in arrangements if a.pk in put_up or (not put_up and a.antenna_id in kit_antennas)}
    parts = {"radio": (radios, in_kit), "arrangement": (arrangements, chosen), "pack": (packs, in_kit)}
    shown = dict.fromkeys(parts) if operator.pk == owner else {kind: outing.gear_at(kind) for kind in parts}
    return Gear(
        *(_apart(rows, first, shown[kind]) for kind, (rows, first) in parts.items()),
        sources=sources_of(owner, in_kit, everything=operator.pk == owner),
    )


def sources_of(owner, in_kit, *, everything):
    """Names of sources of power other than packs: the owner's, those of the kit first, then the usual words."""
    owned = Accessory.objects.of(owner).in_use().exclude(source="").only("name", "retired_on")
    kit, rest = _apart(owned, in_kit, None if everything else set())
    return tuple(dict.fromkeys([*(str(row)[:SOURCE_LETTERS] for row in (*kit, *rest)), *USUAL_SOURCES]))


def _apart(items: list[Item], in_kit, shown):
    """What is in the kit and what is not; of that, where `shown` is given, only what is in it."""
    rows = list(items)
    rest = (row for row in rows if row.pk not in in_kit and (shown is None or row.pk in shown))
    return tuple(row for row in rows if row.pk in in_kit), tuple(rest)


def stint_lines(outing, now):
    """All stints of an outing, the oldest first."""
    stints = outing.stints.select_related("radio", "arrangement__antenna", "pack", "follows").prefetch_related("pauses")
    contacts = dict(outing.contacts.order_by().values_list("stint").annotate(Count("pk")))
    lines = []
    for stint in stints:
        stint.outing = outing
        on_air_s = stint.seconds_on_air(max(now, stint.started_at)) if stint.running else stint.on_air_s or 0
        lines.append(StintLine(stint, on_air_s, stint.open_pause, contacts.get(stint.pk, 0)))
    return tuple(lines)


def figures(outing, now, lines=None):
    """The counts of an outing at a moment."""
    lines = stint_lines(outing, now) if lines is None else lines
    counts = outing.contacts.aggregate(
        counted=Count("pk", filter=Q(pending=False)),
        doubtful=Count("pk", filter=Q(pending=True)),
        last_hour=Count("pk", filter=Q(pending=False, started_at__gt=now - HOUR, started_at__lte=now)),
    )
    days = (
        outing.contacts.counted().order_by().annotate(day=TruncDate("started_at", tzinfo=datetime.UTC)).values("day")
        .annotate(contacts=Count("pk")).order_by("day")
    )
    sunset = sun.next_crossing(outing.site.latitude_deg, outing.site.longitude_deg, now, rising=False, days=1)
    return Figures(
        now=now, contacts=counts["counted"], goal=outing.goal_contacts, doubtful=counts["doubtful"],
        last_hour=counts["last_hour"], days=tuple(Day(row["day"], row["contacts"]) for row in days),
        on_air_s=sum(line.on_air_s for line in lines), sunset_at=sunset.at if sunset else None,
    )


def basis(outing, now, operator):
    """What the row to type into rests on; where several operators log, the contact logged last is one's own."""
    typed = outing.contacts.filter(imported_by__isnull=True)
    if outing.members.joined().exists():
        typed = typed.logged_by(operator)
    latest = typed.order_by("-created_at", "-id").first()
    by_serial = outing.exchange == Outing.Exchange.SERIAL
    serial = outing.contacts.aggregate(most=Max("serial_sent"))["most"] if by_serial else None
    return Basis(outing, now, stint_lines(outing, now), latest, (serial or 0) + 1)


def log(outing, now, operator, *, all_of_them=False, page=None, holding=None):
    """Everything that the log of an outing shows an operator, in a number of queries that does not grow with it.

    The page of contacts is one that holds a given contact, where there is one.
    """
    if holding:
        same_second = Q(started_at=holding.started_at, pk__gt=holding.pk)
        newer = outing.contacts.filter(Q(started_at__gt=holding.started_at) | same_second).count()
        all_of_them, page = all_of_them or newer >= NEWEST, newer // A_PAGE + 1
    base = basis(outing, now, operator)
    counts = figures(outing, now, base.stints)
    newest_first = outing.contacts.select_related("stint__radio").order_by("-started_at", "-id")
    pages = Paginator(newest_first, A_PAGE if all_of_them else NEWEST)
    pages.count = counts.contacts + counts.doubtful
    gone = Contact.everything.filter(outing=outing, deleted_at__gt=now - HOUR).order_by("-deleted_at").first()
    return Log(
        **vars(base), all_of_them=all_of_them, contacts=pages.get_page(page if all_of_them else 1), gone=gone,
        figures=counts,
        strays=tuple(outing.contacts.stintless().order_by("started_at", "id")[:A_PAGE]),
        gear=gear_of(outing, operator),
    )


def known(contact, call, operator):
    """Duplicates of a contact that is being typed, and earlier ones with that call or its base call, newest first.

    A member of an outing is told of what is in the log of that outing and in the member's own, of nothing else.
    """
    if call is None:
        return Known(None, (), (), contact)
    here, mine = Contact.objects.seen_from(contact.outing_id, contact.owner_id, operator), Contact.objects.of(operator)
    duplicates = tuple(here.duplicates_of(contact).select_related("stint")) if contact.started_at else ()
    earlier = []
    for rows in (here,) if contact.owner_id == operator.pk else (here, mine):
        others = rows.exclude(pk=contact.pk).select_related("outing").order_by("-started_at")
        earlier += others.filter(call__in={call.text, call.base})[:5]
        earlier += others.call_begins(f"{call.base}/").exclude(call=call.text)[:5]
    earlier.sort(key=lambda c: c.started_at, reverse=True)
    return Known(call, duplicates, tuple(earlier[:5]), contact)
