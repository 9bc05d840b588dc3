"""Is this kit good for these bands: what resonates, what arrives, how long it lasts, what is weakest or missing."""

from dataclasses import dataclass

from equipment import bands as band_table
from equipment.models import Arrangement, Feedline, Item, PowerSetting
from equipment.numerals import Numeral
from equipment.physics import feedline, reflection, taps, whip
from equipment.templatetags.bench import quantity, spread
from equipment.templatetags.units import NBSP

from .bench.feedlines import TYPE_ERROR
from .bench.lasting import KitLasting
from .coils import THICKNESS_M
from .kits import SECTIONS, KitWeight, PackingLine, kit_weight, packing_list
from .resonance import NO, TUNER, UNKNOWN, KitBand, OnBand, kit_bands
from .sweeps import FEEDPOINT

MODELLED_SWR = (1.0, 2.0)  # of an antenna that should resonate and was not swept. Common practice, no source.
WORTH_NAMING_DB = 1.0  # a loss that is the weakest link


@dataclass(frozen=True)
class Arriving:
    """Power that arrives at the feedpoint, as a range, with the loss and how it is known; `why_not` in its place."""

    low_w: float | None = None
    high_w: float | None = None
    loss_db: float | None = None
    how: str = ""
    why_not: str = ""


@dataclass(frozen=True)
class BandCheck:
    """One wanted band: what to put up for it, what arrives there, and what a short whip loses in coil and ground."""

    band: str
    row: OnBand | None
    arriving: Arriving
    whip_db: tuple[float, float] | None = None

    @property
    def works(self):
        return self.row is not None and self.row.resonance.verdict not in (NO, UNKNOWN)


@dataclass(frozen=True)
class KitCheck:
    """The whole check; `mark` and `word` sum it up."""

    sentence: str
    mark: str
    word: str
    bands: tuple[BandCheck, ...]
    setting: PowerSetting | None
    energy: KitLasting | None
    weight: KitWeight
    weakest: str
    missing: tuple[str, ...]

    @property
    def draw(self):
        """The mean current as a Figure; None where it is not known."""
        return self.energy_figure("Mean current")

    @property
    def lasts(self):
        """How long it lasts, as a Figure; None where it is not known."""
        return self.energy_figure("Lasts")

    def energy_figure(self, what):
        answer = self.energy and self.energy.answer
        return next((one for one in answer.figures if one.what == what), None) if answer else None


def kit_check(kit, *, bands=None, found=None, lines=None, energy=None, window=True):
    """Check a kit on bands (all that it is set for where none are named). At most three queries beside what is given.

    found: its KitBands, lines: its packing list; read here where they are not given. energy: its KitLasting, None where
    nothing is to be said about it; window: whether the energy is for a window, so that it can fall short.
    """
    found = kit_bands(kit, bands) if found is None else found
    lines = packing_list(kit) if lines is None else lines
    settings = PowerSetting.objects.filter(radio__kit_lines__kit=kit).select_related("radio")
    setting = settings.order_by("-output_w", "id").first()
    ids = {row.settings.arrangement_id for line in found for row in line.rows}
    arrangements = Arrangement.objects.select_related("feedline").in_bulk(ids)
    in_kit = list(Feedline.objects.filter(kit_lines__kit=kit))
    checks = tuple(band_check(line, arrangements, in_kit, setting) for line in found)
    missing = tuple(missing_things(lines, checks, arrangements, in_kit, setting))
    weakest = weakest_link(checks, energy, window, missing)
    mark, word = summary(checks, energy, window, missing)
    said = sentence(checks, energy, window, weakest)
    return KitCheck(said, mark, word, checks, setting, energy, kit_weight(lines), weakest, missing)


def band_check(line: KitBand, arrangements, in_kit, setting):
    """What to put up for a band, or what there is where nothing serves it."""
    row = line.best or (line.rows[0] if line.rows else None)
    if row is None:
        return BandCheck(line.band, None, Arriving(why_not="nothing is set for it"))
    arrangement = arrangements[row.settings.arrangement_id]
    return BandCheck(
        line.band, row, arriving(row, arrangement, in_kit, setting), whip_loss_db(row, arrangement, line.band)
    )


