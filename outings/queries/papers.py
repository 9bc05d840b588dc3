"""The checklist on paper as data: what a plan and its lines become, in the operator's units and on their clock."""

from equipment.templatetags import kits, sweeps
from equipment.templatetags import people as stay
from equipment.templatetags import units as shown
from outings.models import Site
from outings.papers import cautions, checklist, log_sheet
from outings.templatetags import plans as spans
from outings.templatetags import positions, times

SITE_TEXTS = ("permission", "facilities", "supports", "noise", "notes")


def checklist_paper(plan, lines, check, energy, people, operator, address, log_pages=1):
    """Put together what papers.checklist prints.

    `plan` is a queries.plans.Plan, `lines` a queries.checklists.Checklist, `check` a KitCheck or None,
    `energy` a KitLasting or None, `people` a KitReach or None, `address` where the outing is on the server.
    """
    outing, site = plan.outing, plan.outing.site
    title = outing.title or f"{site.name}, {times.local_date(outing.window_start, site.time_zone)}"
    return checklist.Checklist(
        title=title,
        station_call=outing.station_call,
        operator=operator.name,
        address=address,
        facts=tuple(facts(plan, operator)),
        light=tuple(light_lines(plan.light, operator)),
        light_notes=tuple(light_notes(plan.light, operator)),
        kit=outing.kit.name if outing.kit else "",
        kit_weight=weight_text(plan.kit, operator) if plan.kit else "",
        bands=tuple(band_lines(plan.kit, operator)),
        check=tuple(check_rows(check)),
        check_notes=tuple(check_notes(check)),
        energy=tuple(energy_lines(energy)),
        people=tuple(people_rows(people, operator)),
        people_notes=tuple(people_notes(people)),
        sections=tuple(
            checklist.Section(section.title.capitalize(), tuple(
                checklist.Line(line.text, line.quantity, "", line.ticked_at is not None) for line in section.lines
            ))
            for section in lines.sections
        ),
        site_texts=tuple(
            (str(Site._meta.get_field(name).verbose_name), getattr(site, name))
            for name in SITE_TEXTS if getattr(site, name).strip()
        ),
        cautions=cautions.CAUTIONS,
        log=log_sheet.LogSheet(
            station_call=outing.station_call, site=site.name, grid=site.grid_8 or site.grid_6,
            utc_days=", ".join(f"{day:%Y-%m-%d}" for day in plan.light.utc_days),
            references="; ".join(outing.reference_texts), pages=log_pages,
        ) if log_pages else None,
    )


def facts(plan, operator):
    """The lines of the head."""
    outing, site = plan.outing, plan.outing.site
    start, end = outing.window_start, outing.ends_at
    yield checklist.Fact("site", site.name)
    yield checklist.Fact("grid", f"{site.grid_6}  {site.grid_8}".strip(), call=True)
    written = f"{positions.decimal_position(site)}   {positions.minutes_position(site)}"
    yield checklist.Fact("coordinates", f"{written}{error_text(site, operator)}")
    yield checklist.Fact("window, UTC", spans.utc_span(start, end))
    local = spans.local_span(start, end, site.time_zone, operator.clock)
    yield checklist.Fact("window, local", f"{local} ({spans.zone_text(site.time_zone, start, end)})")
    yield checklist.Fact("call used", outing.station_call, call=True)
    if outing.references:
        yield checklist.Fact("references", "; ".join(outing.reference_texts))
    if outing.bands:
        yield checklist.Fact("bands", ", ".join(outing.bands))
    if outing.goal_contacts:
        yield checklist.Fact("goal", f"{outing.goal_contacts} contacts")
    exchange = outing.get_exchange_display()
    yield checklist.Fact("given", f"{exchange}: {outing.exchange_text}" if outing.exchange_text else exchange)
    if outing.conditions.strip():
        yield checklist.Fact("conditions", outing.conditions)
    if outing.notes.strip():
        yield checklist.Fact("notes", outing.notes)


def error_text(site, operator):
    """How good a position is, where that is known."""
    if site.position_error_m is None:
        return ""
    if site.position_error_m >= 1000:
        good = shown.distance_km(site.position_error_km, operator.units)
    else:
        good = shown.altitude(site.position_error_m, operator.units)
    return f"   (good to {good})"


