"""What a phone takes along to an outing: all that the field page needs without a network, as plain JSON data."""

import datetime

from django.db.models import OuterRef, Prefetch, Q, Subquery, TextField
from django.db.models.functions import Cast, Substr

from equipment.models import Arrangement, BandSetting, Kit, Pack, PackReading, Radio
from equipment.queries import as_set
from equipment.templatetags import units as shown
from outings import geography, sun
from outings.adif import tables
from outings.models import Contact, FieldEntry, Outing, Site
from outings.templatetags import plans

from .energy import outing_energy
from .log import sources_of

EARLIER_CALLS = 20_000  # newest earlier contacts, one a call
LIGHT_DAYS = 3
NEXT_SITE_KM = 150  # sites no further than this may be gone on to on the same day


def moment(when):
    """A time as the phone reads it: 2026-05-01T14:05:00Z, fractions of a second only where there are some."""
    if when is None:
        return None
    when = when.astimezone(datetime.UTC)
    return when.strftime("%Y-%m-%dT%H:%M:%S.%fZ" if when.microsecond else "%Y-%m-%dT%H:%M:%SZ")


def on_board(outing, now, operator):
    """Everything of an outing that is needed offline, as data that JSON can carry.

    A member of the outing is given nothing of its owner's but what belongs to it.
    """
    owns = operator.pk == outing.owner_id
    return {
        "made_at": moment(now),
        "outing": outing_data(outing),
        "units": operator.units,
        "decimal_sign": operator.decimal_sign,
        "gear": gear(outing, operator, everything=owns),
        "kits": kits(outing, everything=owns),
        "sites": sites(outing) if owns else [site_data(outing.site)],
        "stints": [
            stint_data(stint) for stint in outing.stints.prefetch_related("pauses").select_related("follows", "block")
        ],
        "fair_tests": fair_tests(outing) if owns else [],
        "contacts": [contact_data(contact) for contact in outing.contacts.select_related("stint")],
        "checklist": [
            {"uuid": str(line.uuid), "revision": line.revision, "text": line.text, "section": line.section,
             "quantity": line.quantity, "position": line.position, "ticked_at": moment(line.ticked_at)}
            for line in outing.checklist.all()
        ],
        "remarks": [
            {"uuid": str(remark.uuid), "revision": remark.revision, "at": moment(remark.at), "about": remark.about,
             "value": remark.value, "text": remark.text}
            for remark in outing.remarks.all()
        ],
        "readings": readings(outing),
        "energy": energy_text(outing) if owns else "",
        "light": light(outing.site, outing.window_start),
        "same_day": same_day(outing) if owns else [],
        "earlier": earlier(outing, operator),
        "phone_modes": sorted(tables.PHONE_MODES),
        "band_edges": [[band.name, band.lower_hz, band.upper_hz] for band in tables.BANDS],
    }


def energy_text(outing):
    """Whether the kit's energy lasts through the window, in a sentence; empty where that is not known."""
    found = outing_energy(outing)
    return f"As planned: {found.answer.sentence}" if found and found.answer else ""


def outing_data(outing):
    """The plan of an outing."""
    return {
        "uuid": str(outing.uuid), "pk": outing.pk, "revision": outing.revision, "title": str(outing),
        "site": site_data(outing.site), "station_call": outing.station_call, "references": outing.references,
        "window_start": moment(outing.window_start), "window_end": moment(outing.window_end),
        "started_at": moment(outing.started_at), "ended_at": moment(outing.ended_at), "kit": outing.kit_id,
        "bands": outing.bands,
        "goal_contacts": outing.goal_contacts, "exchange": outing.exchange, "exchange_text": outing.exchange_text,
        "notes": outing.notes,
    }


def site_data(site):
    """A site with its position and time zone."""
    return {
        "pk": site.pk, "name": site.name, "latitude_deg": site.latitude_deg, "longitude_deg": site.longitude_deg,
        "grid": site.grid, "time_zone": site.time_zone, "references": site.references,
    }


def sites(outing):
    """Sites in use, those within reach of an outing on the same day with their light."""
    found = []
    for site in Site.objects.of(outing.owner_id).in_use():
        data = site_data(site)
        if site.pk != outing.site_id and geography.way(outing.site.place, site.place).distance_km <= NEXT_SITE_KM:
            data["light"] = light(site, outing.window_start)
        found.append(data)
    return found


