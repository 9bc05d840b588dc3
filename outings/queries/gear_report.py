"""The gear report as data: a judgement in texts, for paper and picture."""

from outings.papers import gear_report
from outings.templatetags import judgements, times


def gear_report_of(found, measure, word, operator, chosen, now):
    """Put together what papers.gear_report shows.

    `found` is a judging.Judged, `word` what was compared, `chosen` the words of the filter.
    """
    return gear_report.GearReport(
        title=f"{measure.word.capitalize()} by {word}",
        call=operator.call_sign, operator=operator.name,
        verdict=found.verdict,
        counted=f"From {counted(found.stints, 'stint')}, {counted(found.contacts, measure.counts[:-1])} and "
                f"{times.hours(found.on_air_h)} on the air{inferred(found)}.",
        held=f"Held fixed: {', '.join(found.held_fixed)}." if found.held_fixed else "",
        chosen=f"Only {'; '.join(chosen)}." if chosen else "",
        rows=tuple(row(line, found, measure) for line in found.lines),
        neutral=measure.neutral, unit=f"{measure.against} ({found.reference})",
        read=measure.read if found.compares else "",
        next=found.next, remarks=tuple(f"{text[:1].upper()}{text[1:]}." for text in found.remarks),
        method=found.method, made=f"Made with stationlog on {times.utc_moment(now)}.",
        head=(word, "adjusted", "95 % interval", f"raw, {measure.unit}", "95 % interval", measure.counts, "on the air"),
    )


def counted(count, word):
    return f"{count} {word}{'' if count == 1 else 's'}"


def inferred(found):
    return f", {times.hours(found.inferred_h)} of it inferred" if found.inferred else ""


def row(line, found, measure):
    """A line of the judgement; what could not be told shows its raw figure."""
    text = judgements.picture_text(line, measure) if found.compares else raw_text(line, measure)
    shows = found.compares and (line.is_told or line.is_reference)
    return gear_report.Row(
        label=line.label, value=line.effect, low=line.effect_low, high=line.effect_high, raw=line.raw_effect,
        is_reference=line.is_reference, is_told=line.is_told and found.compares, text=text,
        cells=(
            judgements.effect(line, measure) if shows else "–",
            judgements.effect_interval(line, measure) or ("reference" if shows else "cannot be told"),
            judgements.raw_value(line) or "–", judgements.raw_interval(line) or "–", str(line.contacts),
            times.hours(line.on_air_h),
        ),
        why=line.why,
    )


def raw_text(line, measure):
    """The raw figure in words."""
    interval = judgements.raw_interval(line)
    return f"raw {judgements.raw_value(line)} {measure.unit} ({interval})" if interval else "no figure"
