"""Gear judged by values of its contacts: the words around `outings.evidence.reach` and `outings.evidence.reports`."""

from collections import Counter, defaultdict
from dataclasses import dataclass, replace

from django.db import models

from equipment import units
from outings import dial
from outings.evidence import reach, reports, strata
from outings.models import Contact

from . import performance
from .dimensions import DIMENSIONS
from .judging import Judged, Line
from .observing import HOUR, sun_blocks
from .packed import Joined, Microseconds, Pair, numbers
from .remembering import remembered

HOURS = 6  # hour blocks of a day
DECIMALS = 1  # of kilometres and decibels that are remembered


@dataclass(frozen=True)
class Values:
    """The values of a stint's contacts as an array; beside it the hour block of each by the sun, from 0 to 5, where the
    stint is of more than one part, else None."""

    values: object
    hours: object = None


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
    return judged(asked, placed(asked), compare, *arguments, unit=unit, what=what, named={"unit": unit})


def reports_received(asked):
    """Judged by how strongly this station was heard."""
    return by_reports(asked, "rst_rcvd", ("power",))


def reports_sent(asked):
    """Judged by how strongly the others were heard."""
    return by_reports(asked, "rst_sent", ())


def by_reports(asked, column, more):
    """Judged by reports in dB, of outings where they were honest; the own power matters to those received."""
    asked = replace(asked, more=tuple(dict.fromkeys((*asked.more, *more))))
    told, left_out, scales = strengths(asked, column)
    found = judged(asked, told, reports.compare_reports, unit="dB", what="with an honest report on both sides")
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


def judged(asked, told, compare, *arguments, unit, what, named=None):
    """The judgement of values by a function that compares them; told: {stint: Values}; named: its named arguments."""
    seen = asked.seen
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


def placed(asked):
    """{stint: Values} of the distances of the contacts that have one, in the operator's units."""
    import numpy

    split, found, one_km = split_in(asked.seen), {}, units.distance_from_km(1.0, asked.operator.units)

    def gather(stint, codes, hours=None):
        known = codes != performance.NOWHERE
        km = codes[known] // performance.STEP / 1000
        found[stint] = Values(numpy.round(km * one_km, DECIMALS), None if hours is None else hours[known])

    whole = performance.with_contacts(asked.operator, asked.stints.of(asked.operator).exclude(pk__in=split))
    for stint, text in whole.values_list("pk", "placed"):
        gather(stint, numbers(text))
    if split:
        pairs = Joined(Pair(Microseconds("started_at"), performance.PLACED))
        of_stints = contacts_of(asked, split).values("stint_id", "outing__site__longitude_deg")
        rows = of_stints.annotate(pairs=pairs).values_list("stint_id", "outing__site__longitude_deg", "pairs")
        for stint, longitude_deg, text in rows:
            times_us, codes = numbers(text).reshape(-1, 2).T
            gather(stint, codes, sun_blocks(times_us, longitude_deg) % HOURS)
    return found


def contacts_of(asked, stints):
    """The contacts of some stints that count."""
    return Contact.objects.of(asked.operator).counted().filter(stint__in=stints).order_by()


REPORTS = ("stint_id", "outing_id", "rst_sent", "rst_rcvd", "mode", "submode")


def exchanged(asked):
    """What was exchanged: rows of REPORTS, in how many contacts, and in which hour block by the sun (None where the
    stint is of one part)."""
    import numpy

    split = split_in(asked.seen)
    stints = asked.stints.of(asked.operator).order_by().exclude(pk__in=split)
    alike = contacts_of(asked, stints.values("pk")).values(*REPORTS).annotate(contacts=models.Count("pk"))
    for *row, count in alike.values_list(*REPORTS, "contacts"):
        yield *row, count, None
    if split:
        moments = contacts_of(asked, split).annotate(us=Microseconds("started_at"))
        rows = list(moments.values_list(*REPORTS, "us", "outing__site__longitude_deg"))
        times_us, longitudes_deg = (numpy.array([row[place] for row in rows]) for place in (-2, -1))
        hours = sun_blocks(times_us, longitudes_deg) % HOURS
        for (*row, _, _), hour in zip(rows, hours.tolist(), strict=True):
            yield *row, 1, hour


def strengths(asked, column):
    """{stint: Values} of honest reports in dB, how many outings were left out, on how many scales the reports are."""
    import numpy

    rows = list(exchanged(asked))
    honest, formal = reports.honest_outings(
        reports.Exchanged(outing, sent, received, dial.usual_report(mode, submode) if mode else "", contacts)
        for _, outing, sent, received, mode, submode, contacts, _ in rows
    )
    values, hours, scales = defaultdict(list), defaultdict(list), set()
    for stint, outing, sent, received, mode, submode, contacts, hour in rows:
        if outing in honest:
            decibels = dial.reports_decibels(mode, submode)
            value = reports.strength_db(received if column == "rst_rcvd" else sent, decibels=decibels)
            if value is not None:
                scales.add(decibels)
                values[stint] += [value] * contacts
                if hour is not None:
                    hours[stint].append(hour)
    told = {stint: Values(numpy.array(mine), numpy.array(hours[stint]) if stint in hours else None)
            for stint, mine in values.items()}
    return told, len(formal), len(scales)


def samples_of(seen, told):
    """The values by stints and hour blocks, as `strata.Sample`s in a settled order."""
    import numpy

    pieces = defaultdict(list)
    for piece in seen.pieces:
        if piece.stint in told:
            pieces[piece.stint].append(piece)
    found = []
    for stint, mine in sorted(pieces.items()):
        of_stint = told[stint]
        place = None if of_stint.hours is None else places(mine)[of_stint.hours]
        for number, piece in enumerate(mine):
            part = of_stint.values if place is None else of_stint.values[place == number]
            if len(part):
                found.append(strata.Sample(
                    seen.groups[piece.key].label, tuple(numpy.sort(part).tolist()), piece.block, f"{stint}", piece.pair
                ))
    return tuple(found)


def places(pieces):
    """Which of a stint's parts each hour block belongs to, as an array: that of this hour, else the first."""
    import numpy

    hours = [piece.block[HOUR] for piece in pieces]
    return numpy.array([hours.index(hour) if hour in hours else 0 for hour in range(HOURS)])
