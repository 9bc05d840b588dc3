"""What the bench says about wires: half- and quarter-waves, end-fed half-waves, long wires clear of half-waves."""

from equipment import bands as band_table
from equipment.numerals import Numeral
from equipment.physics import lengths
from equipment.physics.waves import lowest_lobe_deg, wavelength_m
from equipment.templatetags.bench import quantity
from equipment.templatetags.units import NBSP, frequency, significant, wire_length
from equipment.units import METRIC

from .answers import Answer, Caution, Ground, Picture, Table, refused
from .comparing import comparison_answer

# Relative permittivity from lowest to highest. From memory of data sheets; the maker's data decide.
INSULATIONS = {
    "PVC": (2.7, 4.0), "polyethylene": (2.25, 2.3), "PTFE": (2.05, 2.1), "silicone": (2.8, 3.5),
}
MARGIN = 0.1  # half-waves
ON_A_HALF_WAVE = 0.05  # half-waves between a wire and a multiple that it is still used on, with a tuner
MEASURE = "Resonance of the finished antenna is measured, not computed: sweep it, then trim or fold."
WIRE_CAUTION = Caution("Where the wire goes", (
    "Keep it so far from power lines that nothing can touch or come near them, even when it falls or a line is thrown.",
    "Ends of a wire carry hundreds to thousands of volts while transmitting: keep people and leaves off them.",
    "Take it down when a thunderstorm is near.",
))


def wire_answers(*, bands, units=METRIC, arrangement=None, wire_m=None, insulation="", outer_m=None, velocity=None,
                 height_m=None, shortest_m=None, longest_m=None, compared=(), **rest):
    """Answers to: how long must the wire be?"""
    chosen = {name: band_table.edges(name) for name in sorted(bands, key=band_table.position)}
    ratios = {name: insulation_of(middle(at), wire_m, insulation, outer_m, velocity) for name, at in chosen.items()}
    common = {"computed_from": tuple(wire_grounds(wire_m, insulation, outer_m, velocity, height_m, units))}
    yield half_waves(chosen, ratios, wire_m / 2, height_m, units, common)
    yield end_fed(chosen, ratios, units, common)
    yield long_wires(chosen, ratios, shortest_m, longest_m, arrangement, units, common)
    yield from comparison_answer(compared, units)


def middle(band):
    """The middle of a band given by its edges."""
    return sum(band) / 2


def insulation_of(frequency_hz, wire_m, insulation, outer_m, velocity):
    """Smallest and largest ratio of resonant lengths, insulated to bare."""
    if velocity is not None:
        return velocity, velocity
    if insulation not in INSULATIONS:
        return 1.0, 1.0
    if outer_m is None:
        raise ValueError("the insulation needs the diameter of the wire with it")
    half_length = wavelength_m(frequency_hz) / 4
    low, high = (
        lengths.insulation_ratio(half_length, wire_m / 2, outer_m / 2, permittivity)
        for permittivity in reversed(INSULATIONS[insulation])
    )
    return low, high


def wire_grounds(wire_m, insulation, outer_m, velocity, height_m, units):
    """What was computed with, in words."""
    yield Ground(f"Wire of {quantity(wire_m, 'thickness', units)}")
    if velocity is not None:
        yield Ground(f"Velocity factor {Numeral(velocity):g} of the insulated wire, as typed")
    elif insulation in INSULATIONS:
        low, high = INSULATIONS[insulation]
        yield Ground(
            f"{insulation} to {quantity(outer_m, 'thickness', units)}, relative permittivity {Numeral(low):g} to "
            f"{Numeral(high):g} (from memory of data sheets; the maker’s data decide)"
        )
    else:
        yield Ground("Bare wire")
    if height_m is None:
        yield Ground(f"Height not known: the range is that of all heights from {Numeral(0.05)} wavelengths up")
    else:
        yield Ground(f"{wire_length(height_m, units)} above ground, dry to sea water")