def arriving(row, arrangement, in_kit, setting):
    """Power through the arrangement's line, or through the only one of the kit."""
    if setting is None:
        return Arriving(why_not="no power setting is noted")
    line = arrangement.feedline or (in_kit[0] if len(in_kit) == 1 else None)
    if line is None:
        return Arriving(why_not="no feedline is in the kit" if not in_kit else "which feedline is not noted")
    if band_table.named(row.resonance.band) is None:
        return Arriving(why_not=row.resonance.why)
    kind = feedline.line_type(line.line_type)
    if kind is None or not line.length_m:
        return Arriving(why_not=f"type or length of {line} is not known")
    matched = feedline.matched_loss_db(kind, middle(row.resonance.band), line.length_m)
    swr, how = swr_range(row.resonance, matched)
    if swr is None:
        return Arriving(why_not=how)
    best, worst = (
        feedline.loss(matched * (1 + sign * TYPE_ERROR), reflection.magnitude_of_swr(value)).total_db
        for sign, value in ((-1, swr[0]), (1, swr[1]))
    )
    return Arriving(
        feedline.delivered_w(setting.output_w, worst), feedline.delivered_w(setting.output_w, best),
        (best + worst) / 2, f"{line}, {how}",
    )


def swr_range(resonance, matched_db):
    """(lowest, highest) SWR at the feedpoint and how it is known; (None, why not) where it is not."""
    if resonance.is_measured and resonance.lowest_swr:
        swr = resonance.lowest_swr
        if resonance.plane != FEEDPOINT:
            swr = feedline.swr_at_antenna(swr, matched_db)
            if swr is None:
                return None, "the SWR that was swept does not fit this line"
        tuner = "; the tuner taken to be at the radio" if resonance.verdict == TUNER else ""
        return (swr, swr), f"SWR {Numeral(swr):.2g}, measured{tuner}"
    if resonance.verdict == TUNER:
        return None, "its SWR was not swept, and the tuner hides it"
    if resonance.verdict in (NO, UNKNOWN):
        return None, "its SWR was not swept"
    return MODELLED_SWR, f"SWR {Numeral(MODELLED_SWR[0]):g} to {Numeral(MODELLED_SWR[1]):g} taken, not swept"


def whip_loss_db(row, arrangement, band):
    """What a whip with a base coil loses in coil and ground, dB (least, most); None for other antennas."""
    length = row.settings.element_length_m
    upright = arrangement.orientation in ("", Arrangement.Orientation.VERTICAL)
    if not (arrangement.coil and length and upright and band_table.named(band)):
        return None
    radius = (arrangement.element_thickness_m or THICKNESS_M) / 2
    try:
        if taps.need(length, radius, *band_table.edges(band)).verdict != "coil":
            return None
        worst, best = whip.efficiency_range_db(length, radius, middle(band))
    except ValueError:  # outside the formulas
        return None
    return -best, -worst


def middle(band):
    """The middle of a band, Hz."""
    return sum(band_table.edges(band)) / 2


def missing_things(lines: list[PackingLine], checks, arrangements, in_kit, setting):
    """What the kit lacks for these bands, as sentences without a full stop."""
    sections = {line.section for line in lines}
    if SECTIONS[Item.Kind.RADIO] not in sections:
        yield "a radio"
    elif setting is None:
        yield "power and current of the radio, measured"
    if SECTIONS[Item.Kind.PACK] not in sections and not has_source(lines):
        yield "a battery pack, or another source"
    if not arrangements:
        yield "an arrangement that is set for one of these bands"
    for check in checks:
        if check.row is None:
            yield f"an antenna for {check.band}"
        elif check.row.resonance.verdict == UNKNOWN:
            yield f"a sweep of {check.row.settings.arrangement} on {check.band}"
    carried = {line.pk for line in in_kit}
    noted = {one.feedline for one in arrangements.values() if one.feedline and one.feedline_id not in carried}
    for line in sorted(noted, key=str):
        yield f"{line}, which an arrangement is used with"
    if arrangements and not in_kit and not noted:
        yield "a feedline"
    accessories = [line.text for line in lines if line.section == SECTIONS[Item.Kind.ACCESSORY]]
    through = [one.band for one in checks if one.row and one.row.resonance.verdict == TUNER]
    if through and not any("tuner" in text.casefold() for text in accessories):
        yield f"a tuner for {', '.join(through)}, unless the radio has one"
    for line in lines:
        if line.is_retired:
            yield f"another {line.text}: it is retired"


