"""May two packs be joined: the verdict, the currents over time, a charger on both, side by side or in a row."""

from dataclasses import dataclass

from equipment.numerals import Numeral
from equipment.physics import cell_curves, joining
from equipment.templatetags.bench import quantity

from .answers import Answer, Figure, Picture, Table, refused
from .cautions import CHARGING, JOINING

METER_V = 0.02  # how far a hand meter may be off, each; 10 to 30 mV, common practice, no source
RESISTANCE_ERROR = 0.2  # of a pack's resistance from one load step; common practice, no source
POINTS = 96
MOST_STEPS = 40_000  # some seconds of computing; beyond it the answer says why there is none
LAW = "First current: (V1 − V2) / (R1 + R2 + leads), Ohm’s law."
RULES = "Rules of caution (same kind, 0.1 V for four LiFePO4 cells, limits): common practice, no source."
CURVES = (
    "Resting curves: LiFePO4 after S. Afshar et al., arXiv:1709.03970 (2017); NMC and graphite after C.-H. Chen et "
    "al., J. Electrochem. Soc. 167 (2020) 080534; AGM from a vehicle maker’s owner manual."
)


@dataclass(frozen=True)
class PackAtRest:
    """A pack as it is before it is joined; capacity and limits are None where they are not known."""

    chemistry: str
    cells: int
    volts: float
    ohm: float
    ah: float | None = None
    charge_limit_a: float | None = None
    discharge_limit_a: float | None = None

    @property
    def curve(self):
        return cell_curves.pack_v(self.chemistry, self.cells)

    @property
    def charge(self):
        """State of charge that the resting curve has at its voltage, 0 to 1."""
        return cell_curves.RESTING[self.chemistry].charge(self.volts / self.cells)


def joining_answers(*, first, second, leads_ohm, hours=4.0, charger_a=None, charger_v=None):
    """All that is said about two packs: the verdict, and what can be computed of the rest."""
    verdict = joining_verdict(first, second, leads_ohm)
    found = [verdict]
    together = first.chemistry == second.chemistry and first.cells == second.cells
    if together:
        found.append(over_time(first, second, leads_ohm, hours))
        if charger_a and charger_v:
            found.append(with_charger(first, second, leads_ohm, hours, charger_a, charger_v))
    if first.ah and second.ah:
        found.append(side_by_side(first, second, together))
    return tuple(found)


def joining_verdict(first, second, leads_ohm):
    """Whether two packs may be joined now, and the first current."""
    advice = joining.may_join(
        first.chemistry, second.chemistry, first.cells, second.cells, first.volts, second.volts, first.ohm, second.ohm,
        leads_ohm, first.charge_limit_a, second.charge_limit_a, first.discharge_limit_a, second.discharge_limit_a,
    )
    if advice.first_a is None:
        return Answer(
            sentence="No: these two must never be joined side by side.", mark="bad", word="no", reasons=advice.reasons,
            sources=(RULES,), cautions=(JOINING,),
        )
    size, difference = abs(advice.first_a), abs(first.volts - second.volts)
    loop = first.ohm + second.ohm + leads_ohm
    error_v = METER_V * 2**0.5
    low = max(0.0, difference - error_v) / (loop * (1 + RESISTANCE_ERROR))
    high = (difference + error_v) / (loop * (1 - RESISTANCE_ERROR))
    giver, taker = ("1", "2") if advice.first_a >= 0 else ("2", "1")
    if advice.may_join:
        mark, word, sentence = "good", "yes", "Yes, they may be joined now"
        if advice.unchecked:
            mark, word, sentence = "warn", "as far as is known", "As far as is known they may be joined now"
    else:
        mark, word, sentence = "bad", "not now", "Do not join them now"
    return Answer(
        sentence=f"{sentence}: about {quantity(size, 'current', digits=2)} would flow from pack {giver} into "
        f"pack {taker} at first.",
        mark=mark, word=word, reasons=(*advice.reasons, *advice.unchecked, rule_beside_model(first, difference)),
        figures=(
            Figure("First current", size, "current", low, high, note="with meters and resistances as good as usual"),
            Figure("Voltage between them", difference, "voltage", max(0.0, difference - error_v), difference + error_v),
        ),
        sources=(LAW, RULES), cautions=(JOINING,),
        doubts=(
            "The voltages must be of packs that have rested for hours, read with the same meter one after the other.",
            f"Each meter is taken as good to {quantity(METER_V, 'voltage', digits=2)}, each resistance to "
            f"{100 * RESISTANCE_ERROR:.0f} %.",
            *worked_case(),
        ),
    )


