"""Gear judged by values of its contacts: the words around `outings.evidence.reach` and `outings.evidence.reports`."""

from collections import Counter, defaultdict
from dataclasses import dataclass, replace

from equipment import units
from outings import dial
from outings.evidence import reach, reports, strata
from outings.models import Contact

from . import performance
from .dimensions import DIMENSIONS
from .judging import Judged, Line
from .observing import BLOCK_S, DEGREE_S, HOUR, observed
from .remembering import remembered

HOURS = 6  # hour blocks of a day
DECIMALS = 1  # of kilometres and decibels that are remembered


@dataclass(frozen=True)
class Told:
    """A contact: its stint, its moment by the sun in seconds (None where its stint is of one part), and its value."""

    stint: int
    sun_s: float | None
    value: float


def distances(asked):
    """Judged by how far the contacts are: the shift within blocks."""
    return far(asked, reach.compare_distances)


def upper_tenth(asked):
    """Judged by how far the farthest tenth is."""
    return far(asked, reach.compare_upper_tenth)


def beyond(asked):
    """Judged by the share of contacts beyond a distance, in percent."""
    limit = round(units.distance_from_km(asked.beyond_km, asked.operator.units))
    found = far(asked, reach.compare_beyond, limit)
    lines = tuple(in_percent(line) for line in found.lines)
    return replace(found, lines=lines, unit="%")


def far(asked, compare, *arguments):
    """Judged by distances, in the operator's units."""
    unit = units.DISTANCE_NAMES[asked.operator.units]
    what = "with a known position"
    seen = seen_of(asked)
    return judged(asked, seen, placed(asked, seen), compare, *arguments, unit=unit, what=what, named={"unit": unit})


def reports_received(asked):
    """Judged by how strongly this station was heard."""
    return by_reports(asked, "rst_rcvd", ("power",))


def reports_sent(asked):
    """Judged by how strongly the others were heard."""
    return by_reports(asked, "rst_sent", ())


def by_reports(asked, column, more):
    """Judged by reports in dB, of outings where they were honest; the own power matters to those received."""
    asked = replace(asked, more=tuple(dict.fromkeys((*asked.more, *more))))
    seen = seen_of(asked)
    told, left_out, scales = strengths(asked, seen, column)
    found = judged(asked, seen, told, reports.compare_reports, unit="dB", what="with an honest report on both sides")
    said = []
    if left_out:
        said.append(f"{left_out} outing{'s were' if left_out != 1 else ' was'} left out, where nearly everybody got "
                    "the usual report, on one side or both, or fewer than eight contacts have both")
    lines = found.lines
    if scales > 1:
        said.append("reports are in S units in some modes and in decibels in others: raw means would mix them and are "
                    "not shown, adjusted figures compare within a mode")
        nothing = dict.fromkeys(("value", "low", "high", "raw_effect"))
        lines = tuple(replace(line, why=within(line), **nothing) for line in lines)
    return replace(found, lines=lines, remarks=(*found.remarks, *said))


def within(line):
    """What stands behind an adjusted figure that has no raw one beside it."""
    return "" if line.is_reference or not line.is_told else "Compared within the same mode, outing and band alone."


def seen_of(asked):
    """The stints as they are compared."""
    return observed(asked.operator, asked.stints, asked.by, asked.more, asked.now)


