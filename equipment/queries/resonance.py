"""Which arrangement resonates on which band: by its newest sweep, else by a model, else not known."""

import datetime
from dataclasses import dataclass, replace

from equipment import bands as band_table
from equipment.models import Arrangement, BandSetting, Coil, Sweep
from equipment.numerals import Numeral
from equipment.physics import resonance as models
from equipment.physics import sweep as sweeps
from equipment.physics import taps

from .coils import THICKNESS_M, found_hz, tap_states
from .kits import BandSettings, as_set, settings_by_band
from .sweeps import FEEDPOINT, curves_of, with_gear

MEASURED, MODEL, UNKNOWN = "measured", "model", "not known"
RESONATES, PART, TUNER = "resonates", "resonates on a part", "through the tuner"
NO = "does not resonate"
USABLE_SWR = 2.0
END_FED_RATIO = 25.0  # 49:1 and above are for half-waves fed at the end, 9:1 for wires that do not resonate
AROUND = 0.25  # how far beyond a band a sweep is searched for the resonance that missed it


@dataclass(frozen=True)
class Resonance:
    """What is known of an arrangement on one band.

    `source` is MEASURED, MODEL or UNKNOWN. `fits` says whether the band can be used without a tuner: measured, where
    the SWR is 2 or less somewhere in it; by the model, where its resonance may lie in it; None where nothing is known.
    `needs_tuner` is what the operator noted, `why` a sentence on where the answer comes from.
    """

    arrangement_id: int
    band: str
    source: str
    fits: bool | None
    why: str
    needs_tuner: bool = False
    is_set: bool = True  # the operator noted a setting for this band
    # measured
    sweep_id: int | None = None
    taken_at: datetime.datetime | None = None
    plane: str = ""
    points: int = 0
    lowest_swr: float | None = None
    lowest_hz: float | None = None
    lowest_ohm: complex | None = None
    usable_hz: tuple[tuple[float, float], ...] = ()
    is_whole: bool = False  # usable on all of the band
    is_swept_whole: bool = False
    # measured: where X passes zero next to the band; by the model: the middle of its range
    resonance_hz: float | None = None
    resonance_range_hz: tuple[float, float] | None = None

    @property
    def is_measured(self):
        return self.source == MEASURED

    @property
    def usable_width_hz(self):
        return sum(high - low for low, high in self.usable_hz)

    @property
    def verdict(self):
        """What it comes to: resonates, on all or a part of the band, through the tuner, does not, or not known."""
        if self.fits:
            return PART if self.is_measured and not self.is_whole else RESONATES
        if self.needs_tuner:
            return TUNER
        return NO if self.fits is False else UNKNOWN

    @property
    def rank(self):
        """What is tried first: measured resonances, the widest before, then modelled ones, the tuner, the unknown."""
        kind = 1 - self.is_measured if self.fits else {TUNER: 2, UNKNOWN: 3, NO: 4}[self.verdict]
        return kind, -self.usable_width_hz


@dataclass(frozen=True)
class OnBand:
    """An arrangement of a kit on a band: how it is set for it, and what is known of its resonance."""

    settings: BandSettings
    resonance: Resonance


@dataclass(frozen=True)
class KitBand:
    """A band with the arrangements of a kit that are set for it, or were measured to resonate on it; best first."""

    band: str
    rows: tuple[OnBand, ...]

    @property
    def best(self):
        """The arrangement to put up; None where none is known to serve, with the tuner or without."""
        good = [row for row in self.rows if row.resonance.verdict in (RESONATES, PART, TUNER)]
        return good[0] if good else None


def kit_bands(kit, bands=None):
    """Which arrangements of a kit serve each band (of all that it is set for where none are named): a tuple of KitBand.

    At most eight queries, however many there are.
    """
    cover = settings_by_band(kit, bands)
    arrangements = list(kit.arrangements.in_use().select_related("antenna", "feedline"))
    found = resonances(arrangements, [one.band for one in cover])
    lines = []
    for one in cover:
        rows = [
            OnBand(each, found.get((each.arrangement_id, one.band)) or no_band(each.arrangement_id, one.band))
            for each in one.arrangements
        ]
        for arrangement in arrangements:
            known = found.get((arrangement.pk, one.band))
            if known and not known.is_set and known.is_measured and known.fits:
                rows.append(OnBand(as_set(BandSetting(arrangement=arrangement, band=one.band)), known))
        lines.append(KitBand(one.band, tuple(sorted(rows, key=lambda row: row.resonance.rank))))
    return tuple(lines)


