"""What the performance page shows: hours, contacts, rates and distances of each group of stints, raw.

One read brings the stints, each with its contacts joined into one text; the rest is arithmetic.
"""

from collections import Counter, defaultdict
from dataclasses import dataclass, field

from django.db import models
from django.utils import timezone

from outings import geography
from outings.evidence import distances, rates
from outings.models import Contact, Site, Stint

from . import marks
from .dimensions import DIMENSIONS, labelled
from .packed import Joined, Whole, numbers

SECTORS = ("north", "north-east", "east", "south-east", "south", "south-west", "west", "north-west")
DOTS = 1500  # more contacts than this are drawn in cells of the map, one dot a cell
CELL_KM, CELL_DEG, RINGS = 500, 10, 41  # half round the Earth
POINTS = 300  # of one row of the picture of distances; more are thinned evenly


@dataclass(frozen=True)
class Farthest:
    """The farthest contact of a group, and with whom."""

    contact_id: int
    call: str
    distance_km: float
    error_km: float | None
    band: str


@dataclass(frozen=True)
class Figures:
    """One group of stints with its raw figures; each carries its n, None stands where there is no such figure.

    `inferred_h` of the hours were inferred from imported contacts by a gap rule; `doubtful` contacts are pending and
    do not count; `without_position` count in the rate and not in the distances.
    """

    key: str
    label: str
    stints: int
    running: int
    inferred: int
    on_air_h: float
    inferred_h: float
    contacts: int
    doubtful: int
    rate: rates.Rate | None
    with_position: int
    median: distances.Quantile | None
    upper_tenth: distances.Quantile | None
    farthest: Farthest | None
    directions: distances.Directions | None
    km_per_watt: distances.Quantile | None
    ordered_km: tuple = field(repr=False)  # thinned evenly to POINTS

    @property
    def without_position(self):
        return self.contacts - self.with_position


@dataclass(frozen=True)
class Sector:
    """An eighth of the compass: how many contacts lie in it and how far they are."""

    name: str
    contacts: int
    median: distances.Quantile | None
    farthest_km: float | None


@dataclass(frozen=True)
class Dot:
    """A dot of the map: a contact, or how many lie in a cell, at a distance and bearing from where it was made."""

    distance_km: float
    bearing_deg: float
    contacts: int
    group: int


@dataclass(frozen=True)
class Centre:
    """What the map is centred on."""

    label: str
    latitude_deg: float
    longitude_deg: float
    sites: int  # how many sites the contacts were made from


@dataclass(frozen=True)
class Performance:
    """The figures of each group, of all together, and what was left out."""

    by: str
    groups: tuple[Figures, ...]
    total: Figures
    sectors: tuple[Sector, ...]
    dots: tuple[Dot, ...] = field(repr=False)
    centre: Centre | None
    stintless: int  # contacts in no stint, for the whole log: there is no time to set them against


# A contact's distance in metres and bearing in tenths of a degree in one whole number, NOWHERE without a distance: far
# finer than grid squares are, and half the time of two fractions as text. Distance times STEP plus bearing.
STEP, NO_BEARING, NOWHERE = 4096, 4000, -1
PLACED = models.functions.Coalesce(
    Whole(models.F("distance_km") * 1000 + 0.5) * STEP
    + models.functions.Coalesce(Whole(models.F("bearing_deg") * 10), NO_BEARING),
    NOWHERE,
)


@dataclass
class Gathered:
    """The stints and contacts of one group while they are added up."""

    label: str
    stints: int = 0
    running: int = 0
    inferred: int = 0
    on_air_s: float = 0.0
    inferred_s: float = 0.0
    contacts: int = 0
    doubtful: int = 0
    placed: dict = field(default_factory=lambda: defaultdict(list))  # {power: [(stint, text of its contacts)]}


@dataclass
class Measured:
    """The contacts of one group as arrays: distances and bearings in step, -1 for no bearing; the others in order."""

    km: object
    bearings_deg: object
    ordered_km: object
    ordered_km_per_watt: object
    farthest_km: float = -1.0
    farthest_stint: int | None = None


def performance(operator, stints, by="arrangement", now=None):
    """Raw figures of an operator's stints, grouped.

    Parameters: `stints`, a QuerySet of the operator's stints after all filters; `by`, a key of DIMENSIONS; `now`, up to
    when stints that are still running count.
    Returns a Performance. Contacts that are doubtful do not count; those in no stint are counted apart.
    """
    now = now or timezone.now()
    dimension = DIMENSIONS[by]
    gathered, sites = gather(operator, stints.of(operator), dimension, now)
    order = dimension.order or (lambda key: (-gathered[key].on_air_s, gathered[key].label))
    keys = sorted(gathered, key=order)
    measured = [measure(gathered[key]) for key in keys]
    everything = together(measured)
    farthest = farthest_contacts(operator, {arrays.farthest_stint for arrays in measured} - {None})
    return Performance(
        by=by,
        groups=tuple(
            figures(key, gathered[key], arrays, farthest) for key, arrays in zip(keys, measured, strict=True)
        ),
        total=figures("", added_up(gathered.values()), everything, farthest),
        sectors=sectors_of(everything),
        dots=dots_of(measured),
        centre=centre_of(operator, sites),
        stintless=Contact.objects.of(operator).stintless().filter(pending__in=[False]).count(),  # as in with_contacts
    )