def judged(asked, seen, told, compare, *arguments, unit, what, named=None):
    """The judgement of the values `told` by a function that compares them; `named` are further arguments of it."""
    left_out = {"unnoted": seen.unnoted, "timeless": seen.timeless, "also": seen.also, "unit": unit}
    if not seen.groups:
        return Judged("empty", "There is no time on the air to judge by.", (), **left_out)
    samples = samples_of(seen, told)
    groups = {group.label: group for group in seen.groups.values()}
    try:
        found = remembered(compare, samples, *arguments, also_held=seen.also_held, **(named or {}))
    except strata.NothingToCompare as reason:
        return alone(seen, str(reason), samples, what, left_out)
    lines = tuple(line(groups[row.arrangement], row, found) for row in found.arrangements)
    lines += tuple(bare(group, f"no contact {what}") for label, group in groups.items()
                   if label not in {row.arrangement for row in found.arrangements})
    known = [one for one in lines if one.is_told]
    state = "apart" if len(known) < 2 else "told" if any(one.claimed for one in lines) else "open"
    counted = sum(len(sample.values) for sample in samples)
    remarks = (f"{counted} of {sum(group.contacts for group in groups.values())} contacts are {what}; the others count "
               "in rates alone", *found.remarks)
    return Judged(state, found.verdict, tuple(next_steps(found, asked.by)), lines, found.reference, found.held_fixed,
                  remarks, None, found.confidence, **left_out)


def alone(seen, reason, samples, what, left_out):
    """The answer where there are not two things with values."""
    word = DIMENSIONS[seen.by].word
    counts = Counter()
    for sample in samples:
        counts[sample.arrangement] += len(sample.values)
    lines = tuple(
        bare(group, "", counts[group.label], is_reference=index == 0)
        for index, group in enumerate(seen.groups.values())
    )
    step = f"Use two, in turns, on the same outing and band, and note what a {word} is judged by: contacts {what}."
    return Judged("alone", f"{reason[:1].upper()}{reason[1:]}.", (step,), lines,
                  lines[0].label if samples else "", **left_out)


def bare(group, reason, contacts=0, *, is_reference=False):
    """A line without figures; `contacts` are those that have a value."""
    return Line(
        group.key, group.label, group.stints, group.running, group.inferred, group.inferred_h, group.on_air_h,
        contacts, None, None, None, None, None, None, None, is_reference=is_reference, reason=reason,
    )


def line(group, row, found):
    """A line of the table from a row of a judgement."""
    is_reference = row.arrangement == found.reference
    value = next(one.value for one in found.arrangements if one.arrangement == found.reference)
    return Line(
        group.key, group.label, group.stints, group.running, group.inferred, group.inferred_h, group.on_air_h,
        row.contacts, row.value, row.low, row.high, row.value - value, row.difference, row.difference_low,
        row.difference_high, is_reference,
        claimed=not is_reference and row.p_holm is not None and row.p_holm < 1 - found.confidence,
        reason=row.reason, why="" if is_reference else why(row, row.value - value, found.unit),
    )


def why(row, raw, unit):
    """What makes raw and adjusted differ, in a sentence."""
    if row.difference is None:
        return ""
    away = raw - row.difference
    half = ((row.difference_high or row.difference) - (row.difference_low or row.difference)) / 2
    behind = f"{row.shared} contacts of both on the same outing and band stand behind the adjusted figure."
    if row.indirect:
        behind = f"By way of others that share outings with both: {row.shared} contacts stand behind it."
    if abs(away) <= half / 2:
        return f"About the same: it was used where the reference was. {behind}"
    amount = f"{abs(away):.0f} {unit}" if unit else f"{100 * abs(away):.0f} points"
    return f"{'Raw flatters it' if away > 0 else 'Raw wrongs it'} by {amount}: where and when it was used. {behind}"


def next_steps(found, by):
    """What to do next, in sentences."""
    if found.more_contacts_needed:
        yield f"About {found.more_contacts_needed} more contacts, in turns on one outing and band, would settle it."
    apart = [row.arrangement for row in found.arrangements if row.reason]
    if apart:
        yield f"To tell {strata.listed(apart[:3])} from {found.reference}: use both on one outing and band, in turns."


def in_percent(one):
    """A line of shares as percentages."""
    scaled = {
        name: None if getattr(one, name) is None else 100 * getattr(one, name)
        for name in ("value", "low", "high", "raw_effect", "effect", "effect_low", "effect_high")
    }
    return replace(one, **scaled)