def light_lines(light, operator):
    """Dawn to dusk of each date."""
    for day in light.days:
        for event in day.events:
            at = times.to_the_minute(event.at)
            what = event.what if len(light.days) == 1 else f"{day.date:%Y-%m-%d} {event.what}"
            local = times.clock_face(times.in_zone(at, light.zone), operator.clock)
            yield checklist.LightLine(what, spans.utc_on(at, day.date), local)


def light_notes(light, operator):
    """What the light table cannot show: missing events, the end of the window, changes of day and clock."""
    for day in light.days:
        for note in day.notes:
            yield f"{day.date:%Y-%m-%d}: {note}" if len(light.days) > 1 else note
    yield ending_text(light)
    local = times.local_face(light.next_utc_midnight, light.zone, operator.clock)
    yield f"The UTC day, and with it the log day, changes at 00:00 UTC, {local} local time."
    yield from light.clock_sentences


def ending_text(light):
    """How much light is left when the window ends."""
    ending = light.ending
    if ending.day_left_h is not None:
        return f"At the end of the window {times.hours(ending.day_left_h)} of daylight are left."
    if ending.is_day:
        return "At the end of the window the sun is up, and does not set within the next 24 hours."
    if ending.until_dusk_h is not None:
        return f"At the end of the window the sun is down; it is dark in {times.hours(ending.until_dusk_h)}."
    return f"At the end of the window the sun is down: {ending.height.light}."


def weight_text(kit, operator):
    """The weight of a kit, and how much of it was never weighed."""
    weight = kit.weight
    if not weight.weighed:
        return "not weighed"
    text = shown.weight(weight.weight_kg, operator.units)
    return f"{text} and {weight.unweighed} not weighed" if weight.unweighed else text


def energy_lines(energy):
    """Whether the kit's energy lasts: the sentence, then mode by mode; why that is not known."""
    if energy is None:
        return
    if energy.answer is None:
        yield f"Will it last? {energy.why_not}"
        return
    yield f"Energy: {energy.answer.sentence}"
    for mode, current, hours, enough in energy.answer.tables[0].rows:
        yield f"{mode}: {current} in the mean, {hours}; enough: {enough}"


def check_rows(check):
    """What to put up for each band, and what arrives there."""
    for one in check.bands if check else ():
        put_up = f"{one.row.settings.antenna}: {one.row.settings.arrangement}" if one.row else "nothing"
        lost = f"; {kits.whip_loss(one.whip_db)} of it lost in coil and ground" if one.whip_db else ""
        yield one.band, put_up, f"{kits.arrives(one)}{lost}" if one.row else ""


def check_notes(check):
    """The check in sentences: what it comes to, power and current, what is missing."""
    if check is None:
        return
    yield f"{check.word.capitalize()}. {check.sentence}"
    if check.setting:
        draw = f", {kits.ranged(check.draw)} in the mean" if check.draw else ""
        yield f"With {kits.at_the_radio(check)}{draw}."
    yield f"Missing: {'; '.join(check.missing) or 'nothing that is known of'}."


def people_rows(people, operator):
    """How far people stay away on each band, in the operator's units."""
    for one in people.bands if people else ():
        yield (
            one.band, stay.stay_beyond(one.public.beyond_m, operator.units),
            stay.stay_beyond(one.controlled.beyond_m, operator.units), stay.formula(one.public, operator.units),
        )


def people_notes(people):
    """What belongs to the distances; why there are none."""
    if people is None:
        return []
    return stay.reach_notes(people) if people.bands else [stay.why_not_reckoned(people)]


def band_lines(kit, operator):
    """Each wanted band with the arrangements that cover it, and those that nothing covers."""
    for line in kit.bands if kit else ():
        if not line.rows:
            yield checklist.BandLine(line.band, "nothing in this kit is set for it", "")
        for row in line.rows:
            name = f"{row.settings.antenna}: {row.settings.arrangement}"
            known = f"{sweeps.verdict(row.resonance)}: {sweeps.evidence(row.resonance)}"
            yield checklist.BandLine(line.band, name, spans.setting(row.settings, operator.units), known)