def with_contacts(operator, stints):
    """Stints with `placed`, their contacts as text (see PLACED), and `doubtful`, how many of theirs do not count.

    A subquery a stint, which the index contact_stint_sums answers alone; one grouped join takes twice the time.
    """
    own = Contact.objects.of(operator).filter(stint=models.OuterRef("pk")).order_by().values("stint")
    # "pending IN (…)" is looked up in the index, "NOT pending" is not
    counted, doubtful = own.filter(pending__in=[False]), own.filter(pending__in=[True])
    return stints.order_by().annotate(
        placed=models.Subquery(counted.annotate(placed=Joined(PLACED)).values("placed")),
        doubtful=models.Subquery(doubtful.annotate(count=models.Count("*")).values("count")),
    )


def gather(operator, stints, dimension, now):
    """Add up the stints of each group and their contacts; returns the groups and the seconds at each site."""
    gathered, running, sites = {}, {}, Counter()
    rows = with_contacts(operator, stints).values_list(
        "pk", "on_air_s", "inferred", "power_w", "outing__site_id", "placed", "doubtful", *dimension.columns
    )
    for pk, on_air_s, inferred, power_w, site, placed, doubtful, *values in rows:
        key = dimension.key(*values)
        group = gathered.get(key)
        if group is None:
            group = gathered[key] = Gathered(labelled(dimension, values, operator))
        group.stints += 1
        if on_air_s is None:
            running[pk] = group
        seconds = on_air_s or 0
        group.on_air_s += seconds
        if inferred:
            group.inferred += 1
            group.inferred_s += seconds
        sites[site] += seconds
        group.doubtful += doubtful or 0
        if placed:
            group.placed[power_w].append((pk, placed))
            group.contacts += placed.count(",") + 1
    for stint in Stint.objects.filter(pk__in=running).prefetch_related("pauses") if running else ():
        running[stint.pk].running += 1
        running[stint.pk].on_air_s += max(stint.seconds_on_air(now), 0)
    return gathered, sites


def farthest_contacts(operator, stints):
    """The farthest contact of each of these stints."""
    farthest_of_each = (
        Contact.objects.of(operator).counted()
        .filter(stint=models.OuterRef("pk"), distance_km__isnull=False)
        .order_by("-distance_km", "id").values("pk")[:1]
    )
    # asked a stint at a time: with the owner in the outer condition SQLite would go through the whole log
    wanted = Contact.objects.filter(
        pk__in=Stint.objects.filter(pk__in=stints).order_by().annotate(farthest=models.Subquery(farthest_of_each))
        .values("farthest")
    ).order_by()
    columns = ("stint_id", "pk", "call", "distance_km", "distance_error_km", "band")
    return {stint: Farthest(*contact) for stint, *contact in wanted.values_list(*columns)} if stints else {}


def measure(group):
    """The contacts of a group as arrays, and the stint with the farthest."""
    import numpy

    km, bearings, ratios, farthest = [], [], [], (-1.0, None)
    for power_w, stints in group.placed.items():
        codes = numbers(",".join(text for _, text in stints))
        metres, tenths = numpy.divmod(codes, STEP)
        known = codes != NOWHERE
        if known.any():
            best = int(numpy.where(known, metres, -1).argmax())
            counts = numpy.cumsum([text.count(",") + 1 for _, text in stints])
            stint = stints[int(numpy.searchsorted(counts, best, side="right"))][0]
            farthest = max(farthest, (float(metres[best]) / 1000, stint))
        km.append(metres[known] / 1000)
        bearings.append(numpy.where(tenths == NO_BEARING, -1.0, tenths / 10)[known])
        if power_w:
            ratios.append(km[-1] / power_w)
    joined = [numpy.concatenate(arrays) if arrays else numpy.empty(0) for arrays in (km, bearings, ratios)]
    return Measured(joined[0], joined[1], numpy.sort(joined[0]), numpy.sort(joined[2]), *farthest)


def together(measured):
    """The arrays of all groups as those of one."""
    import numpy

    if not measured:
        return Measured(*[numpy.empty(0)] * 4)
    farthest = max(measured, key=lambda arrays: arrays.farthest_km)
    return Measured(
        numpy.concatenate([arrays.km for arrays in measured]),
        numpy.concatenate([arrays.bearings_deg for arrays in measured]),
        numpy.sort(numpy.concatenate([arrays.ordered_km for arrays in measured])),
        numpy.sort(numpy.concatenate([arrays.ordered_km_per_watt for arrays in measured])),
        farthest.farthest_km, farthest.farthest_stint,
    )


