"""What the report of an outing shows: what was planned and done, when, where to, and what was learned."""

import datetime
from dataclasses import dataclass, replace

from django.db.models import Count

from equipment.models import PackReading
from outings import daylight, geography, sun
from outings.evidence import rates
from outings.models import Note, Outing, Remark

from . import approximate, plans, whereabouts
from . import performance as performance_queries

HOUR = datetime.timedelta(hours=1)
MOST_HOURS = 72  # of an outing that are told apart; a longer one is told by the day elsewhere
AROUND = datetime.timedelta(minutes=30)  # of the sun's path beside what happened


@dataclass(frozen=True)
class HourLine:
    """A UTC hour: contacts in stints, the seconds on the air, and the rate with its interval; None without time."""

    starts_at: datetime.datetime
    contacts: int
    on_air_s: float
    rate: rates.Rate | None


@dataclass(frozen=True)
class BandCount:
    """Contacts on one band in one mode."""

    band: str
    mode: str
    contacts: int


@dataclass(frozen=True)
class StintLine:
    """A stint with its end (now, while it runs), seconds on the air and counted contacts."""

    stint: object
    ends_at: datetime.datetime
    on_air_s: float
    contacts: int

    @property
    def stretches(self):
        """Pairs of moments between which it was on the air."""
        return self.stint.stretches(self.ends_at)


@dataclass(frozen=True)
class Report:
    """One outing afterwards."""

    outing: Outing
    now: datetime.datetime
    found: performance_queries.Performance
    near: approximate.Approximate | None  # None where the owner does not want it
    counts: tuple[BandCount, ...]
    contacts: int
    doubtful: int
    stints: tuple[StintLine, ...]
    hours: tuple[HourLine, ...]
    moments: tuple  # of counted contacts, the earliest first
    readings: tuple  # of packs that were on the air, and voltages noted
    sun: tuple  # (moment, elevation in degrees)
    starts_at: datetime.datetime
    ends_at: datetime.datetime
    remarks: tuple
    notes: tuple
    night_at: datetime.datetime
    overhead: tuple  # latitude and longitude that the sun stands over then

    @property
    def share_of_goal(self):
        """Contacts in parts of the goal; None without one."""
        goal = self.outing.goal_contacts
        return self.contacts / goal if goal else None

    @property
    def busiest(self):
        """The hour with the most contacts; None without contacts."""
        return max(self.hours, key=lambda line: line.contacts, default=None) if self.moments else None


def report(outing, operator, now, night_at=None):
    """Put together what happened at an outing, for its owner; in a number of queries that does not grow with it."""
    stints = list(outing.stints.select_related("radio", "arrangement__antenna", "pack").prefetch_related("pauses"))
    counted = outing.contacts.counted()
    rows = list(counted.order_by("started_at", "pk").values_list("started_at", "stint_id"))
    of_stint = {}
    for _, stint_id in rows:
        of_stint[stint_id] = of_stint.get(stint_id, 0) + 1
    lines = tuple(
        StintLine(stint, stint.ended_at or max(now, stint.started_at),
                  stint.seconds_on_air(max(now, stint.started_at)) or 0, of_stint.get(stint.pk, 0))
        for stint in stints
    )
    starts_at, ends_at = span(outing, lines, [moment for moment, _ in rows])
    site = outing.site
    night_at = night_at or starts_at + (ends_at - starts_at) / 2
    packs = {stint.pack_id for stint in stints} - {None}
    return Report(
        outing=outing, now=now, found=performance_queries.performance(outing.owner, outing.stints.all(), now=now),
        near=approximate.approximate(outing.owner, outing.stints.all()),
        counts=tuple(counts_of(counted)), contacts=len(rows), doubtful=outing.contacts.filter(pending=True).count(),
        stints=lines, hours=tuple(hours(lines, rows)), moments=tuple(moment for moment, _ in rows),
        readings=tuple(readings(packs, outing, starts_at, ends_at)),
        sun=sun_path(site, starts_at, ends_at),
        starts_at=starts_at, ends_at=ends_at,
        remarks=tuple(outing.remarks.exclude(about=Remark.About.VOLTAGE)),
        notes=tuple(Note.objects.of(operator).about(outing)), night_at=night_at, overhead=sun.overhead(night_at),
    )


def for_others(report):
    """A Report as those see it who have its address, and are to know the site by its grid square alone."""
    grid = report.outing.site.grid_6
    return replace(
        report, found=whereabouts.blurred(report.found, grid) if report.found.centre else report.found,
        sun=sun_path(geography.place_of_grid(grid), report.starts_at, report.ends_at),
    )