def has_source(lines):
    """Whether an accessory of the kit is a source of power."""
    ids = [line.item_id for line in lines if line.section == SECTIONS[Item.Kind.ACCESSORY]]
    return bool(ids) and Item.objects.filter(pk__in=ids).exclude(accessory__source="").exists()


def energy_word(energy, window):
    """yes, maybe or no for the window; empty where nothing is known or no window is meant."""
    return energy.answer.word if window and energy and energy.answer else ""


def weakest_link(checks, energy, window, missing):
    """What would break first, in words."""
    lost = [one.band for one in checks if one.row is None or one.row.resonance.verdict == NO]
    if lost:
        return f"nothing in it resonates on {', '.join(lost)}"
    if "a radio" in missing or "a battery pack, or another source" in missing:
        return f"it lacks {missing[0]}"
    if energy_word(energy, window) == "no":
        return "the energy does not last through the window"
    losses = [(sum(one.whip_db) / 2, whip_words(one)) for one in checks if one.whip_db]
    losses += [(one.arriving.loss_db, line_words(one)) for one in checks if one.arriving.loss_db]
    if losses and max(losses)[0] >= WORTH_NAMING_DB:
        return max(losses)[1]
    if energy_word(energy, window) == "maybe":
        return "the energy may not last through the window"
    unknown = [one.band for one in checks if one.row.resonance.verdict == UNKNOWN]
    if unknown:
        return f"whether it resonates on {', '.join(unknown)} is not known"
    return f"none stands out: {max(losses)[1]}" if losses else "none stands out"


def whip_words(check):
    """What a whip loses, in words."""
    low, high = check.whip_db
    return f"“{check.row.settings.arrangement}” on {check.band} loses {spread(low, high, 'decibel')} in coil and ground"


def line_words(check):
    """What a line loses, in words."""
    return f"the feedline loses {Numeral(check.arriving.loss_db):.1f}{NBSP}dB on {check.band}"


def summary(checks, energy, window, missing):
    """Mark and word for the whole kit."""
    word = energy_word(energy, window)
    if not checks or word == "no" or any(one.row is None or verdict(one) == NO for one in checks):
        return "bad", "not ready"
    if missing or word == "maybe" or not all(one.works for one in checks):
        return "warn", "look again"
    return "good", "ready"


def verdict(check):
    return check.row.resonance.verdict


def sentence(checks, energy, window, weakest):
    """The plain sentence."""
    works = [one.band for one in checks if one.works and verdict(one) != TUNER]
    tuner = [one.band for one in checks if one.works and verdict(one) == TUNER]
    unknown = [one.band for one in checks if one.row and verdict(one) == UNKNOWN]
    said = []
    if works:
        said.append(f"it resonates on {listed(works)}")
    if tuner:
        said.append(f"it goes through the tuner on {listed(tuner)}")
    if unknown:
        said.append(f"of {listed(unknown)} it is not known")
    if energy and energy.answer:
        lasts = next(one for one in energy.answer.figures if one.what == "Lasts")
        short = {"no": ", too short for the window", "maybe": ", perhaps too short"}
        said.append(
            f"it lasts {spread(lasts.low, lasts.high, 'duration')}{short.get(energy_word(energy, window), '')}"
        )
    text = "; ".join(said) or "nothing in it is set for these bands"
    return f"{text[:1].upper()}{text[1:]}. Weakest link: {weakest}."


def listed(words):
    """40m, 20m and 15m."""
    return words[0] if len(words) == 1 else f"{', '.join(words[:-1])} and {words[-1]}"


def power_words(check):
    """What arrives at the antenna on a band, as a cell."""
    one = check.arriving
    if one.low_w is None:
        return f"not known: {one.why_not}"
    return spread(one.low_w, one.high_w, "power")


def at_the_radio(check):
    """The power that was reckoned with, in words; empty without a setting."""
    setting = check.setting
    return f"{quantity(setting.output_w, 'power')}, {setting} of {setting.radio}" if setting else ""
