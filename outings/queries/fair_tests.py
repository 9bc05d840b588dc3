"""What the pages of fair tests read: what one could show, how it stands, how its blocks went, and its judgement."""

import datetime
from dataclasses import dataclass, field

from django.utils import timezone

from outings.evidence import comparison, switching
from outings.models import Stint, SwitchingBlock, SwitchingPlan

from .observing import observed
from .remembering import remembered

ASSUMED_PER_H = 20.0  # where the log has no rate yet; the page says that it is assumed
LEAST_H = 1.0  # on the air, before a rate of its own is taken


@dataclass(frozen=True)
class Prospect:
    """The rate and burstiness that a test is planned with, and where they are from.

    rate_of: the name of the slowest of the chosen arrangements, "" where the rate is that of the whole log; stints and
    hours stand behind it; is_assumed says that the log has no rate yet, own_dispersion that burstiness is the log's.
    """

    per_h: float
    rate_of: str
    dispersion: float
    own_dispersion: bool
    stints: int
    on_air_h: float
    is_assumed: bool


@dataclass(frozen=True)
class BlockLine:
    """A block as planned and as it went; began_at is None before it was on the air."""

    block: SwitchingBlock
    stints: tuple
    began_at: datetime.datetime | None
    ended_at: datetime.datetime | None
    on_air_s: int
    setup_min: float | None
    contacts: int

    @property
    def left_s(self):
        """Seconds on the air that the plan still asks for."""
        return max(0, round(self.block.on_air.total_seconds()) - self.on_air_s)


@dataclass(frozen=True)
class FairTest:
    """A plan with its blocks, what is on the air and what comes next, and the judgement (None before there is one)."""

    plan: SwitchingPlan
    lines: tuple[BlockLine, ...] = field(repr=False)
    running: BlockLine | None
    coming: SwitchingBlock | None
    later: tuple[SwitchingBlock, ...]
    paused: bool
    off_since: datetime.datetime | None
    now: datetime.datetime
    judgement: comparison.Comparison | None
    why_none: str = ""

    @property
    def is_open(self):
        return self.plan.ended_at is None

    @property
    def switch_at(self):
        """When to switch, if nothing interrupts; None while nothing runs or in a pause."""
        if self.running is None or self.paused:
            return None
        return self.now + datetime.timedelta(seconds=self.running.left_s)

    @property
    def is_due(self):
        return self.running is not None and not self.running.left_s

    @property
    def set_up_min(self):
        """Minutes of set-up noted in all."""
        return sum(line.setup_min or 0 for line in self.lines)

    @property
    def on_air_min(self):
        return sum(line.on_air_s for line in self.lines) / 60


def prospect(operator, arrangements):
    """What the operator's own log says of rate and burstiness, for planning a test of these arrangements."""
    seen = observed(operator, Stint.objects.of(operator))
    groups = list(seen.groups.values())
    on_air_h, contacts = sum(group.on_air_h for group in groups), sum(group.contacts for group in groups)
    try:
        dispersion, own = remembered(comparison.compare, seen.observations()).dispersion, True
    except comparison.NothingToCompare:
        dispersion, own = comparison.PRIOR_DISPERSION, False
    chosen = [seen.groups[key] for key in (str(one.pk) for one in arrangements) if key in seen.groups]
    known = [group for group in chosen if group.on_air_h >= LEAST_H and group.contacts]
    if known:
        slowest = min(known, key=lambda group: group.contacts / group.on_air_h)
        return Prospect(slowest.contacts / slowest.on_air_h, slowest.label, dispersion, own, slowest.stints,
                        slowest.on_air_h, False)
    if on_air_h >= LEAST_H and contacts:
        stints = sum(group.stints for group in groups)
        return Prospect(contacts / on_air_h, "", dispersion, own, stints, on_air_h, False)
    return Prospect(ASSUMED_PER_H, "", dispersion, own, 0, 0.0, True)


def plans_of(outing):
    """The plans of an outing with all that is shown of them, the newest first."""
    return SwitchingPlan.objects.filter(outing=outing).order_by("-created_at", "-id").prefetch_related(
        "blocks__arrangement__antenna", "blocks__stints__pauses", "blocks__stints__contacts",
        "blocks__stints__arrangement__antenna", "blocks__stints__radio",
    )


def fair_tests(outing, now=None):
    """The fair tests of an outing, the newest first."""
    now = now or timezone.now()
    return tuple(fair_test(plan, now) for plan in plans_of(outing))


def open_test(outing, now=None):
    """The newest fair test of an outing that goes on, not judged yet; None without one."""
    plan = plans_of(outing).filter(ended_at__isnull=True).first()
    return fair_test(plan, now or timezone.now(), judge=False) if plan else None


def fair_test(plan, now, *, judge=True):
    """One plan, its blocks and stints prefetched."""
    lines = tuple(line_of(block, now) for block in plan.blocks.all())
    running = next((line for line in lines if any(stint.running for stint in line.stints)), None)
    last = max((line.block.number for line in lines if line.stints), default=0)
    later = [line.block for line in lines if line.block.number > last] if plan.ended_at is None else []
    stint = next((stint for stint in running.stints if stint.running), None) if running else None
    ends = [line.ended_at for line in lines if line.ended_at]
    judgement, why_none = judged(plan, lines, now) if judge else (None, "")
    return FairTest(
        plan, lines, running, later[0] if later else None, tuple(later), bool(stint and stint.open_pause),
        max(ends) if ends and not running else None, now, judgement, why_none,
    )


def line_of(block, now):
    """A block with what really happened."""
    stints = tuple(stint for stint in block.stints.all() if stint.deleted_at is None)
    if not stints:
        return BlockLine(block, (), None, None, 0, None, 0)
    set_up = [stint.setup_min for stint in stints if stint.setup_min is not None]
    running = any(stint.running for stint in stints)
    return BlockLine(
        block, stints, min(stint.started_at for stint in stints),
        None if running else max(stint.ended_at for stint in stints),
        sum(max(0, stint.seconds_on_air(now)) for stint in stints), sum(set_up) if set_up else None,
        sum(1 for stint in stints for contact in stint.contacts.all() if not (contact.pending or contact.deleted_at)),
    )


def judged(plan, lines, now):
    """The comparison of its blocks as pairs, or (None, why there is none)."""
    if not any(line.on_air_s for line in lines):
        return None, ""
    seen = observed(plan.owner, Stint.objects.of(plan.owner).filter(block__plan=plan), now=now)
    try:
        return remembered(comparison.compare, seen.observations()), ""
    except comparison.NothingToCompare as reason:
        text = str(reason)
        return None, f"{text[:1].upper()}{text[1:]}."


def outlook(plan_blocks, found):
    """What planned blocks could show with a Prospect."""
    return switching.outlook(plan_blocks, found.per_h, found.dispersion)
