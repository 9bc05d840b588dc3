"""Contacts that are placed by their state or country alone: counted and measured apart from all others."""

from collections import Counter
from dataclasses import dataclass

from django.db.models import Count

from outings import areas
from outings.models import Contact, Site


@dataclass(frozen=True)
class Around:
    """The contacts in one area, made from one site: the way to its middle, with the largest error possible."""

    area: areas.Area
    contacts: int
    distance_km: float
    error_km: float
    bearing_deg: float | None

    @property
    def least_km(self):
        return max(0.0, self.distance_km - self.error_km)

    @property
    def most_km(self):
        return self.distance_km + self.error_km


@dataclass(frozen=True)
class AreaLine:
    """The contacts in one area; the way where all were made from one site, else the least and the most of distances."""

    area: areas.Area
    contacts: int
    only: Around | None
    least_km: float
    most_km: float


@dataclass(frozen=True)
class Approximate:
    """What is placed approximately; the median of the distances is that of the middles, with what bounds it."""

    contacts: int
    around: tuple[Around, ...]  # an area from a site each
    lines: tuple[AreaLine, ...]  # an area each, the one with most contacts first
    median_km: float | None
    median_least_km: float | None
    median_most_km: float | None


def approximate(operator, stints):
    """The counted contacts of an operator's stints that have no position, but a state or country that has.

    Returns an Approximate; None where the operator does not want them placed. Takes two queries, nothing where it is
    not wanted. If each is within its circle the true median lies between the medians of the least and of the most
    distances, since each ordered value of what is never larger is never larger.
    """
    if not operator.place_by_area:
        return None
    rows = (
        Contact.objects.of(operator).counted().in_areas().filter(stint__in=stints.of(operator).order_by().values("pk"))
        .order_by().values_list("outing__site_id", "dxcc", "country", "state").annotate(count=Count("pk"))
    )
    rows = list(rows)
    sites = Site.objects.in_bulk({row[0] for row in rows})
    counted = Counter()
    for site_id, dxcc, country, state, count in rows:
        area = areas.area_of(dxcc, country, state, sites[site_id].dxcc)
        if area is not None:
            counted[site_id, area] += count
    around = []
    for (site_id, area), count in counted.items():
        way = area.way_from(sites[site_id].place)
        around.append(Around(area, count, way.distance_km, way.error_km, way.bearing_deg))
    around.sort(key=lambda one: (-one.contacts, one.area.name, one.distance_km))
    return Approximate(
        contacts=counted.total(), around=tuple(around), lines=tuple(lines(around)),
        median_km=median(around, "distance_km"), median_least_km=median(around, "least_km"),
        median_most_km=median(around, "most_km"),
    )


def lines(around):
    """The areas, from however many sites."""
    by_area = {}
    for one in around:
        by_area.setdefault(one.area, []).append(one)
    found = [
        AreaLine(
            area, sum(one.contacts for one in ones), ones[0] if len(ones) == 1 else None,
            min(one.least_km for one in ones), max(one.most_km for one in ones),
        )
        for area, ones in by_area.items()
    ]
    return sorted(found, key=lambda line: (-line.contacts, line.area.name))


def median(around, name):
    """The lower median of a distance over the contacts; None without any."""
    half, seen = sum(one.contacts for one in around) / 2, 0
    for one in sorted(around, key=lambda one: getattr(one, name)):
        seen += one.contacts
        if seen >= half:
            return getattr(one, name)
    return None
