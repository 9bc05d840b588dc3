"""Gear judged by contacts per hour on the air: the words around `outings.evidence.comparison`."""

from collections import Counter, defaultdict

from equipment.numerals import Numeral
from equipment.templatetags.units import significant
from outings.evidence import comparison, rates
from outings.evidence.design import listed

from .dimensions import DIMENSIONS
from .judging import Judged, Line
from .observing import BAND, BLOCK_S, WAYS
from .remembering import remembered

SAME = 1.1  # raw and adjusted ratios that are nearer than this are called about the same
WORTH_NAMING = 1.05
A_TURN = "two stints of half an hour each"


def judged(asked):
    """The judgement of an operator's stints by contacts per hour."""
    return judged_of(asked.seen)


def judged_of(seen):
    """The judgement of what was read already, an `observing.Observed`."""
    by, word = seen.by, DIMENSIONS[seen.by].word
    left_out = {"unnoted": seen.unnoted, "timeless": seen.timeless, "also": seen.also}
    if not seen.groups:
        return Judged("empty", "There is no time on the air to judge by.", (), **left_out)
    if len(seen.groups) == 1:
        return alone(seen, word, left_out)
    found = remembered(comparison.compare, seen.observations(), also_held=seen.also_held)
    groups = {group.label: group for group in seen.groups.values()}
    reference = next(row for row in found.arrangements if row.arrangement == found.reference)
    strata = strata_of(seen)
    drawn = drawn_together(found.arrangements)
    lines = tuple(
        line(groups[row.arrangement], row, reference, found, strata, drawn.get(row.arrangement))
        for row in found.arrangements
    )
    told = [one for one in lines if one.is_told]
    state = "apart" if len(told) < 2 else "told" if any(one.claimed for one in lines) else "open"
    return Judged(
        state, found.verdict, tuple(next_steps(found, groups, lines, by)), lines, found.reference,
        found.held_fixed, found.remarks, found.dispersion, found.confidence, method=tuple(method(found)), **left_out,
    )


def method(found):
    """How it was judged, in three sentences."""
    yield (
        f"Adjusted ratios come from an additive model of all stints, hours on the air as exposure, with "
        f"{listed(found.held_fixed) or 'nothing'} held fixed; raw rates mix all that with the gear."
    )
    yield (
        f"Intervals are 95 % intervals and allow for bursts: counts vary {Numeral(found.dispersion):.1f} times as much "
        "as independent ones would. Claims also allow for comparing several at once (Holm)."
    )
    yield (
        f"All are set against {found.reference}, which has most hours. Pauses and doubtful contacts do not count; what "
        "cannot be separated gets no ratio."
    )


def alone(seen, word, left_out):
    """The answer where only one thing was used."""
    group, = seen.groups.values()
    rate = rates.rate(group.contacts, group.on_air_h)
    only = Line(
        group.key, group.label, group.stints, group.running, group.inferred, group.inferred_h, group.on_air_h,
        group.contacts, rate.per_h, rate.low, rate.high, None, None, None, None, is_reference=True,
    )
    return Judged(
        "alone", f"Only {group.label} was on the air: there is nothing to compare it with.",
        (f"Use another {word} as well, in turns, on the same outing and band: {A_TURN} make a beginning.",), (only,),
        group.label, **left_out,
    )


def line(group, row, reference, found, strata, drawn):
    """A line of the table from a row of the comparison."""
    is_reference = row.arrangement == found.reference
    raw = row.rate_per_h / reference.rate_per_h if reference.rate_per_h else None
    return Line(
        group.key, group.label, group.stints, group.running, group.inferred, group.inferred_h, group.on_air_h,
        group.contacts, row.rate_per_h, row.low, row.high, raw, row.ratio, row.ratio_low, row.ratio_high, is_reference,
        claimed=not is_reference and row.p_holm is not None and row.p_holm < 1 - found.confidence,
        chance_best=row.chance_best, reason=row.reason, why="" if is_reference else why(row, raw),
        in_blocks=None if is_reference else in_blocks(strata, row.arrangement, found), drawn=drawn,
    )


