"""May two packs be joined in parallel: the verdict, the first current and how it goes on, and a charger on both."""

from dataclasses import dataclass

from equipment.physics import joining
from equipment.templatetags.bench import quantity

from .answers import Answer, Figure
from .cautions import JOINING

METER_V = 0.02  # how far a hand meter may be off, each; 10 to 30 mV, common practice, no source
RESISTANCE_ERROR = 0.2  # of a pack's resistance from one load step; common practice, no source


@dataclass(frozen=True)
class PackAtRest:
    """A pack as it is before it is joined; limits are None where they are not known."""

    chemistry: str
    cells: int
    volts: float
    ohm: float
    charge_limit_a: float | None = None
    discharge_limit_a: float | None = None


def joining_answers(*, first, second, leads_ohm):
    """Whether two packs may be joined now, and the first current."""
    advice = joining.may_join(
        first.chemistry, second.chemistry, first.cells, second.cells, first.volts, second.volts, first.ohm, second.ohm,
        leads_ohm, first.charge_limit_a, second.charge_limit_a, first.discharge_limit_a, second.discharge_limit_a,
    )
    if advice.first_a is None:
        return (Answer(
            sentence="No: these two must not be joined.", mark="bad", word="no", reasons=advice.reasons,
            cautions=(JOINING,),
        ),)
    size = abs(advice.first_a)
    difference = abs(first.volts - second.volts)
    loop = first.ohm + second.ohm + leads_ohm
    error_v = METER_V * 2**0.5
    low = max(0.0, difference - error_v) / (loop * (1 + RESISTANCE_ERROR))
    high = (difference + error_v) / (loop * (1 - RESISTANCE_ERROR))
    giver, taker = ("1", "2") if advice.first_a >= 0 else ("2", "1")
    flow = f"{quantity(size, 'current')} will flow from pack {giver} into pack {taker} at first"
    word = "may be joined" if advice.may_join else "should not be joined yet"
    return (Answer(
        sentence=f"These packs {word}: {flow}.",
        mark="good" if advice.may_join else "bad", word="yes" if advice.may_join else "not now",
        reasons=(*advice.reasons, *advice.unchecked),
        figures=(Figure("First current", size, "current", low, high),),
        sources=("I = (V1 − V2) / (R1 + R2 + leads): Ohm’s law.", "Rules of caution: common practice, no source."),
        cautions=(JOINING,),
    ),)