def rule_beside_model(pack, difference):
    """What the rule of thumb says, beside the model."""
    allowed = joining.RULE_OF_THUMB_V_A_CELL * pack.cells
    said = "would let them be joined" if difference <= allowed else "would not let them be joined"
    return (
        f"The rule of thumb, at most {quantity(allowed, 'voltage', digits=2)} between {pack.cells} cells in series, "
        f"{said}; the model asks which current flows and whether each pack may have it."
    )


def worked_case():
    """How far the model was off in one case that was measured: readings of one charge, common practice, no source."""
    v1, v2, first_a, charger_a, seen_a, seen_v = 13.40, 13.17, 0.75, 4.6, 2.83, 13.6
    said = []
    for leads in (0.0, 0.016):
        each = ((v1 - v2) / first_a - leads) / 2
        share = joining.charger_share(v1, v2, each, each, leads, charger_a)
        said.append(
            f"{Numeral(share.i2):.2f} A and {Numeral(share.v2):.2f} V with {1000 * leads:.0f} mΩ of leads (off by "
            f"{Numeral(share.i2 - seen_a):+.2f} A, {Numeral(100 * (share.i2 / seen_a - 1)):+.1f} %, and "
            f"{Numeral(share.v2 - seen_v):+.3f} V)"
        )
    return (
        f"One measured case (common practice, no source): two four-cell LiFePO4 packs at {Numeral(v1):.2f} V and "
        f"{Numeral(v2):.2f} V drew {Numeral(first_a)} A when joined. From this alone the model says, of equal packs "
        f"and a {Numeral(charger_a)} A charger, of the second pack {' and '.join(said)}; {Numeral(seen_a)} A "
        f"and {Numeral(seen_v)} V were read. One case is no proof.",
        "Three resistances meet those readings exactly, which is no proof either: three numbers from three equations "
        "leave no residual. They were several times those of bare cells: connectors, fuse and protection board.",
    )


def over_time(first, second, leads_ohm, hours):
    """What flows after they are joined, and where it ends."""
    title = "Once joined"
    if not (first.ah and second.ah):
        return refused("How the current goes on needs the capacity of both packs", title=title)
    if first.curve is None:
        return refused(f"There is no curve of resting voltages for {first.chemistry} packs", title=title)
    moments = follow(first, second, leads_ohm, hours)
    last = moments[-1]
    quarter = moment_at(moments, 0.25)
    moved = abs(last.charge2 - second.charge) * second.ah
    end_v = (last.v1 + last.v2) / 2
    apart = abs(last.charge1 - last.charge2)
    even = "and are about equally full" if apart < 0.05 else (
        f"but by the curve one is at {100 * last.charge1:.0f} % and the other at {100 * last.charge2:.0f} %: "
        "equal voltage is not equal charge"
    )
    return Answer(
        title=title,
        sentence=f"After a quarter of an hour {quantity(abs(quarter.i2), 'current', digits=2)} still flow, after "
        f"{Numeral(hours):g} h {quantity(abs(last.i2), 'current', digits=2)}; by then "
        f"{quantity(moved, 'charge', digits=2)} have moved. They stand at {quantity(end_v, 'voltage', digits=4)} "
        f"{even}.",
        figures=(
            Figure("After 15 minutes", abs(quarter.i2), "current"),
            Figure(f"Moved in {Numeral(hours):g} h", moved, "charge"), Figure("Voltage then", end_v, "voltage"),
        ),
        pictures=(picture(moments, "Two packs joined"),), tables=(table(moments, "Two packs joined"),),
        sources=("Each pack as its resting curve and one resistance, integrated (Runge-Kutta, order four).", CURVES),
        doubts=(
            "Real packs of a kind differ from the curve by 10 to 40 mV a cell, and on the plateau small differences "
            "last for hours: the first quarter of an hour is told better than the end.",
            "No temperature, no ageing, no protection board that opens.",
        ),
    )