def sun_path(place, starts_at, ends_at):
    """The height of the sun at a place, from a little before to a little after."""
    return daylight.path(place.latitude_deg, place.longitude_deg, starts_at - AROUND, ends_at + AROUND)


def span(outing, lines, moments):
    """From the first to the last that happened; the window where nothing did."""
    starts = [line.stint.started_at for line in lines] + moments[:1]
    ends = [line.ends_at for line in lines] + moments[-1:]
    if not starts:
        return outing.window_start, max(outing.ends_at, outing.window_start + HOUR)
    return min(starts), max([*ends, min(starts) + datetime.timedelta(minutes=10)])


def counts_of(contacts):
    """Contacts on each band in each mode, the most first within the bands in their order."""
    rows = contacts.order_by().values_list("band", "mode", "submode").annotate(count=Count("pk"))
    found = {}
    for band, mode, submode, count in rows:
        key = (band, submode or mode)
        found[key] = found.get(key, 0) + count
    for (band, mode), count in sorted(found.items(), key=lambda one: (-one[1], one[0])):
        yield BandCount(band or "no band", mode, count)


def hours(lines, rows):
    """Every UTC hour in which there was time on the air, with its contacts in stints."""
    on_air, contacts = {}, {}
    for line in lines:
        for start, end in line.stretches:
            at = start.replace(minute=0, second=0, microsecond=0)
            while at < end and len(on_air) <= MOST_HOURS:
                on_air[at] = on_air.get(at, 0.0) + (min(end, at + HOUR) - max(start, at)).total_seconds()
                at += HOUR
    for moment, stint_id in rows:
        if stint_id is not None:
            at = moment.replace(minute=0, second=0, microsecond=0)
            contacts[at] = contacts.get(at, 0) + 1
    for at in sorted(on_air)[:MOST_HOURS]:
        count, on_air_s = contacts.get(at, 0), on_air[at]
        yield HourLine(at, count, on_air_s, rates.rate(count, on_air_s / 3600) if on_air_s > 0 else None)


def readings(packs, outing, starts_at, ends_at):
    """(moment, volts, of what) of the packs that were on the air, and of other supplies as noted."""
    rows = PackReading.objects.filter(
        pack__in=packs, at__gte=starts_at - AROUND, at__lte=ends_at + AROUND
    ).select_related("pack")
    found = [(row.at, row.voltage_v, row.pack.name) for row in rows]
    noted = outing.remarks.filter(about=Remark.About.VOLTAGE, value__isnull=False)
    found += [(row.at, row.value, "supply") for row in noted]
    return sorted(found)


def timeline(found):
    """The report over time, as static/pictures/outing.js draws it."""
    panels = []
    if found.moments:
        steps = [[plans.iso(found.starts_at), 0]]
        steps += [[plans.iso(moment), number] for number, moment in enumerate(found.moments, 1)]
        goal = found.outing.goal_contacts
        rules = [{"y": goal, "label": "goal"}] if goal else []
        lines = [{"label": "contacts", "points": steps}]
        panels.append({"unit": "", "from_zero": True, "rules": rules, "lines": lines})
    volts = {}
    for at, volts_v, what in found.readings:
        volts.setdefault(what, []).append([plans.iso(at), volts_v])
    if volts:
        panels.append({
            "unit": "V", "rules": [], "lines": [{"label": what, "points": points} for what, points in volts.items()],
        })
    path = [[plans.iso(at), round(elevation_deg, 2)] for at, elevation_deg in found.sun]
    panels.append({"unit": "°", "rules": [{"y": 0, "label": "horizon"}], "lines": [{"label": "sun", "points": path}]})
    return {
        "x": "UTC", "utc": True, "clock": found.ends_at - found.starts_at < datetime.timedelta(days=2),
        "domain": [plans.iso(found.starts_at - AROUND), plans.iso(found.ends_at + AROUND)],
        "stints": [
            {
                "label": f"{line.stint.band or 'out of band'} {line.stint.submode or line.stint.mode}",
                "more": str(line.stint.arrangement or ""), "contacts": line.contacts,
                "stretches": [[plans.iso(start), plans.iso(end)] for start, end in line.stretches],
            }
            for line in found.stints
        ],
        "contacts": [plans.iso(moment) for moment in found.moments], "panels": panels,
    }
