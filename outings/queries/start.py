"""What the start page reads: what is next, what is unfinished, what was learned last."""

from dataclasses import dataclass

from django.db.models import Count, Exists, OuterRef, Q, Sum

from equipment.models import Item
from outings.evidence import rates
from outings.models import Contact, DemoScenario, ImportedFile, Note, Outing, Site, Stint

from . import plans

FEW = 3
SOME = 8


@dataclass(frozen=True)
class Next:
    """The outing that is next, or on now, with its plan and whether all is ready."""

    plan: plans.Plan
    is_on: bool
    more: int  # outings planned after it

    @property
    def unticked(self):
        return self.plan.checklist_lines - self.plan.checklist_ticked

    @property
    def uncovered(self):
        return self.plan.kit.uncovered if self.plan.kit else []

    @property
    def retired(self):
        return self.plan.kit.retired if self.plan.kit else []

    @property
    def is_ready(self):
        ready = self.plan.kit and self.plan.checklist_lines and not self.unticked
        return bool(ready and not self.uncovered and not self.retired)


@dataclass(frozen=True)
class Unfinished:
    """What waits for the operator."""

    running: tuple  # stints
    doubtful: int  # contacts
    conflicts: int  # contacts that were changed in two places
    contested: tuple  # outings from which phones handed in what met another change, with how many as `contested`
    endless: tuple  # outings that began without a planned end
    unlogged: tuple  # outings that are over with nothing in their log
    imports: tuple  # files that were read and not yet imported

    def __bool__(self):
        return bool(
            self.running or self.doubtful or self.conflicts or self.contested or self.endless or self.unlogged
            or self.imports
        )


@dataclass(frozen=True)
class Last:
    """The outing that was held last, with its contacts in stints, their hours and the rate; None without hours."""

    outing: Outing
    contacts: int
    in_stints: int
    on_air_h: float
    rate: rates.Rate | None


@dataclass(frozen=True)
class Start:
    """Everything on the start page."""

    next: Next | None
    unfinished: Unfinished
    last: Last | None
    memberships: tuple  # outings of others: invited to, or joined and not over
    notes: tuple
    has_sites: bool
    has_gear: bool
    has_outings: bool
    has_demo: bool

    @property
    def is_new(self):
        """Nothing was ever kept here."""
        return not (self.has_sites or self.has_gear or self.has_outings)


def start(operator, now):
    """What the start page shows; a fixed number of queries."""
    return Start(
        next=next_outing(operator, now),
        unfinished=unfinished(operator, now),
        last=last_outing(operator, now),
        memberships=tuple(plans.memberships(operator, since=now)),
        notes=tuple(Note.objects.of(operator)[:FEW]),
        has_sites=Site.objects.of(operator).exists(),
        has_gear=Item.objects.of(operator).exists(),
        has_outings=Outing.objects.of(operator).exists(),
        has_demo=DemoScenario.objects.of(operator).exists(),
    )


def next_outing(operator, now):
    """The next outing or the one that is on; those without an end count as over once they began."""
    upcoming = Outing.objects.of(operator).upcoming(now)
    found = upcoming.select_related("site", "kit").first()
    if found is None:
        return None
    return Next(plans.plan(found), found.window_start <= now, upcoming.count() - 1)


def unfinished(operator, now):
    past = Outing.objects.of(operator).past(now).select_related("site")
    logged = Exists(Contact.objects.filter(outing=OuterRef("pk")))
    return Unfinished(
        running=tuple(
            Stint.objects.of(operator).running().select_related("outing__site", "arrangement__antenna")[:SOME]
        ),
        doubtful=Contact.objects.of(operator).pending().count(),
        conflicts=Contact.objects.of(operator).conflict().count(),
        contested=tuple(
            Outing.objects.of(operator).contested().select_related("site").order_by("-window_start", "-id")[:FEW]
        ),
        endless=tuple(past.filter(window_end=None)[:FEW]),
        unlogged=tuple(past.exclude(window_end=None).filter(~logged)[:FEW]),
        imports=tuple(ImportedFile.objects.of(operator).filter(status=ImportedFile.Status.READ)[:FEW]),
    )


def last_outing(operator, now):
    """The latest outing that is over and has contacts."""
    logged = Exists(Contact.objects.filter(outing=OuterRef("pk"), pending=False))
    outing = Outing.objects.of(operator).past(now).filter(logged).select_related("site").first()
    if outing is None:
        return None
    counts = Contact.objects.filter(outing=outing).counted().aggregate(
        all=Count("pk"),
        in_stints=Count("pk", filter=Q(stint__on_air_s__gt=0, stint__deleted_at=None)),
    )
    seconds = Stint.objects.filter(outing=outing).aggregate(total=Sum("on_air_s"))["total"] or 0
    rate = rates.rate(counts["in_stints"], seconds / 3600) if seconds else None
    return Last(outing, counts["all"], counts["in_stints"], seconds / 3600, rate)
