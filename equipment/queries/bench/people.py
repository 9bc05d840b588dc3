"""What the bench says about people near an antenna: how far they stay away, on each band."""

from equipment import bands as band_table
from equipment.numerals import Numeral, localised
from equipment.physics import exposure
from equipment.queries.exposure import EDITIONS, EVALUATION, WORDING, band_reach
from equipment.templatetags.bench import quantity
from equipment.templatetags.people import formula, stay_beyond, up
from equipment.templatetags.units import NBSP
from equipment.units import METRIC

from .answers import Answer, Caution, Figure, Ground, Table

CAUTION = Caution("People nearby", (
    "No part of an antenna or its counterpoise is touched while transmitting: it burns, at any power.",
    "The distance counts from every part of the antenna, its ends and the counterpoise included.",
    "Fence it off or watch it, and stop transmitting when somebody comes nearer.",
    "People with implants keep to what their physician and its maker say.",
))
MODES = tuple(exposure.MODE_FACTOR)
GROUNDS = {
    "2.56": "ground reflects (factor 2.56)", "4": "perfect reflection (factor 4)", "1": "none (free space, factor 1)",
}


def people_answers(*, bands, watts, mode, public_percent, ground, rules=exposure.STRICTER, gain_dbi=None,
                   length_m=None, units=METRIC, **rest):
    """Answers to: how far away do people stay?"""
    factor = exposure.MODE_FACTOR[mode]
    found = [
        band_reach(
            name, watts, mode_factor=factor, public_share=public_percent / 100, gain_dbi=gain_dbi, length_m=length_m,
            ground_factor=float(ground), rules=rules,
        )
        for name in sorted(bands, key=band_table.position)
    ]
    widest = max(found, key=lambda one: one.public.beyond_m)
    inside = [one.band for one in found if one.public.inside_near_field or one.controlled.inside_near_field]
    refusals = [one.band for one in found if one.public.formula_m is None or one.controlled.formula_m is None]
    return (Answer(
        sentence=sentence(found, widest, units), mark="warn" if inside else "", word="near field" if inside else "",
        reasons=tuple(reasons(inside, refusals)),
        figures=(
            Figure(f"Everybody, on {widest.band}", up(widest.public.beyond_m, units), "length",
                   note="beyond this; an upper estimate of the formula, or the edge of the near field"),
            Figure(f"Those who know, on {widest.band}", up(widest.controlled.beyond_m, units), "length",
                   note="beyond this"),
        ),
        tables=(table(found, units),),
        computed_from=tuple(
            grounds(watts, mode, factor, public_percent, ground, rules, found, gain_dbi, length_m, units)
        ),
        sources=(
            f"{EDITIONS[rules]} For those who know of it (controlled, or occupational) and for everybody "
            "(uncontrolled, or the general public, averaged over 30 minutes).",
            "R = √(P G F/(4π S)), at the edge of each band where it gives most.",
            "Edge of the near field λ/2π, at the lower edge of the band. Near fields of short whips: NEC-2.",
        ),
        doubts=(
            WORDING, EVALUATION,
            "Not for beams with more gain than given, nor for several transmitters at once.",
            "Magnetic loops have strong near fields of their own, and are not a case for this formula.",
        ),
        cautions=(CAUTION,),
    ),)


def sentence(found, widest, units):
    """How far everybody stays away, in words."""
    text = stay_beyond(widest.public.beyond_m, units)
    if len(found) == 1:
        return f"Keep everybody more than {text} from every part of the antenna on {widest.band}."
    return (
        f"Keep everybody more than {text} from every part of the antenna, then it is enough on all "
        f"{len(found)} bands ({widest.band} asks for most)."
    )


def reasons(inside, refusals):
    """Where the formula must not be trusted."""
    if refusals:
        yield (
            f"On {', '.join(refusals)} no figure of the formula is given: it would lie inside the near field of a "
            "short whip, where the formula is not on the safe side. Keep people well beyond the edge of the near field."
        )
    flagged = [band for band in inside if band not in refusals]
    if flagged:
        yield (
            f"On {', '.join(flagged)} the formula’s figure lies inside the near field, where it does not hold: keep "
            "people beyond the edge of that instead."
        )


def grounds(watts, mode, factor, public_percent, ground, rules, found, gain_dbi, length_m, units):
    """What was computed with, in words."""
    yield Ground(f"{quantity(watts, 'power')} at the antenna, no loss taken off")
    yield Ground(f"{mode}: {Numeral(100 * factor):g}{NBSP}% of it on average")
    yield Ground(
        f"Transmitting {Numeral(public_percent):g}{NBSP}% of any half hour for everybody, the whole of any six minutes "
        "for those who know of it"
    )
    if gain_dbi is not None:
        yield Ground(f"Gain {Numeral(gain_dbi):g}{NBSP}dBi, as typed")
    else:
        gains = sorted({one.gain_dbi for one in found})
        span = f"{Numeral(gains[0]):g}" if len(gains) == 1 else f"{Numeral(gains[0]):g} to {Numeral(gains[-1]):g}"
        what = "a dipole" if length_m is None else f"a straight wire of {quantity(length_m, 'length', units)}"
        yield Ground(f"Gain {span}{NBSP}dBi, the largest that {what} can have (NEC-2, free space)")
    yield Ground(f"Ground: {localised(GROUNDS[ground])}")
    yield Ground(EDITIONS[rules])


def table(found, units):
    return Table("How far people stay away", (
        "Band", "Everybody: keep beyond", "Those who know: keep beyond", "Edge of the near field",
        "Formula, everybody", "Formula, those who know",
    ), tuple(
        (
            one.band, stay_beyond(one.public.beyond_m, units), stay_beyond(one.controlled.beyond_m, units),
            stay_beyond(one.public.near_field_m, units), formula(one.public, units), formula(one.controlled, units),
        )
        for one in found
    ))
