"""What the list of outings and the page of a plan read."""

import datetime
from dataclasses import dataclass

from django.db.models import Count, Q

from equipment.models import any_holds
from equipment.queries import KitWeight, PackingLine, kit_weight, packing_list
from equipment.queries.resonance import NO, KitBand, kit_bands
from outings import daylight
from outings.models import ChecklistLine, Contact, Outing, OutingMember

from .sites import with_references_text

SHARED = 20  # outings of others that a page shows


def outing_list(operator, *, which, now, text=""):
    """The outings of an operator, upcoming, past or deleted, as a QuerySet to be paged."""
    outings = Outing.everything.of(operator).deleted() if which == "deleted" else Outing.objects.of(operator)
    if which == "upcoming":
        outings = outings.upcoming(now)
    elif which == "past":
        outings = outings.past(now)
    if text:
        sought = any_holds(text, "title", "site__name", "station_call", "references_text")
        outings = with_references_text(outings).filter(sought)
    return outings.select_related("site", "kit")


def memberships(operator, since=None):
    """Outings of others that an operator was invited to, the latest first; of those joined, not over before `since`."""
    rows = OutingMember.objects.of(operator).select_related("outing__site", "outing__owner")
    if since:
        rows = rows.filter(Q(joined_at=None) | Q(outing__in=Outing.objects.upcoming(since).order_by().values("pk")))
    return rows.order_by("-outing__window_start", "-pk")[:SHARED]


def contact_counts(outings):
    """Counted contacts of some outings, {outing id: count}; one query over these outings' contacts only."""
    rows = Contact.objects.filter(outing__in=[outing.pk for outing in outings], pending=False)
    return dict(rows.order_by().values_list("outing").annotate(Count("pk")))


@dataclass(frozen=True)
class KitPart:
    """What the kit means for the plan: weight, gear that is retired by now, and which bands it covers."""

    lines: tuple[PackingLine, ...]
    weight: KitWeight
    bands: tuple[KitBand, ...]
    wanted: tuple[str, ...]

    @property
    def uncovered(self):
        return [line.band for line in self.bands if not line.rows]

    @property
    def off_resonance(self):
        """Bands that arrangements are set for, none of which resonates, be it measured or by a model."""
        return [
            line.band for line in self.bands if line.rows and all(row.resonance.verdict == NO for row in line.rows)
        ]

    @property
    def retired(self):
        return [line.text for line in self.lines if line.is_retired]


@dataclass(frozen=True)
class Plan:
    """One outing as planned."""

    outing: Outing
    light: daylight.Daylight
    kit: KitPart | None
    checklist_lines: int
    checklist_ticked: int
    contacts: int

    @property
    def window_h(self):
        return (self.outing.ends_at - self.outing.window_start).total_seconds() / 3600

    @property
    def picture(self):
        """The sun over the window, as static/pictures.js draws it."""
        light = self.light
        marks = [event for day in light.days for event in day.events]
        first, last = light.path[0][0], light.path[-1][0]
        shown = {
            "time_zone": light.zone,
            "elevation_deg": [[iso(at), round(elevation_deg, 2)] for at, elevation_deg in light.path],
            "marks": [{"at": iso(mark.at), "label": mark.what} for mark in marks if first <= mark.at <= last],
        }
        if light.ends_at > light.starts_at:
            shown["window"] = [iso(light.starts_at), iso(light.ends_at)]
        return shown


def iso(at):
    """2026-06-21T04:05:00Z."""
    return f"{at.astimezone(datetime.UTC):%Y-%m-%dT%H:%M:%SZ}"


def light_of(outing):
    """The light of an outing's window at its site."""
    site = outing.site
    return daylight.of(
        site.latitude_deg, site.longitude_deg, site.time_zone, outing.window_start, outing.ends_at
    )


def kit_part(outing):
    """Kit, weight and cover of the wanted bands (of all that it covers where none are named); None without a kit."""
    if outing.kit is None:
        return None
    lines = packing_list(outing.kit)
    bands = kit_bands(outing.kit, outing.bands or None)
    return KitPart(tuple(lines), kit_weight(lines), bands, tuple(outing.bands))


def plan(outing):
    """What the page of a plan shows; a fixed number of queries."""
    lines = ChecklistLine.objects.filter(outing=outing).aggregate(
        all=Count("pk"), ticked=Count("pk", filter=Q(ticked_at__isnull=False))
    )
    return Plan(
        outing=outing,
        light=light_of(outing),
        kit=kit_part(outing),
        checklist_lines=lines["all"],
        checklist_ticked=lines["ticked"],
        contacts=Contact.objects.filter(outing=outing, pending=False).count(),
    )