def half_waves(chosen, ratios, radius_m, height_m, units, common):
    """Half- and quarter-waves of each band."""
    rows, refusals = [], []
    for name, band in chosen.items():
        at = middle(band)
        rule = wire_length(lengths.half_wave_m(at), units)
        try:
            half = cut(*lengths.half_wave_range_m(at, radius_m, ratios[name], height_m), units)
            quarter = cut(*lengths.quarter_wave_range_m(at, radius_m, ratios[name]), units)
        except ValueError as error:
            refusals.append(f"{name}: {error}.")
            half = quarter = "–"
        rows.append((name, frequency(at), rule, half, quarter))
    first = next((row for row in rows if row[3] != "–"), None)
    if first is None:
        return refused(" ".join(refusals), title="Half- and quarter-waves")
    tables = [Table("Resonant lengths of each band, tip to tip", (
        "Band", "Middle", "Half-wave by 468/f", "Half-wave resonates at", "Quarter-wave resonates at",
    ), tuple(rows))]
    if height_m is not None:
        tables.append(Table(f"A horizontal wire {wire_length(height_m, units)} high", (
            "Band", "Height in wavelengths", "Lowest lobe above the horizon",
        ), tuple((name, *height_words(middle(band), height_m)) for name, band in chosen.items())))
    return Answer(
        title="Half- and quarter-waves",
        sentence=f"Cut a half-wave for {first[0]} to the longer end of {first[3]}, a quarter-wave to that of "
        f"{first[4]}, then trim or fold back.",
        reasons=tuple(refusals),
        tables=tuple(tables),
        sources=(
            "Rule of thumb of the handbooks: 468/f ft (142.6/f m) for a half-wave, half of it for a quarter, f in MHz.",
            "Free space and ground: tables made with NEC-2 (Sommerfeld; dry, average and wet ground, sea water).",
            "Insulation as added series inductance: B. D. Popović and A. Nešić, IEE Proc. H 131 (1984).",
            "Lowest lobe: image theory over perfect ground, arcsin(λ/4H).",
        ),
        doubts=(
            MEASURE,
            "For a straight horizontal wire. Drooping or folded ends, a mast of metal and wet leaves move it by some "
            "per cent more.",
            "A quarter-wave holds over many radials; few of them, or elevated ones, move it.",
            "Real ground moves the lowest lobe by a few degrees.",
        ),
        cautions=(WIRE_CAUTION,),
        **common,
    )


def height_words(frequency_hz, height_m):
    """Height in wavelengths and the lowest lobe, as cells."""
    share = height_m / wavelength_m(frequency_hz)
    lobe = lowest_lobe_deg(share) if share > 0 else 90
    return f"{significant(share, 2)}{NBSP}λ", "straight up" if lobe >= 90 else f"about {lobe:.0f}°"


def end_fed(chosen, ratios, units, common):
    """End-fed half-waves of each band, and the other bands that each serves."""
    rows = []
    for name, band in chosen.items():
        low, high = lengths.end_fed_range_m(middle(band), ratios[name])
        bare_m = (low + high) / sum(ratios[name])
        also = [other for other, at in chosen.items() if other != name and serves(bare_m, at)]
        rows.append((name, cut(low, high, units), ", ".join(also) or "none of the others"))
    ohm = lengths.END_FED_OHM
    swr = [max(value / 49 / 50, 50 / (value / 49)) for value in ohm]
    return Answer(
        title="End-fed half-waves",
        sentence=f"An end-fed half-wave for {rows[0][0]} is {rows[0][1]} long and shows some "
        f"{Numeral(ohm[0] / 1000):.1f} to {Numeral(ohm[1] / 1000):.1f}{NBSP}kΩ: behind a 49:1 transformer an SWR below "
        f"{Numeral(max(swr) + 0.05):.1f}.",
        tables=(Table("End-fed half-waves", ("Band", "Length", "Also a multiple of half a wave on"), tuple(rows)),),
        sources=(
            "0.943 to 0.953 of half a wave, 2.2 to 2.8 kΩ: NEC-2 in free space, counterpoise of 0.05 wavelengths.",
            "49:1 is seven turns to one, squared: 2450 Ω to 50 Ω.",
        ),
        doubts=(
            f"The end’s impedance depends on the counterpoise. With one of {Numeral(0.01)} to {Numeral(0.02)} "
            f"wavelengths no length is purely resistive, and {Numeral(2.5)} to 5 kΩ of reactance are left.",
            "The transformer’s own loss is not in here.", MEASURE,
        ),
        cautions=(Caution("High voltage at the end", (
            "At 100 W some 500 V are between wire and ground at the transformer: a touch burns. Keep it out of reach.",
        )),),
        **common,
    )


