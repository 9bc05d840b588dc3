"""The ways in which stints are grouped and compared: by arrangement, antenna, radio, source, power and so on."""

import math
from dataclasses import dataclass

from django.db import models
from django.db.models import functions

from equipment.models import BandSetting
from equipment.numerals import Numeral
from equipment.templatetags.units import wire_length
from outings import conditions
from outings.adif import tables
from outings.models import Outing, Stint

NOTHING = "none"  # the key of stints of which the question's answer was not noted


@dataclass(frozen=True)
class Dimension:
    """One way to group stints: which columns say it, the key of a group in addresses, and its label.

    `columns` (names or expressions) are looked up on Stint; `key` and `label` take their values, `label` the operator's
    units behind them where `in_units`; `where` gives the condition for a key.
    """

    word: str
    columns: tuple
    key: object
    label: object
    where: object
    order: object = None  # sorts keys; most hours first without it
    in_units: bool = False


def labelled(dimension, values, operator):
    """The label of a group, in the operator's units."""
    return dimension.label(*values, operator.units) if dimension.in_units else dimension.label(*values)


def number_or_none(column):
    """A condition on a foreign key for a key in an address; one that is no number chooses nothing."""

    def where(key):
        if key == NOTHING:
            return models.Q(**{f"{column}__isnull": True})
        return models.Q(**{column: int(key)}) if key.isascii() and key.isdigit() else models.Q(pk__in=[])

    return where


def id_key(pk, *_):
    return NOTHING if pk is None else str(pk)


def pack_key(pk, _, other_source):
    """A pack by its number, another source by its name."""
    if pk is not None:
        return str(pk)
    return f"other {other_source}" if other_source else NOTHING


def where_pack(key):
    if key.startswith("other "):
        return models.Q(pack__isnull=True, other_source=key.removeprefix("other "))
    if key == NOTHING:
        return models.Q(pack__isnull=True, other_source="")
    return number_or_none("pack_id")(key)


def mode_key(mode, submode):
    """Upper and lower sideband are one way of talking; elsewhere the submode is the mode that people name."""
    return (mode if mode in tables.PHONE_MODES else submode or mode) or NOTHING


def where_mode(key):
    if key == NOTHING:
        return models.Q(mode="", submode="")
    if key in tables.PHONE_MODES:
        return models.Q(mode=key)
    return models.Q(submode=key) | models.Q(mode=key, submode="")


def band_place(key):
    """Where a band stands: by its frequency, what is no band last."""
    return tables.BAND_NAMES.index(key) if key in tables.BAND_NAMES else len(tables.BAND_NAMES)


# The coil tap of a stint: of the arrangement's setting for its band, else of the arrangement.
TAP = functions.Coalesce(
    functions.NullIf(
        models.Subquery(BandSetting.objects.filter(
            arrangement=models.OuterRef("arrangement"), band=models.OuterRef("band"),
        ).order_by("pk").values("tap")[:1]),
        models.Value(""),
    ),
    models.F("arrangement__tap"), models.Value(""),
)


def where_tap(key):
    wanted = Stint.everything.annotate(tap=TAP).filter(tap="" if key == NOTHING else key)
    return models.Q(pk__in=wanted.order_by().values("pk"))


def number_key(value):
    return NOTHING if value is None else repr(float(value))


def where_number(column):
    """A condition on a column of numbers for a key in an address."""

    def where(key):
        if key == NOTHING:
            return models.Q(**{f"{column}__isnull": True})
        try:
            return models.Q(**{column: float(key)})
        except ValueError:
            return models.Q(pk__in=[])

    return where


def number_place(key):
    return math.inf if key == NOTHING else float(key)


def light_key(started_at, ended_at, latitude_deg, longitude_deg):
    """The light at the site in the middle of a stint; of one that goes on, at its start."""
    middle = started_at + (ended_at - started_at) / 2 if ended_at else started_at
    return conditions.light_of(latitude_deg, longitude_deg, middle)


LIGHT = ("started_at", "ended_at", "outing__site__latitude_deg", "outing__site__longitude_deg")


def where_light(key):
    rows = Stint.everything.order_by().values_list("pk", *LIGHT)
    return models.Q(pk__in=[pk for pk, *values in rows if light_key(*values) == key])


def season_key(started_at, latitude_deg):
    return conditions.season(latitude_deg, started_at) or NOTHING