def kits(outing, *, everything):
    """Kits by what is in them: those in use and the outing's own, or the outing's alone."""
    wanted = Q(pk=outing.kit_id) | Q(retired_on__isnull=True) if everything else Q(pk=outing.kit_id)
    found = Kit.objects.of(outing.owner_id).filter(wanted)
    return [
        {"pk": kit.pk, "name": kit.name, "arrangements": [one.pk for one in kit.arrangements.all()],
         "items": [line.item_id for line in kit.lines.all()],
         "pieces": [{"name": line.item.name, "quantity": line.quantity} for line in kit.lines.all()]}
        for kit in found.prefetch_related("lines__item", "arrangements")
    ]


def gear(outing, operator, *, everything):
    """Radios, arrangements with their settings, packs with their last reading; all that there are, or the outing's."""
    owner = outing.owner_id
    radios, packs = Radio.objects.of(owner).in_use(), Pack.objects.of(owner).in_use()
    putting_up = Arrangement.objects.of(owner).in_use()
    if not everything:
        radios, packs = radios.filter(pk__in=outing.gear_at("radio")), packs.filter(pk__in=outing.gear_at("pack"))
        putting_up = putting_up.filter(pk__in=outing.gear_at("arrangement"))
    settings = BandSetting.objects.select_related("arrangement__antenna", "arrangement__feedline").order_by("id")
    newest = PackReading.objects.filter(pack=OuterRef("pk")).order_by("-at", "-id").values("pk")[:1]
    packs = list(packs.annotate(newest=Subquery(newest)))
    in_kit = set(outing.kit.lines.values_list("item_id", flat=True)) if outing.kit else set()
    last = PackReading.objects.in_bulk([pack.newest for pack in packs if pack.newest])
    return {
        "radios": [
            {"pk": radio.pk, "name": radio.name, "modes": radio.modes,
             "powers": [{"label": p.label, "output_w": p.output_w} for p in radio.power_settings.all()]}
            for radio in radios.prefetch_related("power_settings")
        ],
        "arrangements": [
            {"pk": one.pk, "name": one.name, "antenna": one.antenna.name,
             "settings": [setting_data(as_set(s), s.band, operator.units) for s in one.band_settings.all()]}
            for one in putting_up.select_related("antenna").prefetch_related(Prefetch("band_settings", settings))
        ],
        "packs": [
            {"pk": pack.pk, "name": pack.name, "chemistry": pack.chemistry,
             "last": reading_data(last[pack.newest]) if pack.newest in last else None}
            for pack in packs
        ],
        "sources": sources_of(owner, in_kit, everything=everything),
    }


def setting_data(settings, band, units):
    """How an arrangement is put up for a band, in words: all of it, and what is changed from band to band."""
    length_m = settings.element_length_m
    changed = (
        "" if length_m is None else f"element {shown.wire_length(length_m, units)}",
        settings.tap and f"tap {settings.tap}", "tuner in line" if settings.needs_tuner else "", settings.note,
    )
    return {"band": band, "words": plans.setting(settings, units), "short": ", ".join(filter(None, changed))}


def reading_data(reading):
    """A reading of a pack."""
    return {
        "uuid": str(reading.uuid), "revision": reading.revision, "pack": reading.pack_id, "at": moment(reading.at),
        "voltage_v": reading.voltage_v, "current_a": reading.current_a, "temperature_c": reading.temperature_c,
        "doing": reading.doing, "resting_since": moment(reading.resting_since), "note": reading.note,
    }


def readings(outing):
    """What phones read off packs at this outing."""
    made = FieldEntry.objects.filter(outing=outing, kind="reading").values("subject")
    return [reading_data(one) for one in PackReading.objects.of(outing.owner_id).filter(uuid__in=made)]


def stint_data(stint):
    """A stint with its pauses."""
    return {
        "uuid": str(stint.uuid), "revision": stint.revision,
        "follows": str(stint.follows.uuid) if stint.follows else None,
        "radio": stint.radio_id, "arrangement": stint.arrangement_id, "pack": stint.pack_id,
        "other_source": stint.other_source, "power_w": stint.power_w, "band": stint.band,
        "frequency_hz": stint.frequency_hz, "mode": stint.mode, "submode": stint.submode, "tuner_in": stint.tuner_in,
        "calling": stint.calling, "block": str(stint.block.uuid) if stint.block else None,
        "swr_at_radio": stint.swr_at_radio, "started_at": moment(stint.started_at),
        "ended_at": moment(stint.ended_at), "setup_min": stint.setup_min, "takedown_min": stint.takedown_min,
        "note": stint.note,
        "pauses": [
            {"uuid": str(pause.uuid), "revision": pause.revision, "started_at": moment(pause.started_at),
             "ended_at": moment(pause.ended_at)}
            for pause in stint.pauses.all() if pause.deleted_at is None
        ],
    }