def serves(bare_m, band):
    """Whether a wire is near a multiple of half a wave somewhere on a band."""
    low, high = (bare_m * at / 1e6 / lengths.LONG_WIRE_M_MHZ + lengths.LONG_WIRE_END for at in band)
    nearest = max(1, round((low + high) / 2))
    return low - ON_A_HALF_WAVE <= nearest <= high + ON_A_HALF_WAVE


def long_wires(chosen, ratios, shortest_m, longest_m, arrangement, units, common):
    """Lengths of long wires that stay clear of half-waves on all bands, as a picture with its table."""
    title = "Long wires, clear of half-waves"
    try:
        clear = lengths.clear_lengths_m(chosen, shortest_m, longest_m, MARGIN, ratios)
    except ValueError as error:
        return refused(error, title=title)
    factor, unit = shown_in(units)
    own = arrangement.element_length_m if arrangement else None
    reasons = []
    if own and shortest_m <= own <= longest_m:
        nearest = lengths.nearest_half_wave(own / mean_ratio(ratios), chosen)
        said = "clear" if nearest.halfwaves >= MARGIN else "not clear"
        reasons.append(
            f"Your {wire_length(own, units)} of {arrangement} is {said}: {significant(nearest.halfwaves, 2)} "
            f"half-waves from {nearest.multiple} half-wave{'s' if nearest.multiple != 1 else ''} on {nearest.band}."
        )
    widest = max(clear, key=lambda stretch: stretch[1] - stretch[0], default=None)
    if widest is None:
        sentence = (
            f"No length between {wire_length(shortest_m, units)} and {wire_length(longest_m, units)} stays clear "
            f"on all of {', '.join(chosen)}: choose fewer bands, or a longer wire."
        )
    else:
        sentence = f"The widest stretch that stays clear on {', '.join(chosen)} is {cut(*widest, units)}."
    return Answer(
        title=title, sentence=sentence, reasons=tuple(reasons),
        pictures=(Picture("stretches", f"Lengths near a half-wave on each band, and those clear on all, in {unit}", {
            "unit": unit, "from": shortest_m * factor, "to": longest_m * factor,
            "rows": [
                {"label": name, "stretches": scaled(
                    lengths.crowded_insulated_m(band, shortest_m, longest_m, MARGIN, ratios[name]), factor
                )}
                for name, band in chosen.items()
            ],
            "clear": {"label": "clear", "stretches": scaled(clear, factor)},
            "mark": None if not own else {"value": own * factor, "label": arrangement.name},
        }),),
        tables=(Table("Clear stretches", ("From", "To", "Width"), tuple(
            (wire_length(low, units), wire_length(high, units), quantity(high - low, "length", units))
            for low, high in clear
        )),) if clear else (),
        computed_from=(
            *common["computed_from"][:2],
            Ground(f"Lengths from {wire_length(shortest_m, units)} to {wire_length(longest_m, units)}, whole bands"),
        ),
        sources=(
            "Long-wire formula 492 (n − 0.05)/f ft: there the impedance is very high. NEC-2 finds the high impedances "
            "of a 12.5 m wire within 0.014 half-waves of it.",
            "A tenth of a half-wave is kept on either side: common practice, no source.",
        ),
        doubts=(
            "Clear only means that a tuner has a chance: the wire is not resonant, and its counterpoise matters, too.",
        ),
    )


def mean_ratio(ratios):
    """One ratio for all bands; they differ by less than the insulation is known."""
    return sum(sum(ratio) / 2 for ratio in ratios.values()) / len(ratios)


def shown_in(units):
    """Factor from metres, and the name of the unit."""
    return (1, "m") if units == METRIC else (1 / 0.3048, "ft")


def scaled(stretches, factor):
    return [[round(low * factor, 3), round(high * factor, 3)] for low, high in stretches]


def cut(low_m, high_m, units):
    """A range of lengths as one cuts them: to the centimetre, or in feet and inches."""
    low, high = wire_length(low_m, units), wire_length(high_m, units)
    return f"{low.removesuffix(NBSP + 'm')} to {high}" if low != high else high
