"""What the bench says about a whip: the coil it needs on a band, its turns, losses and efficiency, and its voltage."""

import math
from dataclasses import dataclass

from equipment import bands as band_table
from equipment.numerals import Numeral
from equipment.physics import coil as coils
from equipment.physics import taps, whip
from equipment.physics.waves import wavelength_m
from equipment.queries.calibration import OWN, fit
from equipment.templatetags.bench import quantity, spread
from equipment.templatetags.units import NBSP, significant, wire_length
from equipment.units import METRIC

from .answers import Answer, Caution, Figure, Ground, Table
from .comparing import comparison_answer, off_words

RADIATION_ERROR = 0.06  # of the fitted resistance, for whips of 1 to 12 mm against NEC-2
RESONANCE_ERROR = 0.01  # of a whip's own resonance against NEC-2
TABLE_BANDS = ("160m", "80m", "60m", "40m", "30m", "20m", "17m", "15m", "12m", "10m", "6m")

WHIP_CAUTION = Caution("While transmitting", (
    "Whip and coil carry hundreds to thousands of volts, at the tip most: a touch burns. Keep people well away.",
    "Keep the whip so far from power lines that it cannot touch or come near them, even when it falls.",
    "Mark the tip at the height of eyes, and take the whip down when a thunderstorm is near.",
))
SOURCES = (
    "Reactance: induced-EMF method with sinusoidal current, C. A. Balanis, Antenna Theory, section 8.5; within 3 % or "
    "3 Ω of NEC-2 on perfect ground for whips of 1 to 12 mm.",
    "Coil part way up: J. Hall, off-centre-loaded dipoles, 1974 (from memory), brought to what NEC-2 finds for coils "
    "at 0.3 to 0.8 of whips up to 0.135 wavelengths.",
    "Radiation resistance: 40 tan²(kh/2) [0.92 + 0.08 (4h/λ)²], a fit to NEC-2, within 6 % up to a quarter-wave.",
    "Coil: R. Lundin, Proc. IEEE 73 (1985) 1428; real coils of round wire differ from it by a few per cent.",
    "Q of 100 to 300 and 5 to 40 Ω of ground loss: common practice, no source.",
)
DOUBTS = (
    "A whip over real ground with few radials is moved by what is below it: find the tap with an analyser.",
    "The unused turns above a tap still couple, and near its self-resonance a coil seems larger: the formula is for "
    "frequencies below a third of that.",
    "Higher up a coil needs about twice the inductance, and loses less: say where it sits.",
    "A very low SWR on a short whip means loss, not success.",
)


@dataclass(frozen=True)
class Winding:
    """A coil by its measures; turns may be None where only its pitch is known."""

    diameter_m: float
    pitch_m: float
    turns: float

    @property
    def whole_h(self):
        return coils.inductance_h(self.diameter_m, self.pitch_m * self.turns, self.turns)

    def turns_for(self, inductance_h):
        """Turns from the end to a tap; None where the coil is too small."""
        if inductance_h > self.whole_h:
            return None
        return coils.turns_for(self.diameter_m, self.pitch_m, inductance_h, most_turns=self.turns)


@dataclass(frozen=True)
class Losses:
    """What is known of the losses: pairs (lowest, highest) of Q and of ground resistance."""

    q: tuple[float, float]
    ground_ohm: tuple[float, float]


@dataclass(frozen=True)
class Loading:
    """A coil that a whip needs, with its range, where it sits, and the radiation resistance (lowest, best, highest).

    `loss_share` and `current_share` are what the coil's loss and the current in it count, seen from the base.
    """

    low_h: float
    inductance_h: float
    high_h: float
    radiation: tuple[float, float, float]
    place: str = "at its base"
    loss_share: float = 1.0
    current_share: float = 1.0

    def coil_ohm(self, frequency_hz, q):
        """What the coil loses, seen from the base, for a pair of Q: (lowest, highest)."""
        reactance = 2 * math.pi * frequency_hz * self.inductance_h
        return tuple(self.loss_share * reactance / each for each in reversed(q))


def at_base(need, whip_m, frequency_hz):
    """The Loading of a coil at the base."""
    return Loading(need.low_h, need.inductance_h, need.high_h, radiated(whip.resistance_ohm(whip_m, frequency_hz)))