def added_up(groups):
    """All groups as one."""
    whole = Gathered("all")
    for group in groups:
        for name in ("stints", "running", "inferred", "on_air_s", "inferred_s", "contacts", "doubtful"):
            setattr(whole, name, getattr(whole, name) + getattr(group, name))
    return whole


def figures(key, group, measured, farthest):
    """The figures of one group."""
    on_air_h = group.on_air_s / 3600
    ordered = measured.ordered_km
    return Figures(
        key=key, label=group.label, stints=group.stints, running=group.running, inferred=group.inferred,
        on_air_h=on_air_h, inferred_h=group.inferred_s / 3600, contacts=group.contacts, doubtful=group.doubtful,
        rate=rates.rate(group.contacts, on_air_h) if on_air_h > 0 else None,
        with_position=len(ordered),
        median=quantile(ordered),
        upper_tenth=quantile(ordered, 0.9),
        farthest=farthest.get(measured.farthest_stint),
        directions=directions_of(measured.bearings_deg),
        km_per_watt=quantile(measured.ordered_km_per_watt),
        ordered_km=thinned(ordered),
    )


def quantile(ordered, share=0.5):
    """A quantile of an ordered array, None where it is empty."""
    return distances.quantile(ordered, share, ordered=True) if len(ordered) else None


def directions_of(bearings_deg):
    """The mean direction of an array of bearings, of which -1 is none."""
    import numpy

    angles = numpy.radians(bearings_deg[bearings_deg >= 0])
    if not len(angles):
        return None
    return distances.mean_direction(len(angles), float(numpy.cos(angles).sum()), float(numpy.sin(angles).sum()))


def thinned(ordered):
    """At most POINTS of an ordered array, evenly chosen, the first and the last among them."""
    if len(ordered) <= POINTS:
        return tuple(ordered.tolist())
    return tuple(float(ordered[i * (len(ordered) - 1) // (POINTS - 1)]) for i in range(POINTS))


def sectors_of(measured):
    """The contacts of each eighth of the compass; north from 337.5 to 22.5 degrees, and so on round."""
    import numpy

    known = measured.bearings_deg >= 0
    numbers = ((measured.bearings_deg[known] + 22.5) // 45).astype(int) % 8
    km = measured.km[known]
    found = []
    for number, name in enumerate(SECTORS):
        ordered = numpy.sort(km[numbers == number])
        found.append(
            Sector(name, len(ordered), quantile(ordered), float(ordered[-1]) if len(ordered) else None)
        )
    return tuple(found)


def dots_of(measured):
    """The dots of the map; where there are many contacts, one for each cell of the map that has any."""
    import numpy

    if sum(len(arrays.km) for arrays in measured) <= DOTS:
        return tuple(
            Dot(km, max(bearing_deg, 0.0), 1, number)
            for number, arrays in enumerate(measured)
            for km, bearing_deg in zip(arrays.km.tolist(), arrays.bearings_deg.tolist(), strict=True)
        )
    spokes = 360 // CELL_DEG
    counts = []
    for arrays in measured:
        rings = numpy.minimum(arrays.km // CELL_KM, RINGS - 1).astype(int)
        cells = rings * spokes + (arrays.bearings_deg // CELL_DEG).astype(int) % spokes
        counts.append(numpy.bincount(cells, minlength=spokes * RINGS))
    counts = numpy.array(counts)
    totals, largest = counts.sum(axis=0), counts.argmax(axis=0)
    return tuple(
        Dot((cell // spokes + 0.5) * CELL_KM, (cell % spokes + 0.5) * CELL_DEG, int(totals[cell]), int(largest[cell]))
        for cell in totals.nonzero()[0].tolist()
    )


def centre_of(operator, sites):
    """The centre of the map: the site most used, else the operator's home grid, else nothing."""
    if sites:
        most_used = sites.most_common(1)[0][0]
        site = Site.objects.of(operator).filter(pk=most_used).first()
        if site:
            return Centre(site.name, site.latitude_deg, site.longitude_deg, len(sites))
    try:
        home = geography.place_of_grid(operator.home_grid)
    except ValueError:
        return None
    return Centre(f"home, {operator.home_grid}", home.latitude_deg, home.longitude_deg, 0)


@dataclass(frozen=True)
class StintPage:
    """Stints of a list, newest first, each with `contact_count`, and where the pages beside it begin."""

    stints: tuple
    count: int
    previous: str | None
    next: str | None


def stints_behind(stints, *, after="", before="", size=50):
    """A page of stints; `after` and `before` are the marks of the neighbouring pages."""
    rows = (
        stints.select_related("outing__site", "radio", "arrangement__antenna", "pack")
        .prefetch_related("pauses")
        .annotate(contact_count=models.functions.Coalesce(models.Subquery(
            Contact.objects.counted().filter(stint=models.OuterRef("pk"), owner=models.OuterRef("owner"))
            .order_by().values("stint").annotate(count=models.Count("*")).values("count")
        ), 0))
    )
    found, previous, onwards = marks.page(rows, "started_at", True, after=after, before=before, size=size)
    return StintPage(found, stints.count(), previous, onwards)
