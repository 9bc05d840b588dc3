"""Does enough voltage reach the radio: wire, connectors, fuse and the pack's own resistance; which fuse."""

from equipment.numerals import Numeral
from equipment.physics import battery, dc_path
from equipment.templatetags.bench import quantity, spread

from .answers import Answer, Figure, Table
from .cautions import FAULT_CURRENT

GAUGES = (8, 10, 12, 14, 16, 18, 20, 22)
STRANDED = 1.03  # stranded wire over solid; some per cent, common practice, no source
SOURCES = (
    "Wire: diameter by ASTM B258, resistivity of annealed copper 1.724e-8 Ω m at 20 °C, 0.39 % more for each degree.",
    "Connectors 1 to 5 mΩ each, fuse with holder 2 to 10 mΩ, stranded wire some 3 % more: common practice, no source.",
    "Fuse: at least 1.25 times the steady current, at most what the thinnest wire carries: common practice, no source.",
)


def dc_path_answers(
    *, volts, pack_ohm, amps, minimum_v, length_m, awg=None, area_mm2=None, connectors=2, fuses=1, wire_limit_a=None,
    temperature_c=20.0,
):
    """Voltage at the radio as a range against its minimum, the largest current, and the fuse."""
    if (awg is None) == (area_mm2 is None):
        raise ValueError("give the wire by its gauge or by its cross-section, one of them")
    conductor = dc_path.wire(awg, temperature_c) if awg is not None else dc_path.wire_of_area(area_mm2, temperature_c)
    wire_ohm = STRANDED * dc_path.lead_ohm(conductor, length_m)
    low_ohm, high_ohm = (
        wire_ohm + connectors * joint + fuses * holder
        for joint, holder in zip(dc_path.CONNECTOR_OHM, dc_path.FUSE_OHM, strict=True)
    )
    best, worst = (battery.terminal_v(volts, pack_ohm + leads, amps) for leads in (low_ohm, high_ohm))
    most = battery.largest_current_a(volts, pack_ohm + (low_ohm + high_ohm) / 2, minimum_v)
    mark, word, sentence = verdict(best, worst, minimum_v, amps)
    lost = (low_ohm + high_ohm) / 2 * amps
    shares = (
        (f"pack, {quantity(pack_ohm, 'resistance')}", pack_ohm * amps), ("wire, both conductors", wire_ohm * amps),
        (f"{connectors} connectors", connectors * sum(dc_path.CONNECTOR_OHM) / 2 * amps),
        (f"{fuses} fuse{'s' if fuses != 1 else ''}", fuses * sum(dc_path.FUSE_OHM) / 2 * amps),
    )
    return (
        Answer(
            sentence=sentence, mark=mark, word=word,
            figures=(
                Figure("At the radio", (best + worst) / 2, "voltage", worst, best),
                Figure("Lost on the way", lost, "voltage", low_ohm * amps, high_ohm * amps,
                       note=f"and {quantity(lost * amps, 'power')} of heat"),
                Figure("Largest current that still works", most, "current"),
            ),
            tables=(
                Table("Where the voltage goes at full current", ("Part", "Lost"), tuple(
                    (part, quantity(drop, "voltage")) for part, drop in shares
                )),
                gauges(length_m, amps, temperature_c),
            ),
            sources=SOURCES,
            doubts=(
                "The resting voltage falls as the pack empties: look with the voltage that it has near the end, too.",
                f"Copper-clad aluminium wire has about {Numeral(1.6)} times the resistance; many cheap leads are "
                "of it.",
                "A worn connector can have ten times as much. Measure at the radio while transmitting: that decides.",
            ),
            cautions=(FAULT_CURRENT,),
        ),
        fuse(amps, wire_limit_a),
    )


def verdict(best, worst, minimum_v, amps):
    reach = f"{spread(worst, best, 'voltage')} reach the radio at {quantity(amps, 'current')}"
    need = f"it needs {quantity(minimum_v, 'voltage')}"
    if worst >= minimum_v:
        margin = quantity(worst - minimum_v, "voltage", digits=2)
        return "good", "enough", f"{reach}, {margin} or more above what it needs."
    if best >= minimum_v:
        return "warn", "perhaps", f"{reach}; {need}, so good connectors and a full pack decide."
    return "bad", "too little", f"{reach}; {need}. Shorter or thicker leads, less power, or a pack of lower resistance."


def gauges(length_m, amps, temperature_c):
    """What other wires would lose."""
    rows = []
    for awg in GAUGES:
        conductor = dc_path.wire(awg, temperature_c)
        drop = STRANDED * dc_path.drop_v(conductor, length_m, amps)
        rows.append((
            f"AWG {awg}", f"{Numeral(conductor.area_mm2):.2f} mm²", quantity(drop, "voltage"),
            quantity(drop * amps, "power"),
        ))
    return Table("The same lead of another wire", ("Wire", "Cross-section", "Loses", "Heat"), tuple(rows))


def fuse(amps, wire_limit_a):
    """Which blade fuse goes close to the pack."""
    title = "The fuse, close to the pack"
    at_least = 1.25 * amps
    if wire_limit_a is None:
        return Answer(
            title=title,
            sentence=f"At least {quantity(at_least, 'current')}, and no more than the thinnest wire may carry.",
            reasons=("Give what the wire may carry, from its maker or your local code, and the fuse is named.",),
            sources=SOURCES[2:], cautions=(),
        )
    rating = dc_path.fuse_a(amps, wire_limit_a)
    if rating is None:
        return Answer(
            title=title, mark="bad", word="none fits",
            sentence=f"No blade fuse of at least {quantity(at_least, 'current')} protects a wire that may carry "
            f"{quantity(wire_limit_a, 'current')}: the wire is too thin for this load.",
            sources=SOURCES[2:],
        )
    return Answer(
        title=title,
        sentence=f"A blade fuse of {Numeral(rating):g} A: {Numeral(1.25)} times the load or more, and no more than the "
                 "wire carries.",
        figures=(Figure("Fuse", float(rating), "current"),), sources=SOURCES[2:],
        doubts=("A surge at the start, or a hot place, may need the next size, if the wire carries it.",),
    )