def fair_tests(outing):
    """The fair tests of an outing, each with its blocks in order, minutes from its beginning."""
    return [fair_test_data(plan) for plan in outing.switching_plans.prefetch_related("blocks")]


def fair_test_data(plan):
    return {
        "uuid": str(plan.uuid), "title": str(plan), "change_min": plan.change_min, "ended_at": moment(plan.ended_at),
        "blocks": [
            {"uuid": str(block.uuid), "number": block.number, "round": block.round,
             "arrangement": block.arrangement_id, "start_min": block.start_min, "end_min": block.end_min}
            for block in plan.blocks.all()
        ],
    }


CONTACT_COLUMNS = (
    "call", "pending", "seconds_known", "band", "frequency_hz", "mode", "submode", "rst_sent", "rst_rcvd",
    "station_call", "operator_call", "power_w", "their_grid", "their_programme", "their_reference", "name", "qth",
    "state", "country", "comment", "notes", "exchange_sent", "exchange_rcvd", "serial_sent", "serial_rcvd",
)


def contact_data(contact):
    """A contact of this outing as the phone edits it."""
    data = {column: getattr(contact, column) for column in CONTACT_COLUMNS}
    return data | {
        "uuid": str(contact.uuid), "revision": contact.revision, "started_at": moment(contact.started_at),
        "stint": str(contact.stint.uuid) if contact.stint else None,
    }


def light(site, start):
    """Every dawn, sunrise, sunset and dusk from a day before a start to three days after, in order of time."""
    begin, end = start - datetime.timedelta(days=1), start + datetime.timedelta(days=LIGHT_DAYS)
    events = []
    for threshold_deg, rising, setting in ((sun.SUNRISE_DEG, "sunrise", "sunset"), (sun.CIVIL_DEG, "dawn", "dusk")):
        for crossing in sun.crossings(site.latitude_deg, site.longitude_deg, begin, end, threshold_deg):
            events.append({"what": rising if crossing.rising else setting, "at": moment(crossing.at)})
    return sorted(events, key=lambda event: event["at"])


def same_day(outing):
    """Contacts with the same station call at other outings on the UTC days around this one, for duplicates."""
    since = outing.window_start - datetime.timedelta(days=1)
    until = (outing.window_end or outing.window_start) + datetime.timedelta(days=2)
    rows = Contact.objects.of(outing.owner_id).filter(
        station_call=outing.station_call, started_at__gte=since, started_at__lt=until
    ).exclude(outing=outing).select_related("outing").order_by("-started_at")[:5000]
    return [
        {"call": c.call, "band": c.band, "mode": c.mode, "submode": c.submode, "started_at": moment(c.started_at),
         "their_reference": c.their_reference, "references": c.outing.references}
        for c in rows
    ]


def earlier(outing, operator):
    """The newest earlier contact of an operator with each call and how many there were, the newest EARLIER_CALLS.

    The day is taken as text, since reading a hundred thousand moments takes as long as all else. Short keys, since
    there are many: c call, t time, b band, m mode, n name, g grid, s state, k how often.
    """
    rows = (
        Contact.objects.of(operator).exclude(outing=outing)
        .annotate(day=Substr(Cast("started_at", TextField()), 1, 10))
        .order_by("-started_at").values_list("call", "day", "band", "mode", "name", "their_grid", "state")
    )
    found = {}
    for call, day, band, mode, name, grid, state in rows[: 5 * EARLIER_CALLS].iterator():
        known = found.get(call)
        if known is None:
            if len(found) >= EARLIER_CALLS:
                continue
            found[call] = {
                "c": call, "t": day, "b": band, "m": mode, "n": name, "g": grid, "s": state, "k": 1,
            }
            continue
        known["k"] += 1
        for key, value in (("n", name), ("g", grid), ("s", state)):
            known[key] = known[key] or value
    return list(found.values())


def field_outings(operator, now):
    """The outings that a phone would take along: running, coming, or of the last days."""
    since = now - datetime.timedelta(days=4)
    outings = Outing.objects.open_to(operator).filter(window_start__gte=since)
    return outings.select_related("site", "kit").order_by("window_start")
