"""Whether the energy of an outing's kit lasts through its window, and what past outings used for an hour on the air."""

import datetime
import math
from collections import defaultdict
from dataclasses import dataclass
from itertools import pairwise
from statistics import stdev

from equipment.models import Item, PackLog
from equipment.numerals import Numeral
from equipment.queries.bench.answers import Ground
from equipment.queries.bench.lasting import ENOUGH_CHARGES, Learned, kit_lasting
from equipment.queries.pack_logs import since_full
from outings.models import Stint

LEAST_H = 0.25  # on the air between two full charges, below which their ampere-hours say nothing about operating
MOST_CHARGES = 12  # the newest ones: how somebody operates changes
CONFIDENCE = 0.9


def outing_energy(outing):
    """Will the kit last through the window; a KitLasting, None without a kit. At most seven queries."""
    if outing.kit_id is None:
        return None
    window_h = (outing.ends_at - outing.window_start).total_seconds() / 3600
    packs = list(outing.kit.lines.filter(item__kind=Item.Kind.PACK).values_list("item", flat=True))
    return kit_lasting(outing.kit, window_h, learned_use(outing.owner_id, packs) if packs else None)


@dataclass(frozen=True)
class UseSinceFull:
    """What left a pack since its last full charge: by its logs, and by hours on the air with the operator's own use."""

    full_at: datetime.datetime
    logged_ah: float
    on_air_h: float
    used_ah: float | None  # None where the hours are known but not what they use


def use_since_full(owner, pack):
    """UseSinceFull of a pack, None where no full charge is known. Four queries."""
    full = since_full(pack)
    if full is None:
        return None
    stints = Stint.objects.of(owner).recorded().filter(pack=pack, started_at__gte=full.full_at, on_air_s__gt=0)
    hours = sum(stints.values_list("on_air_s", flat=True)) / 3600
    learned = learned_use(owner, [pack.pk]) if hours else None
    used = full.used_ah + hours * learned.middle_a if learned else (None if hours else full.used_ah)
    return UseSinceFull(full.full_at, full.used_ah, hours, used)


def learned_use(owner, packs):
    """Ampere-hours for an hour on the air, by full charges after outings; None where there is no such charge.

    Between two full charges of a pack its stints' hours are summed; what the later charge put in is what they used.
    The range is where the next outing will lie with 90 % confidence (t, prediction of one more), from three charges on.
    """
    charges = defaultdict(list)
    logs = PackLog.objects.of(owner).charges().complete().filter(pack__in=packs).without_file().select_related("pack")
    for log in logs.order_by("started_at", "id"):
        charges[log.pack_id].append(log)
    stints = Stint.objects.of(owner).recorded().filter(pack__in=list(charges), on_air_s__gt=0)
    on_air = defaultdict(list)
    for pack, at, seconds in stints.values_list("pack", "started_at", "on_air_s"):
        on_air[pack].append((at, seconds / 3600))
    uses = []
    for pack, full in charges.items():
        for before, after in pairwise(full):
            begin = before.started_at + datetime.timedelta(seconds=before.duration_s)
            hours = sum(h for at, h in on_air[pack] if begin <= at < after.started_at)
            if hours >= LEAST_H:
                uses.append((after, after.ah, hours))
    return learned_from(sorted(uses, key=lambda use: use[0].started_at)[-MOST_CHARGES:])


def learned_from(uses):
    """The ratio of sums with its range, from (charge, ampere-hours, hours on the air)."""
    if not uses:
        return None
    hours = sum(use[2] for use in uses)
    mean = sum(use[1] for use in uses) / hours
    low = high = mean
    if len(uses) >= ENOUGH_CHARGES:
        from scipy.stats import t

        spread = stdev(ah / h for _, ah, h in uses) * math.sqrt(1 + 1 / len(uses))
        reach = spread * float(t.ppf((1 + CONFIDENCE) / 2, len(uses) - 1))
        low, high = max(0.05 * mean, mean - reach), mean + reach
    grounds = tuple(
        Ground(f"{log.pack}, charged full on {log.started_at:%Y-%m-%d}: {Numeral(ah):.2f} Ah after {Numeral(h):.1f} h "
               "on the air", log.get_absolute_url())
        for log, ah, h in uses
    )
    return Learned(low, mean, high, len(uses), hours, grounds)
