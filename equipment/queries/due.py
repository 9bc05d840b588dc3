"""What is due: arrangements that were never swept, and packs to be tested or looked after."""

from collections import defaultdict

from django.db.models import Exists, Max, OuterRef
from django.utils import timezone

from equipment.models import Arrangement, Item, PackLog, PackReading, Sweep

from .pack_logs import HealthRow, due


def due_of(items, now=None):
    """What is due for each of some pieces that are in use: {item id: (sentence, ...)}. Three queries.

    Packs have to come with their `pack` at hand.
    """
    now = now or timezone.now()
    items = [item for item in items if item.retired_on is None]
    pks = [item.pk for item in items]
    found = {antenna: (never_swept(names),) for antenna, names in unswept(pks).items()}
    logs = defaultdict(list)
    for log in PackLog.objects.filter(pack__in=pks).without_file().select_related(None):
        logs[log.pack_id].append(log)
    readings = dict(PackReading.objects.filter(pack__in=pks).order_by().values_list("pack").annotate(Max("at")))
    for pack in (item.pack for item in items if item.kind == Item.Kind.PACK):
        tests = [HealthRow(log, None) for log in logs[pack.pk] if log.kind == PackLog.Kind.TEST]
        moments = [readings.get(pack.pk), *(log.started_at for log in logs[pack.pk])]
        seen = max((moment for moment in moments if moment), default=None)
        found[pack.pk] = due(pack, tests, seen, now)
    return found


def unswept(antennas):
    """The arrangements in use that were never swept: {antenna id: [name, ...]}. One query."""
    swept = Exists(Sweep.objects.filter(arrangement=OuterRef("pk")))
    rows = Arrangement.objects.filter(antenna__in=antennas).in_use().exclude(swept).order_by("name", "id")
    found = defaultdict(list)
    for antenna, name in rows.values_list("antenna", "name"):
        found[antenna].append(name)
    return found


def never_swept(names):
    """A sentence that names arrangements."""
    return f"A sweep: {', '.join(names)} {'was' if len(names) == 1 else 'were'} never swept."