def no_band(arrangement_id, name):
    """What is known of a band by a name that is none, noted long ago or by an import."""
    return Resonance(arrangement_id, name, UNKNOWN, None, "no band of this name is known here")


def resonances(arrangements, bands):
    """What is known of arrangements (a QuerySet or ids) on bands (names): {(arrangement id, band): Resonance}.

    At most six queries, however many there are.
    """
    ids = [getattr(one, "pk", one) for one in arrangements]
    rows = list(
        Arrangement.objects.filter(pk__in=ids).select_related("antenna", "feedline").prefetch_related("band_settings")
    )
    coils = coils_of(rows)
    newest = newest_sweeps(ids, bands)
    found = {}
    for row in rows:
        settings = {setting.band: setting for setting in row.band_settings.all()}
        for name in bands:
            band, setting = band_table.named(name), settings.get(name)
            if band is None:
                continue
            sweep = newest.get((row.pk, name))
            one = measured(row, band, sweep) if sweep else modelled(row, band, setting, coils)
            found[row.pk, name] = replace(
                one, needs_tuner=bool(setting and setting.tuner), is_set=setting is not None
            )
    return found


def newest_sweeps(ids, bands):
    """The newest sweep for each arrangement and band that reaches into it and was set for it, or for any band."""
    wanted, chosen = [band for band in map(band_table.named, bands) if band], {}
    lines = Sweep.objects.filter(arrangement__in=ids).newest_first()
    for pk, arrangement, set_for, low, high in lines.values_list("pk", "arrangement", "band", "low_hz", "high_hz"):
        for band in wanted:
            if set_for in ("", band.name) and low < band.upper_hz and high > band.lower_hz:
                chosen.setdefault((arrangement, band.name), pk)
    rows = with_gear(Sweep.objects).in_bulk(set(chosen.values()))
    return {key: rows[pk] for key, pk in chosen.items()}


def coils_of(arrangements):
    """The coils that arrangements name, with their taps: {(antenna id, name): Coil}."""
    antennas = {row.antenna_id for row in arrangements if row.coil}
    if not antennas:
        return {}
    rows = Coil.objects.filter(antenna__in=antennas).prefetch_related("taps")
    return {(coil.antenna_id, coil.name): coil for coil in rows}


def measured(arrangement, band, sweep):
    """What a sweep says about a band, at the feedpoint where that is known."""
    curve, plane = curve_for(sweep)
    found = sweeps.in_band(curve, band.lower_hz, band.upper_hz, limits=(USABLE_SWR,))
    usable = found.usable[0]
    near = sweeps.cut(curve, band.lower_hz * (1 - AROUND), band.upper_hz * (1 + AROUND))
    middle = (band.lower_hz + band.upper_hz) / 2
    dips = sweeps.resonances(near) if near else ()
    closest = min(dips, key=lambda dip: abs(dip.frequency_hz - middle), default=None)
    where = "at the feedpoint" if plane == FEEDPOINT else "through the feedline"
    return Resonance(
        arrangement.pk, band.name, MEASURED, bool(usable.stretches), f"swept on {sweep.taken_at:%Y-%m-%d}, {where}",
        sweep_id=sweep.pk, taken_at=sweep.taken_at, plane=plane, points=len(curve.frequency_hz),
        lowest_swr=found.lowest.swr, lowest_hz=found.lowest.frequency_hz, lowest_ohm=found.lowest.ohm,
        usable_hz=usable.stretches,
        is_whole=found.is_whole and usable.width_hz >= (band.upper_hz - band.lower_hz) * 0.9999,
        is_swept_whole=found.is_whole, resonance_hz=closest and closest.frequency_hz,
    )


def curve_for(sweep):
    """The curve at the feedpoint and its place; as measured where it cannot be moved there."""
    found, _ = curves_of(sweep)
    plane, _, _, curve = next((one for one in found if one[0] == FEEDPOINT), found[0])
    return curve, plane


def modelled(arrangement, band, setting, coils):
    """What the settings say by physics, marked as a model; not known where they are too few."""
    length_m = setting.element_length_m if setting and setting.element_length_m else arrangement.element_length_m
    nothing = Resonance(arrangement.pk, band.name, UNKNOWN, None, "")
    if not length_m:
        return replace(nothing, why="never swept, and no element length is noted")
    try:
        if arrangement.coil:
            return with_coil(nothing, arrangement, band, length_m, coils)
        return without_coil(nothing, arrangement, band, length_m)
    except ValueError as error:  # outside the formulas
        return replace(nothing, why=f"never swept, and no model holds: {error}")


