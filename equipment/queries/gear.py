"""The list of the gear, and the list of the kits."""

import datetime
from dataclasses import dataclass

from django.db import models

from equipment.bands import position
from equipment.models import Arrangement, Item, Kit, PowerSetting

from .due import due_of
from .kits import KitWeight, kit_weight, packed, with_contents

STATES = {"": "in_use", "retired": "retired", "all": "all"}
ORDERS = {
    "name": ["name"], "kind": ["kind", "name"], "weight": ["weight_kg", "name"], "acquired": ["acquired_on", "name"],
}


@dataclass(frozen=True)
class GearRow:
    """A line of the list: what a piece is, and the one thing of its kind that tells it from others."""

    pk: int
    name: str
    kind: str
    make: str
    weight_kg: float | None
    acquired_on: datetime.date | None
    retired_on: datetime.date | None
    arrangements: int
    power_settings: int
    most_w: float | None
    rated_ah: float | None
    measured_ah: float | None
    chemistry: str
    length_m: float | None
    line_type: str
    due: tuple[str, ...]


def gear(operator, *, q="", kind="", state="", sort=""):
    """The rows of an operator's gear that fit, in order; evaluate a slice of it and hand that to `gear_rows`."""
    rows = getattr(Item.objects.of(operator), STATES[state])().naming(q)
    if kind:
        rows = rows.of_kind(kind)
    first, *others = ORDERS[sort.lstrip("-") or "name"]
    key = models.F(first).desc(nulls_last=True) if sort.startswith("-") else models.F(first).asc(nulls_last=True)
    return rows.order_by(key, *others, "id")


def gear_rows(items):
    """Items as GearRow, with what their kind adds and what is due. Six queries, however many there are."""
    items = items.select_related("pack", "feedline") if isinstance(items, models.QuerySet) else items
    items = list(items)
    pks = [item.pk for item in items]
    arrangements = dict(
        Arrangement.objects.filter(antenna__in=pks, retired_on=None).order_by().values_list("antenna")
        .annotate(models.Count("pk"))
    )
    settings = {
        radio: (count, most) for radio, count, most in PowerSetting.objects.filter(radio__in=pks).order_by()
        .values_list("radio").annotate(models.Count("pk"), models.Max("output_w"))
    }
    due = due_of(items)
    return [row_of(item, arrangements, settings, due.get(item.pk, ())) for item in items]


def row_of(item, arrangements, settings, due):
    pack = item.pack if item.kind == Item.Kind.PACK else None
    feedline = item.feedline if item.kind == Item.Kind.FEEDLINE else None
    count, most = settings.get(item.pk, (0, None))
    return GearRow(
        pk=item.pk, name=item.name, kind=item.get_kind_display(), make=f"{item.maker} {item.model}".strip(),
        weight_kg=item.weight_kg, acquired_on=item.acquired_on, retired_on=item.retired_on,
        arrangements=arrangements.get(item.pk, 0), power_settings=count, most_w=most,
        rated_ah=pack and pack.rated_ah, measured_ah=pack and pack.measured_ah,
        chemistry=pack.get_chemistry_display() if pack else "", length_m=feedline and feedline.length_m,
        line_type=feedline.line_type if feedline else "", due=due,
    )


@dataclass(frozen=True)
class KitRow:
    """A line of the list of kits."""

    pk: int
    name: str
    pieces: int
    weight: KitWeight
    arrangements: tuple[str, ...]  # in use, and so the bands
    bands: tuple[str, ...]
    retired_on: datetime.date | None


def kit_rows(operator, *, state=""):
    """The kits of an operator, in use, retired or all, as KitRow. Four queries, however many there are."""
    kits = with_contents(getattr(Kit.objects.of(operator), STATES[state])())
    rows = []
    for kit in kits:
        lines = packed(kit)
        arrangements = [
            arrangement for arrangement in kit.arrangements.all()
            if not arrangement.is_retired and not arrangement.antenna.is_retired
        ]
        bands = {setting.band for arrangement in arrangements for setting in arrangement.band_settings.all()}
        rows.append(KitRow(
            pk=kit.pk, name=kit.name, pieces=sum(line.quantity for line in lines), weight=kit_weight(lines),
            arrangements=tuple(arrangement.name for arrangement in arrangements),
            bands=tuple(sorted(bands, key=position)), retired_on=kit.retired_on,
        ))
    return rows