def why(row, raw):
    """Why the raw ratio differs from the adjusted one, in a sentence."""
    if not row.ratio or not raw:
        return ""
    flattery = raw / row.ratio
    if 1 / SAME < flattery < SAME:
        return "About the same: it was used under circumstances like the reference’s."
    better = flattery > 1
    named = [
        one for one in row.circumstances
        if (one.factor > 1) == better and max(one.factor, 1 / one.factor) > WORTH_NAMING
    ][:2]
    reasons = " and ".join(circumstance(one) for one in named)
    lead = "Raw flatters it" if better else "Raw wrongs it"
    return f"{lead}: {reasons}." if reasons else f"{lead}, by many small things together."


def circumstance(one):
    """What favoured or hindered, with where the hours were."""
    worth = f"worth\u00a0×\u00a0{significant(one.factor, 2)}"
    if one.word == "outing":
        return f"its outings went {'better' if one.factor > 1 else 'worse'} whatever was used ({worth})"
    where = PLACES.get(one.word)
    if where is None:
        return f"a {'better' if one.factor > 1 else 'worse'} {one.word} went with it ({worth})"
    shares = f"{one.share:.0%} of its hours, {one.reference_share:.0%} of the reference’s".replace("%", "\u00a0%")
    return f"{where(one.level)} ({shares}, {worth})"


def sun_hours(block):
    """An hour block in words: 12 to 16 h."""
    step = BLOCK_S // 3600
    return f"{block * step} to {(block + 1) * step}\u00a0h"


def calling(value):
    return {"": "calling or answering not noted", "both": "calling and answering"}.get(value, value)


PLACES = {
    "band": lambda band: f"on {band}", "mode": lambda mode: f"in {mode}",
    "hour block": lambda block: f"{sun_hours(block)} by the sun", "calling or answering": calling,
}


def strata_of(seen):
    """Contacts and hours of each thing in each block: {block: {label: [contacts, hours]}}."""
    found = defaultdict(lambda: defaultdict(lambda: [0, 0.0]))
    for piece in seen.pieces:
        cell = found[piece.block][seen.labels[piece.key]]
        cell[0] += piece.contacts
        cell[1] += piece.on_air_s / 3600
    return found


def in_blocks(strata, name, found):
    """The ratio to the reference from the blocks in which both were used, None without any."""
    shared = [(*cells[name], *cells[found.reference]) for cells in strata.values()
              if name in cells and found.reference in cells]
    ratio = rates.ratio_in_strata(shared, found.dispersion, found.confidence) if shared else None
    return ratio if ratio and ratio.ratio else None


def drawn_together(rows):
    """Raw rates drawn towards each other: {name: Shrunk}, empty where there are too few."""
    if len(rows) < rates.LEAST_TO_SHRINK:
        return {}
    found = rates.shrunk([row.contacts for row in rows], [row.on_air_h for row in rows])
    return {row.arrangement: one for row, one in zip(rows, found.rates, strict=True)}


def next_steps(found, groups, lines, by):
    """What to do next, in sentences."""
    apart = [one for one in lines if one.reason and not one.is_told]
    if len(found.leaders) == 2:
        first, second = (groups[name] for name in found.leaders)
        if found.more_hours_needed:
            less = min(first, second, key=lambda group: group.on_air_h).label
            more = f"{comparison.about_hours(found.more_hours_needed)} more on the air{on_band(first, second, by)}"
            yield (
                f"About {more} with {first.label} and {second.label} in turns would settle it, if the difference is "
                f"what it looks like now; begin with {less}, which has fewer hours."
            )
        elif found.more_hours_needed == 0:
            yield f"{first.label} and {second.label}, which lead, are told apart: no more hours are needed for that."
        else:
            yield (
                f"{first.label} and {second.label} lead and are so much alike that hours would hardly tell them apart: "
                "choose by weight, set-up time or liking."
            )
    if apart:
        yield (
            f"To tell {listed([one.label for one in apart[:3]])} from {found.reference}: use them on one outing, in "
            f"turns{same(by)}. {A_TURN.capitalize()} make a beginning."
        )


def on_band(first, second, by):
    """The band on which the two can best be set against each other: where both have hours, most of them."""
    if by == "band":
        return ""
    both = Counter({band: min(first.bands[band], second.bands[band]) for band in first.bands if band})
    either = first.bands + second.bands
    common = [(share, either[band], band) for band, share in both.items() if share > 0]
    return f" on {max(common)[2]}" if common else ""


def same(by):
    """What has to stay the same while two are used in turns."""
    band = "in the same mode" if WAYS[by].instead_of == BAND else "on the same band"
    return " ".join(["", band, *(f"and with the same {DIMENSIONS[name].word}" for name in WAYS[by].also)])