def without_coil(nothing, arrangement, band, length_m):
    """A quarter-wave, a half-wave, or a half-wave fed at its end, by what is noted of the arrangement."""
    ratio = models.transformer_ratio(arrangement.transformer)
    edges = band.lower_hz, band.upper_hz
    radius = {"radius_m": arrangement.element_thickness_m / 2} if arrangement.element_thickness_m else {}
    Orientation = Arrangement.Orientation
    against_ground = arrangement.radials or arrangement.counterpoise_m is not None
    if ratio and ratio >= END_FED_RATIO:
        return said(nothing, models.end_fed(length_m, *edges), "a half-wave fed at its end", length_m, edges)
    if ratio and ratio > 1.5:
        why = f"never swept, and a wire behind {arrangement.transformer} is not meant to resonate"
        return replace(nothing, why=why)
    if arrangement.orientation in (Orientation.HORIZONTAL, Orientation.INVERTED_V) and not against_ground:
        found = models.half_wave(length_m, *edges, **radius, height_m=flat_height_m(arrangement, band))
        return said(nothing, found, "a half-wave fed in the middle", length_m, edges)
    if arrangement.orientation in (Orientation.VERTICAL, Orientation.SLOPING) and against_ground:
        if arrangement.orientation == Orientation.VERTICAL:
            radius.setdefault("radius_m", THICKNESS_M / 2)
            radius["insulation"] = (1.0, 1.0)
        return said(nothing, models.quarter_wave(length_m, *edges, **radius), "a quarter-wave", length_m, edges)
    return replace(nothing, why="never swept, and how it is fed and put up is not noted well enough for a model")


def flat_height_m(arrangement, band):
    """The height of a level wire where the table of grounds holds; None elsewhere, which takes in all of it."""
    height = arrangement.feedpoint_height_m
    level = arrangement.orientation == Arrangement.Orientation.HORIZONTAL
    return height if level and height and height * band.lower_hz / 299_792_458 >= 0.05 else None


def said(nothing, found, as_what, length_m, edges):
    """A modelled resonance in place of nothing."""
    times = "" if found.multiple == 1 else f", {found.multiple} times over"
    return replace(
        nothing, source=MODEL, fits=found.reaches(*edges), resonance_hz=found.frequency_hz,
        resonance_range_hz=(found.low_hz, found.high_hz), why=f"never swept; by its length as {as_what}{times}",
    )


def with_coil(nothing, arrangement, band, length_m, coils):
    """A whip with a coil: by its tap where one is noted, else what coil it would need."""
    edges = band.lower_hz, band.upper_hz
    coil = coils.get((arrangement.antenna_id, arrangement.coil))
    state = next((one for one in tap_states(arrangement, coil) if one.tap.band == band.name), None) if coil else None
    if state and state.holds:
        at = found_hz(state.tap)
        why = f"never swept; its tap {state.tap} was found with this whip"
        return replace(nothing, source=MODEL, fits=edges[0] <= at <= edges[1], resonance_hz=at, why=why)
    if state and state.landing:
        landing = state.landing
        return replace(
            nothing, source=MODEL, fits=landing.low_hz <= edges[1] and landing.high_hz >= edges[0],
            resonance_hz=landing.frequency_hz, resonance_range_hz=(landing.low_hz, landing.high_hz),
            why=f"never swept; its tap {state.tap} was found with another whip and moves",
        )
    if arrangement.orientation not in ("", Arrangement.Orientation.VERTICAL):
        return replace(nothing, why="never swept, and the model of a coil is for upright whips")
    need = taps.need(length_m, (arrangement.element_thickness_m or THICKNESS_M) / 2, *edges)
    if need.verdict == "none":
        return replace(nothing, source=MODEL, fits=True, why="never swept; by its length it needs no coil here")
    if need.verdict == "shorter":
        why = f"never swept; too long for this band, no coil can help: {Numeral(need.fitting_m):.2f} m would need none"
        return replace(nothing, source=MODEL, fits=False, why=why)
    why = (
        f"never swept; it needs {Numeral(need.low_h * 1e6):.3g} to {Numeral(need.high_h * 1e6):.3g} µH at its base, "
        "and no tap says that its coil gives that"
    )
    return replace(nothing, why=why)