def raised(whip_m, radius, frequency_hz, height_share):
    """The Loading of a coil part way up; ValueError where the formula does not reach."""
    found = whip.raised_coil_range(whip_m, radius, frequency_hz, height_share)
    return Loading(
        found.low_h, found.inductance_h, found.high_h, (found.low_ohm, found.radiation_ohm, found.high_ohm),
        f"at {100 * height_share:.0f}{NBSP}% of its height", found.loss_share,
        math.cos(2 * math.pi * height_share * whip_m / wavelength_m(frequency_hz)),
    )


def radiated(ohm):
    """A radiation resistance by the fit, with its error: (lowest, best, highest)."""
    return ohm * (1 - RADIATION_ERROR), ohm, ohm * (1 + RADIATION_ERROR)


def whip_answers(*, band, whip_m, thickness_m, units=METRIC, coil_diameter_m=None, coil_length_m=None, coil_turns=None,
                 q=None, ground_ohm=None, measured_ohm=None, watts=None, height_percent=None, compared=(), **rest):
    """Answers to: which coil does this whip need? compared: what sweeps of its arrangement say of the model."""
    radius = thickness_m / 2
    known = fit([row for row in compared if row.model == OWN])
    reckoned_m = whip_m / known.ratio if known else whip_m
    stretch = known.ratio if known else 1.0
    winding = winding_of(coil_diameter_m, coil_length_m, coil_turns)
    losses = Losses(
        whip.COIL_Q if q is None else (q, q), whip.GROUND_OHM if ground_ohm is None else (ground_ohm, ground_ohm)
    )
    taps.check_radius(radius)
    common = {
        "computed_from": (
            *grounds(whip_m, thickness_m, winding, losses, units), *calibrated(known, reckoned_m, units),
        ),
        "sources": SOURCES, "doubts": DOUBTS, "cautions": (WHIP_CAUTION,),
        "tables": (table_of_bands(reckoned_m, radius, winding, losses, units, stretch),),
    }
    low, high = band_table.edges(band)
    need = taps.need(reckoned_m, radius, low, high)
    title = f"{wire_length(whip_m, units)} on {band}"
    if need.verdict == "shorter":
        found = no_coil_helps(title, band, need, reckoned_m, radius, units, common, stretch)
    elif need.verdict == "none":
        found = none_needed(title, band, whip_m, reckoned_m, radius, losses, units, common)
    else:
        at = (low + high) / 2
        load = raised(reckoned_m, radius, at, height_percent / 100) if height_percent else at_base(need, reckoned_m, at)
        found = coil_needed(title, band, load, reckoned_m, winding, losses, measured_ohm, watts, common)
    return (found, *comparison_answer(compared, units))


def winding_of(diameter_m, length_m, turns):
    """The coil that was typed or chosen; None where it is not known. ValueError where only a part of it is."""
    known = [value for value in (diameter_m, length_m, turns) if value]
    if not known:
        return None
    if len(known) < 3:
        raise ValueError("a coil needs its diameter, the length of its winding and its turns")
    return Winding(diameter_m, length_m / turns, turns)


def grounds(whip_m, thickness_m, winding, losses, units):
    """What was computed with, in words."""
    yield Ground(f"Whip of {wire_length(whip_m, units)}, {quantity(thickness_m, 'thickness', units)} thick")
    if winding:
        yield Ground(
            f"Coil of {significant(winding.turns)} turns, {quantity(winding.diameter_m, 'thickness', units)} to the "
            f"middle of the wire, {quantity(winding.pitch_m, 'thickness', units)} from turn to turn: "
            f"{quantity(winding.whole_h, 'inductance')} ± {100 * taps.COIL_SPREAD:.0f} % in all"
        )
    yield Ground("Q of " + between(losses.q, "") + ", ground loss of " + between(losses.ground_ohm, f"{NBSP}Ω"))


def between(pair, unit):
    """A pair (lowest, highest) as words; one number where both are the same."""
    low, high = (f"{Numeral(value):g}" for value in pair)
    return f"{low}{unit}" if low == high else f"{low} to {high}{unit}"