def split_in(seen):
    """The stints of more than one part: of these alone the times of the contacts matter."""
    parts = Counter(piece.stint for piece in seen.pieces)
    return [stint for stint, count in parts.items() if count > 1]


def counted(asked, seen, *columns):
    """The contacts that count: stint, seconds by the sun, and these columns."""
    split = split_in(seen)
    whole = Contact.objects.of(asked.operator).counted().order_by().exclude(stint__in=split)
    whole = whole.filter(stint__in=asked.stints.order_by().values("pk"))
    for stint, *values in whole.values_list("stint_id", *columns):
        yield stint, None, values
    yield from timed(asked, split, *columns)


def timed(asked, split, *columns):
    """The contacts of some stints with their seconds by the sun."""
    rows = Contact.objects.of(asked.operator).counted().order_by()
    wanted = rows.filter(stint__in=split).values_list("stint_id", "started_at", "outing__site__longitude_deg", *columns)
    for stint, at, longitude_deg, *values in wanted if split else ():
        yield stint, at.timestamp() + longitude_deg * DEGREE_S, values


def placed(asked, seen):
    """The distances of the contacts that have one, in the operator's units.

    Of stints of one part they come as a text each, as the page of performance reads them: 100,000 rows take longer.
    """
    import numpy

    split, found, one_km = split_in(seen), [], units.distance_from_km(1.0, asked.operator.units)
    whole = performance.with_contacts(asked.operator, asked.stints.of(asked.operator).exclude(pk__in=split))
    for stint, text in whole.values_list("pk", "placed"):
        if text:
            codes = numpy.fromstring(text, dtype=numpy.int64, sep=",")
            km = codes[codes != performance.NOWHERE] // performance.STEP / 1000
            found += [Told(stint, None, value) for value in numpy.round(km * one_km, DECIMALS).tolist()]
    return found + [
        Told(stint, sun_s, round(km * one_km, DECIMALS)) for stint, sun_s, (km,) in timed(asked, split, "distance_km")
        if km is not None
    ]


def strengths(asked, seen, column):
    """The strengths of honest reports, how many outings were left out, and how many scales the reports are on."""
    rows = list(counted(asked, seen, "outing_id", "rst_sent", "rst_rcvd", "mode", "submode"))
    honest, formal = reports.honest_outings(
        reports.Exchanged(str(outing), sent, received, dial.usual_report(mode, submode) if mode else "")
        for _, _, (outing, sent, received, mode, submode) in rows
    )
    told, scales = [], set()
    for stint, sun_s, (outing, sent, received, mode, submode) in rows:
        if str(outing) in honest:
            report = received if column == "rst_rcvd" else sent
            decibels = dial.reports_decibels(mode, submode)
            value = reports.strength_db(report, decibels=decibels)
            if value is not None:
                scales.add(decibels)
                told.append(Told(stint, sun_s, value))
    return told, len(formal), len(scales)


def samples_of(seen, told):
    """The values by stints and hour blocks, as `strata.Sample`s in a settled order."""
    by_stint, pieces = defaultdict(list), defaultdict(list)
    for one in told:
        by_stint[one.stint].append(one)
    for piece in seen.pieces:
        pieces[piece.stint].append(piece)
    found = []
    for stint, mine in sorted(pieces.items()):
        values = [[] for _ in mine]
        for one in by_stint.get(stint, ()):
            values[nearest(mine, one.sun_s)].append(one.value)
        found += [
            strata.Sample(seen.groups[piece.key].label, tuple(sorted(part)), piece.block, f"{stint}", piece.pair)
            for piece, part in zip(mine, values, strict=True) if part
        ]
    return tuple(found)


def nearest(pieces, sun_s):
    """Which of a stint's parts a moment belongs to: that of its hour block, else the first."""
    if len(pieces) == 1:
        return 0
    hour = int(sun_s // BLOCK_S) % HOURS
    return next((place for place, piece in enumerate(pieces) if piece.block[HOUR] == hour), 0)
