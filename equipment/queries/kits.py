"""What a kit is made of: its packing list, its weight, and which arrangement covers which band."""

from dataclasses import dataclass

from django.db.models import Prefetch

from equipment import bands as band_table
from equipment.models import Arrangement, BandSetting, Item, Kit, KitItem

SECTIONS = {
    Item.Kind.RADIO: "Radios",
    Item.Kind.ANTENNA: "Antennas",
    Item.Kind.PACK: "Battery packs",
    Item.Kind.FEEDLINE: "Feedlines",
    Item.Kind.ACCESSORY: "Accessories",
}


@dataclass(frozen=True)
class PackingLine:
    """A piece of gear to pack; `weight_kg` is that of all its pieces together, None where it was never weighed."""

    item_id: int
    text: str
    quantity: int
    weight_kg: float | None
    section: str
    is_retired: bool


@dataclass(frozen=True)
class KitWeight:
    """The sum of the known weights, and how many lines of how many have one."""

    weight_kg: float
    weighed: int
    lines: int

    @property
    def unweighed(self):
        return self.lines - self.weighed


@dataclass(frozen=True)
class BandSettings:
    """One arrangement as it is set for one band: what the band setting says, else what holds for all bands."""

    arrangement_id: int
    arrangement: str
    antenna_id: int
    antenna: str
    element_length_m: float | None
    coil: str
    tap: str
    counterpoise_m: float | None
    radials: int | None
    radial_length_m: float | None
    feedpoint_height_m: float | None
    far_end_height_m: float | None
    slope_deg: float | None
    orientation: str
    azimuth_deg: float | None
    ground: str
    transformer: str
    choke: str
    feedline: str
    needs_tuner: bool
    note: str


@dataclass(frozen=True)
class BandCover:
    """A band with the arrangements of the kit that are set up for it; none is an empty tuple."""

    band: str
    arrangements: tuple[BandSettings, ...]


CONTENTS = (
    Prefetch("lines", KitItem.objects.select_related("item")),
    Prefetch("arrangements", Arrangement.objects.select_related("antenna")),
)


def with_contents(kits):
    """A QuerySet of kits with everything that `packed` reads, so that many take as many queries as one."""
    return kits.prefetch_related(*CONTENTS, "arrangements__band_settings")


def packing_list(kit):
    """The gear of a kit, by kind and within it in the kit's order: a list of PackingLine. Three queries.

    An antenna that goes along only through one of its arrangements is listed too.
    """
    return packed(Kit.objects.prefetch_related(*CONTENTS).get(pk=kit.pk))


def packed(kit):
    """The packing list of a kit that came from `with_contents`."""
    pieces = [(line.item, line.quantity) for line in kit.lines.all()]
    listed = {item.pk for item, _ in pieces}
    for arrangement in kit.arrangements.all():
        if arrangement.antenna_id not in listed:
            listed.add(arrangement.antenna_id)
            pieces.append((arrangement.antenna, 1))
    kinds = list(SECTIONS)
    pieces.sort(key=lambda piece: kinds.index(piece[0].kind))  # stable: the kit's order stays within a kind
    return [
        PackingLine(
            item_id=item.pk,
            text=item.name,
            quantity=quantity,
            weight_kg=None if item.weight_kg is None else item.weight_kg * quantity,
            section=SECTIONS[item.kind],
            is_retired=item.retired_on is not None,
        )
        for item, quantity in pieces
    ]


def kit_weight(lines):
    """The weight of a packing list: a KitWeight that says how many of its lines were never weighed."""
    known = [line.weight_kg for line in lines if line.weight_kg is not None]
    return KitWeight(weight_kg=sum(known), weighed=len(known), lines=len(lines))


def settings_by_band(kit, bands=None):
    """Which arrangements of a kit cover each band, with their settings: a list of BandCover in the order of `bands`.

    `bands` are names as in equipment.bands; None means every band that the kit covers, from long waves to short.
    Arrangements that are retired, or whose antenna is, cover nothing. One query.
    """
    settings = (
        BandSetting.objects.filter(
            arrangement__kits=kit, arrangement__retired_on=None, arrangement__antenna__retired_on=None
        )
        .select_related("arrangement__antenna", "arrangement__feedline")
        .order_by("arrangement__antenna__name", "arrangement__name", "arrangement_id", "id")
    )
    by_band = {}
    for setting in settings:
        by_band.setdefault(setting.band, []).append(as_set(setting))
    if bands is None:
        bands = sorted(by_band, key=band_table.position)
    return [BandCover(band, tuple(by_band.get(band, ()))) for band in bands]


def as_set(setting):
    """A band setting laid over its arrangement."""
    arrangement = setting.arrangement
    return BandSettings(
        arrangement_id=arrangement.pk,
        arrangement=arrangement.name,
        antenna_id=arrangement.antenna_id,
        antenna=arrangement.antenna.name,
        element_length_m=(
            arrangement.element_length_m if setting.element_length_m is None else setting.element_length_m
        ),
        coil=arrangement.coil,
        tap=setting.tap or arrangement.tap,
        counterpoise_m=arrangement.counterpoise_m,
        radials=arrangement.radials,
        radial_length_m=arrangement.radial_length_m,
        feedpoint_height_m=arrangement.feedpoint_height_m,
        far_end_height_m=arrangement.far_end_height_m,
        slope_deg=arrangement.slope_deg,
        orientation=arrangement.orientation,
        azimuth_deg=arrangement.azimuth_deg,
        ground=arrangement.get_ground_display(),
        transformer=arrangement.transformer,
        choke=arrangement.choke,
        feedline=arrangement.feedline.name if arrangement.feedline else "",
        needs_tuner=setting.tuner,
        note=setting.note,
    )