def calibrated(known, reckoned_m, units):
    """That the whip was reckoned with as its own sweeps say, in words; nothing without sweeps of it by itself."""
    if known:
        yield Ground(
            f"Reckoned as a whip of {wire_length(reckoned_m, units)}: its sweeps found its own resonance "
            f"{off_words(known.off_percent)} the model’s, n = {known.n}"
        )


def no_coil_helps(title, band, need, whip_m, radius, units, common, stretch):
    """The whip is longer than a quarter-wave: shorten it."""
    own = whip.no_coil_hz(whip_m, radius)
    return Answer(
        title=title, mark="bad", word="no coil helps",
        sentence=f"No coil can bring this whip to resonance on {band}: it is longer than a quarter-wave there. "
        f"Shorten it to about {wire_length(need.fitting_m * stretch, units)}, then it needs none.",
        reasons=(
            f"By itself it resonates at {quantity(own, 'frequency')}; from there to its half-wave, near twice that, it "
            "is inductive, and a coil makes it worse. Beyond, it is no load for 50 Ω either.",
        ),
        figures=(shortened(need, stretch),), **common,
    )


def shortened(need, stretch):
    """How long the whip would have to be, by its own resonance within 1 %."""
    length = need.fitting_m * stretch
    return Figure(
        "Shorten to", length, "length", length * (1 - RESONANCE_ERROR), length * (1 + RESONANCE_ERROR), "to trim"
    )


def none_needed(title, band, whip_m, reckoned_m, radius, losses, units, common):
    """The whip resonates on the band by itself."""
    own = whip.no_coil_hz(reckoned_m, radius)
    low, high = band_table.edges(band)
    radiation = radiated(whip.resistance_ohm(reckoned_m, min(max(own, low), high)))
    worst, best = ends_db(radiation, (0.0, 0.0), losses.ground_ohm)
    return Answer(
        title=title, mark="good", word="no coil",
        sentence=f"It needs no coil on {band}: a whip of {wire_length(whip_m, units)} resonates by itself at "
        f"{quantity(own, 'frequency')}.",
        figures=(
            Figure("Resonates at", own, "frequency", own * (1 - RESONANCE_ERROR), own * (1 + RESONANCE_ERROR)),
            Figure("Efficiency", (worst + best) / 2, "decibel", worst, best, "of ground loss"),
            feed_figure(radiation, (0.0, 0.0), losses.ground_ohm),
        ), **common,
    )


def coil_needed(title, band, load, whip_m, winding, losses, measured_ohm, watts, common):
    """The coil, its turns, and what is lost."""
    at = sum(band_table.edges(band)) / 2
    coil_ohm = load.coil_ohm(at, losses.q)
    figures = [Figure("Coil", load.inductance_h, "inductance", load.low_h, load.high_h, load.place)]
    reasons = []
    sentence = f"On {band} it needs a coil of {spread(load.low_h, load.high_h, 'inductance')} {load.place}"
    if winding:
        found = turns_range(winding, load)
        if found is None:
            sentence += ", more than this coil has"
            reasons.append(
                f"The whole coil has {quantity(winding.whole_h, 'inductance')}: wind more turns, or lengthen the whip."
            )
        else:
            turns, fewest, most = found
            figures.append(Figure("Turns in use", turns, "number", fewest, most))
            sentence += f": use {significant(fewest, 2)} to {significant(most, 2)} turns of this one"
    if measured_ohm:
        lost_ohm, figure = measured_efficiency(measured_ohm, load.radiation)
        reasons.append(
            f"Measured {quantity(measured_ohm, 'resistance')} at resonance: {quantity(lost_ohm, 'resistance')} of it "
            "are losses in coil and ground."
        )
        feed = (measured_ohm, measured_ohm)
    else:
        worst, best = ends_db(load.radiation, coil_ohm, losses.ground_ohm)
        figure = Figure("Efficiency", (worst + best) / 2, "decibel", worst, best, "over Q and ground")
        pairs = zip(coil_ohm, losses.ground_ohm, strict=True)
        feed = tuple(load.radiation[1] + coil + ground for coil, ground in pairs)
        figures.append(feed_figure(load.radiation, coil_ohm, losses.ground_ohm))
    figures.insert(2 if winding and len(figures) > 1 else 1, figure)
    if watts:
        ohms = [2 * math.pi * at * h * load.current_share for h in (load.low_h, load.high_h)]
        volts = sorted(math.sqrt(watts / ohm) * each for ohm in feed for each in ohms)
        figures.append(Figure(
            "Voltage over the coil", (volts[0] + volts[-1]) / 2, "voltage", volts[0], volts[-1],
            f"at {quantity(watts, 'power')}",
        ))
    return Answer(
        title=title, sentence=f"{sentence}, and {lost_words(figure)}.", reasons=tuple(reasons),
        figures=tuple(figures), **common,
    )