def with_charger(first, second, leads_ohm, hours, charger_a, charger_v):
    """How a charger's current is shared: it sits on pack 1, pack 2 hangs on it through the leads."""
    title = "A charger on pack 1"
    highest = first.curve(1.0) if first.curve else None
    if highest and charger_v > 1.05 * highest:
        return refused(
            f"{quantity(charger_v, 'voltage')} is more than {first.cells} {first.chemistry} cells may have",
            title=title, cautions=(CHARGING,),
        )
    share = joining.charger_share(first.volts, second.volts, first.ohm, second.ohm, leads_ohm, charger_a)
    limited = share.v1 > charger_v
    over = [
        f"Pack {number} would get {quantity(current, 'current', digits=2)}, more than its charge limit "
        f"{quantity(pack.charge_limit_a, 'current')}."
        for number, current, pack in ((1, share.i1, first), (2, share.i2, second))
        if pack.charge_limit_a is not None and current > pack.charge_limit_a
    ]
    flow = (
        f"pack 1 takes {quantity(share.i1, 'current', digits=2)}" if share.i1 >= 0
        else f"pack 1 still gives {quantity(-share.i1, 'current', digits=2)}"
    )
    pictures = tables = ()
    reasons = [*over]
    if limited:
        reasons.append("The charger reaches its voltage limit at once and gives less than its current.")
    if first.ah and second.ah and first.curve:
        moments = follow(first, second, leads_ohm, hours, charger_a, charger_v)
        pictures = (picture(moments, "A charger on both"),)
        tables = (table(moments, "A charger on both"),)
    return Answer(
        title=title, mark="bad" if over else "", word="too much" if over else "",
        sentence=f"At first {flow} and pack 2 takes {quantity(share.i2, 'current', digits=2)} of the charger’s "
        f"{quantity(charger_a, 'current')}.",
        reasons=tuple(reasons),
        figures=(
            Figure("Into pack 1", share.i1, "current"), Figure("Into pack 2", share.i2, "current"),
            Figure("Pack 1 then", share.v1, "voltage"), Figure("Pack 2 then", share.v2, "voltage"),
        ),
        pictures=pictures, tables=tables,
        sources=("I2 = (E1 − E2 + I R1) / (R1 + R2 + leads), I1 = I − I2: Kirchhoff.",),
        doubts=("Towards the end the fuller pack stops taking current and the other one gets nearly all of it.",),
        cautions=(CHARGING,),
    )


def side_by_side(first, second, together):
    """What the two give in parallel and in series."""
    smaller, total_v = min(first.ah, second.ah), first.volts + second.volts
    parallel = (
        f"Side by side (parallel) they hold {quantity(first.ah + second.ah, 'charge')} at "
        f"{quantity((first.volts + second.volts) / 2, 'voltage')}"
        if together else "Side by side (parallel) they must not be joined"
    )
    return Answer(
        title="Side by side, or one behind the other",
        sentence=f"{parallel}; one behind the other (series) {quantity(total_v, 'voltage')} and only "
        f"{quantity(smaller, 'charge')}, as much as the smaller one has. Parallel adds capacity and leaves the "
        "voltage; series adds voltage and leaves the capacity.",
        reasons=(
            "In series the weaker pack is emptied first and may be driven below its lowest voltage.",
            "A radio for 12 V is destroyed by two such packs in series." if total_v > 16 else
            "Look at the highest voltage of the radio before joining packs in series.",
        ),
        sources=("Definition.",),
    )


def follow(first, second, leads_ohm, hours, charger_a=0.0, charger_v=None):
    return joining.over_time(
        first.curve, second.curve, first.ah, second.ah, first.charge, second.charge, first.ohm, second.ohm, leads_ohm,
        hours, charger_a, charger_v, points=POINTS, most_steps=MOST_STEPS,
    )


def moment_at(moments, hours):
    return min(moments, key=lambda moment: abs(moment.hours - hours))


def picture(moments, caption):
    """Currents and voltages over time."""
    def line(label, name):
        return {"label": label, "points": [[round(m.hours, 4), round(getattr(m, name), 4)] for m in moments]}

    return Picture("traces", f"{caption}: currents into each pack, and voltages at their terminals, over hours", {
        "x": "hours", "panels": [
            {"unit": "A", "from_zero": True, "rules": [], "lines": [line("pack 1", "i1"), line("pack 2", "i2")]},
            {"unit": "V", "rules": [], "lines": [line("pack 1", "v1"), line("pack 2", "v2")]},
        ],
    })


def table(moments, caption):
    shown = moments[:: max(1, len(moments) // 8)]
    return Table(caption, ("Hours", "Into pack 1", "Into pack 2", "Pack 1", "Pack 2"), tuple(
        (f"{Numeral(m.hours):.2f}", *(f"{Numeral(amps):.2f} A" for amps in (m.i1, m.i2)),
         *(f"{Numeral(volts):.2f} V" for volts in (m.v1, m.v2)))
        for m in shown
    ))