def where_season(key):
    latitude = "outing__site__latitude_deg"
    north, south = {f"{latitude}__gt": conditions.TROPIC_DEG}, {f"{latitude}__lt": -conditions.TROPIC_DEG}
    if key not in conditions.SEASONS:
        return ~models.Q(**north) & ~models.Q(**south) if key == NOTHING else models.Q(pk__in=[])
    months = [[month for month in range(1, 13) if (month % 12 // 3 + turned) % 4 == conditions.SEASONS.index(key)]
              for turned in (0, 2)]
    return models.Q(started_at__month__in=months[0], **north) | models.Q(started_at__month__in=months[1], **south)


def where_word(column, word_of):
    """A condition on a column of outings whose numbers have words."""

    def where(key):
        if key == NOTHING:
            return models.Q(**{f"{column}__isnull": True})
        rows = Outing.everything.order_by().values_list("pk", column.removeprefix("outing__"))
        return models.Q(outing_id__in=[pk for pk, value in rows if word_of(value) == key])

    return where


CALLING = dict(Stint.Calling.choices)

DIMENSIONS = {
    "arrangement": Dimension(
        "arrangement", ("arrangement_id", "arrangement__antenna__name", "arrangement__name"), id_key,
        lambda pk, antenna, name: f"{antenna}, {name}" if pk else "no arrangement noted",
        number_or_none("arrangement_id"),
    ),
    "antenna": Dimension(
        "antenna", ("arrangement__antenna_id", "arrangement__antenna__name"), id_key,
        lambda pk, name: name if pk else "no antenna noted", number_or_none("arrangement__antenna_id"),
    ),
    "radio": Dimension(
        "radio", ("radio_id", "radio__name"), id_key,
        lambda pk, name: name if pk else "no radio noted", number_or_none("radio_id"),
    ),
    "pack": Dimension(
        "pack or source", ("pack_id", "pack__name", "other_source"), pack_key,
        lambda pk, name, other: name if pk else other or "no source noted", where_pack,
    ),
    "power": Dimension(
        "power", ("power_w",), number_key,
        lambda power_w: "no power noted" if power_w is None else f"{Numeral(power_w):g} W" if power_w >= 1 else
        f"{Numeral(power_w * 1000):g} mW",
        where_number("power_w"), number_place,
    ),
    "tap": Dimension(
        "coil tap", (TAP,), lambda tap: tap or NOTHING, lambda tap: f"tap {tap}" if tap else "no tap noted", where_tap,
    ),
    "height": Dimension(
        "feedpoint height", ("arrangement__feedpoint_height_m",), number_key,
        lambda height_m, units: "no height noted" if height_m is None else f"{wire_length(height_m, units)} high",
        where_number("arrangement__feedpoint_height_m"), number_place, in_units=True,
    ),
    "band": Dimension(
        "band", ("band",), lambda band: band or NOTHING, lambda band: band or "no band noted",
        lambda key: models.Q(band="" if key == NOTHING else key), band_place,
    ),
    "mode": Dimension(
        "mode", ("mode", "submode"), mode_key,
        lambda mode, submode: "no mode noted" if mode_key(mode, submode) == NOTHING else mode_key(mode, submode),
        where_mode,
    ),
    "site": Dimension(
        "site", ("outing__site_id", "outing__site__name"), id_key, lambda pk, name: name,
        number_or_none("outing__site_id"),
    ),
    "calling": Dimension(
        "calling or answering", ("calling",), lambda calling: calling or NOTHING,
        lambda calling: CALLING.get(calling, "not noted"),
        lambda key: models.Q(calling="" if key == NOTHING else key),
    ),
    "light": Dimension(
        "light at the site", LIGHT, light_key, lambda *values: light_key(*values), where_light,
        order=(conditions.DAY, conditions.GREY_LINE, conditions.NIGHT).index,
    ),
    "season": Dimension(
        "season", ("started_at", "outing__site__latitude_deg"), season_key,
        lambda *values: season_key(*values).replace(NOTHING, "between the tropics"), where_season,
    ),
    "solar_flux": Dimension(
        "solar flux", ("outing__solar_flux",), lambda flux: conditions.solar_activity(flux) or NOTHING,
        lambda flux: conditions.solar_activity(flux) or "no solar flux noted",
        where_word("outing__solar_flux", conditions.solar_activity),
    ),
    "k_index": Dimension(
        "K index", ("outing__k_index",), lambda k_index: conditions.geomagnetic(k_index) or NOTHING,
        lambda k_index: conditions.geomagnetic(k_index) or "no K index noted",
        where_word("outing__k_index", conditions.geomagnetic),
    ),
}
