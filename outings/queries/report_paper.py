"""The report of an outing on paper as data: its figures as texts in the operator's units."""

from equipment import units as quantities
from equipment.templatetags import units as shown
from outings import markdown
from outings.papers import maps, outing_report
from outings.templatetags import approximate, evidence, plans, reports, times

RAW = (
    "Raw figures with exact 95 % intervals for independent contacts; bursts make them too narrow. "
    "Arrangements were not used on the same bands and hours."
)


def report_paper(report, operator):
    """Put together what papers.outing_report prints, from a queries.report.Report."""
    outing = report.outing
    return outing_report.OutingReport(
        title=f"{outing}: report", station_call=outing.station_call, operator=operator.name,
        facts=tuple(facts(report, operator)), tables=tuple(tables(report, operator)), map=map_of(report, operator),
        map_note=f"Great-circle map around {outing.site.name}: distance and bearing are true from the centre. "
                 f"{placed(report)}",
        notes=tuple((note.title, markdown.to_text(note.text)) for note in report.notes) + tuple(
            (f"{times.utc_time(remark.at)}", str(remark)) for remark in report.remarks
        ),
    )


def placed(report):
    """How many contacts the map has, and what its signs are."""
    total, near = report.found.total, report.near
    if near is None:
        return f"{total.with_position} contacts with a position, {total.without_position} without."
    return (
        f"{total.with_position} contacts placed by grid or position (dots), {near.contacts} approximately by state or "
        f"country (circles), {approximate.nowhere(near, total)} nowhere."
    )


def facts(report, operator):
    """The lines of the head."""
    outing, total = report.outing, report.found.total
    yield "site", f"{outing.site.name}, {outing.site.grid_6}"
    yield "time, UTC", plans.utc_span(report.starts_at, report.ends_at)
    yield "time, local", plans.local_span(report.starts_at, report.ends_at, outing.site.time_zone, operator.clock)
    if outing.references:
        yield "references", "; ".join(outing.reference_texts)
    yield "contacts", f"{report.contacts}, {reports.goal_text(report)}"
    yield "on the air", f"{times.hours(total.on_air_h)} in {total.stints} stints"
    if total.rate:
        yield "per hour, raw", f"{evidence.rate_value(total.rate)} ({evidence.rate_interval(total.rate)})"
    if total.median:
        unit = evidence.distance_unit(operator.units)
        yield "median distance", (
            f"{evidence.quantile_value(total.median, operator.units)} {unit} "
            f"({evidence.quantile_interval(total.median, operator.units)})"
        )
    if total.farthest:
        far = shown.distance_between(total.farthest.distance_km, total.farthest.error_km, operator.units)
        yield "farthest", f"{total.farthest.call} on {total.farthest.band}, {far}"
    if outing.conditions.strip():
        yield "conditions", outing.conditions


def tables(report, operator):
    """Hours, bands and modes, arrangements."""
    zone = report.outing.site.time_zone
    yield outing_report.Table("Through the day", (
        ("UTC hour", "local", "contacts", "on the air", "per hour", "95 % interval"),
        *(
            (times.utc_moment(line.starts_at), times.local_face(line.starts_at, zone, operator.clock),
             str(line.contacts), reports.minutes_long(line.on_air_s), evidence.rate_value(line.rate) or "–",
             evidence.rate_interval(line.rate) or "–")
            for line in report.hours
        ),
    ), (0.25, 0.15, 0.13, 0.15, 0.12, 0.2))
    yield outing_report.Table("By band and mode", (
        ("band", "mode", "contacts"), *((one.band, one.mode, str(one.contacts)) for one in report.counts),
    ), (0.3, 0.4, 0.3))
    unit = evidence.distance_unit(operator.units)
    yield outing_report.Table("By arrangement", (
        ("arrangement", "on the air", "contacts", "per hour", "95 % interval", f"median {unit}"),
        *(
            (group.label, times.hours(group.on_air_h), str(group.contacts), evidence.rate_value(group.rate) or "–",
             evidence.rate_interval(group.rate) or "–", evidence.quantile_value(group.median, operator.units) or "–")
            for group in report.found.groups
        ),
    ), (0.36, 0.13, 0.12, 0.11, 0.16, 0.12), RAW)
    if report.near:
        yield outing_report.Table("Approximately placed", (
            ("state or country", "contacts", "distance", "within about", "towards"),
            *(
                (line.area.name, str(line.contacts), approximate.line_distance(line, operator.units),
                 shown.distance_km(line.area.radius_km, operator.units), approximate.about_bearing(line.only) or "–")
                for line in report.near.lines
            ),
        ), (0.36, 0.12, 0.24, 0.14, 0.14), approximate.median_text(report.near, operator.units))


def map_of(report, operator):
    """The map; None where no contact has a position, not even an approximate one."""
    dots = tuple((dot.distance_km, dot.bearing_deg) for dot in report.found.dots)
    around = tuple((one.distance_km, one.bearing_deg or 0.0) for one in report.near.around) if report.near else ()
    if not (dots or around) or report.found.centre is None:
        return None
    unit = quantities.DISTANCE_NAMES.get(operator.units, "km")
    rings, reach_km = maps.rings_for(
        max(distance_km for distance_km, _ in dots + around), quantities.distance_to_km(1, operator.units), unit
    )
    return maps.Map(
        report.found.centre.latitude_deg, report.found.centre.longitude_deg, dots, rings, reach_km, around
    )