def turns_range(winding, need):
    """Turns for the coil that is needed: (best, fewest, most); None where the coil is too small."""
    best = winding.turns_for(need.inductance_h)
    if best is None:
        return None
    fewest = winding.turns_for(need.low_h * (1 - taps.COIL_SPREAD))
    most = winding.turns_for(need.high_h * (1 + taps.COIL_SPREAD))
    return best, fewest, winding.turns if most is None else most


def ends_db(radiation, coil_ohm, ground_ohm):
    """Worst and best efficiency in dB, over pairs (lowest, highest) of losses and the radiation's own error."""
    worst, _, best = radiation
    return (
        10 * math.log10(worst / (worst + max(coil_ohm) + max(ground_ohm))),
        10 * math.log10(best / (best + min(coil_ohm) + min(ground_ohm))),
    )


def measured_efficiency(measured_ohm, radiation):
    """Losses and efficiency from the resistance that was measured at resonance: (ohm, Figure).

    ValueError where less was measured than radiates: then it was not measured at this feedpoint.
    """
    if measured_ohm < radiation[1]:
        raise ValueError("measured below the radiation resistance: not at this feedpoint, or through a transformer")
    ends = [10 * math.log10(min(1.0, ohm / measured_ohm)) for ohm in radiation]
    figure = Figure("Efficiency", ends[1], "decibel", ends[0], ends[2], "from what was measured")
    return measured_ohm - radiation[1], figure


def feed_figure(radiation, coil_ohm, ground_ohm):
    """What the feedpoint shows at resonance."""
    low = radiation[0] + min(coil_ohm) + min(ground_ohm)
    high = radiation[2] + max(coil_ohm) + max(ground_ohm)
    return Figure("Feedpoint at resonance", (low + high) / 2, "resistance", low, high)


def lost_words(figure):
    """An efficiency as one says it: the share that is radiated, to two digits."""
    low, high = (significant(100 * 10 ** (db / 10), 2) for db in (figure.low, figure.high))
    share = high if low == high else f"{low} to {high}"
    return f"{share}{NBSP}% of the power are radiated"


def table_of_bands(whip_m, radius, winding, losses, units, stretch):
    """What this whip needs on each band."""
    rows = []
    for name in TABLE_BANDS:
        low, high = band_table.edges(name)
        need = taps.need(whip_m, radius, low, high)
        at = (low + high) / 2
        if need.verdict == "shorter":
            rows.append((name, f"none helps: shorten to {wire_length(need.fitting_m * stretch, units)}", "–", "–"))
            continue
        radiation = radiated(whip.resistance_ohm(whip_m, at))
        if need.verdict == "none":
            worst, best = ends_db(radiation, (0.0, 0.0), losses.ground_ohm)
            rows.append((name, "none needed", "–", spread(worst, best, "decibel")))
            continue
        worst, best = ends_db(radiation, at_base(need, whip_m, at).coil_ohm(at, losses.q), losses.ground_ohm)
        rows.append((
            name, spread(need.low_h, need.high_h, "inductance"), tap_words(winding, need),
            spread(worst, best, "decibel"),
        ))
    return Table(
        "What this whip needs on each band, with the coil at its base", ("Band", "Coil", "Turns", "Efficiency"),
        tuple(rows),
    )


def tap_words(winding, need):
    """The tap of a coil, as a cell."""
    if winding is None:
        return "–"
    found = turns_range(winding, need)
    return "coil too small" if found is None else f"{significant(found[1], 2)} to {significant(found[2], 2)}"
