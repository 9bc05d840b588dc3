"""The door through which the demo scenario enters a log, and leaves it again."""

import datetime
import uuid
from collections import defaultdict

from django.apps import apps
from django.db import IntegrityError, transaction

from equipment import progress
from equipment.models import (
    Accessory,
    Antenna,
    Arrangement,
    BandSetting,
    Change,
    Coil,
    CoilTap,
    Feedline,
    Kit,
    KitItem,
    Pack,
    PackLog,
    PackReading,
    PowerSetting,
    Radio,
    Sweep,
    gear_history,
)
from equipment.models.history import chunks
from equipment.physics import log_files, sweep_files
from equipment.queries.pack_logs import look
from outings.models import ChecklistLine, Contact, DemoScenario, Note, Outing, Pause, SharedPage, Site, Stint

from . import gear, pack_logs, scenario, sweeps

CAUSE = "demo"
NAMESPACE = uuid.UUID("6f2f3a52-7d0e-5b0b-9c53-5e0f4b8f2d11")  # so that loading it again makes the same rows
BATCH = uuid.uuid5(NAMESPACE, "load")  # the history shows it as one line


class DemoError(Exception):
    """The demo scenario cannot be loaded or removed; the message says why."""


def is_loaded(operator):
    return DemoScenario.objects.of(operator).exists()


def load(operator, today, seed=scenario.SEED):
    """Fill an operator's log with the scenario of the year up to `today`; all or nothing. Raises DemoError.

    Returns the DemoScenario, which knows what was made.
    """
    try:
        with transaction.atomic(), gear_history.unrecorded():
            return Loading(operator).run(scenario.scenario(today, seed), seed)
    except IntegrityError as error:
        if is_loaded(operator):
            raise DemoError("The demo scenario is in this log already.") from error
        raise


class Loading:
    """One run: the rows by the key that the scenario calls them by."""

    def __init__(self, operator):
        self.operator = operator
        self.rows = defaultdict(list)
        self.count = 0

    def run(self, year, seed):
        demo = DemoScenario.objects.create(owner=self.operator)
        self.make_sites()
        self.make_gear()
        self.make_readings(year.readings)
        self.make_pack_logs(pack_logs.pack_logs(year.outings, year.today, seed))
        self.make_sweeps(sweeps.sweeps(year.outings, seed))
        outings = progress.each(year.outings, "Loading the demo scenario", len(year.outings))
        held = [self.make_outing(outing) for outing in outings]
        self.make_notes(held)
        demo.rows = dict(self.rows)
        demo.save(update_fields=["rows"])
        return demo

    def made(self, row):
        self.rows[row._meta.label_lower].append(row.pk)
        return row

    def identity(self):
        self.count += 1
        return uuid.uuid5(NAMESPACE, str(self.count))

    def kept(self, row):
        row.uuid = self.identity()
        row.keep(self.operator, cause=CAUSE, batch=BATCH)
        return self.made(row)

    def create(self, model, **fields):
        return self.made(model.objects.create(owner=self.operator, **fields))

    def make_sites(self):
        self.sites = {}
        for place in scenario.SITES:
            site = Site(
                owner=self.operator, name=place.name, altitude_m=place.altitude_m, supports=place.supports,
                facilities=place.facilities, noise=place.noise, notes="Invented, part of the demo scenario.",
                references=[{"programme": "Demo areas", "reference": place.reference}],
            )
            site.put_at(place.latitude_deg, place.longitude_deg, source=Site.PositionFrom.COORDINATES)
            site.save()
            self.sites[place.key] = self.made(site)

    def make_gear(self):
        self.radios, self.packs, self.arrangements, self.kits, others = {}, {}, {}, {}, {}
        for key, fields, settings in gear.RADIOS:
            self.radios[key] = self.create(Radio, **fields)
            for setting in settings:
                PowerSetting.objects.create(radio=self.radios[key], **setting)
        antennas = {}
        for key, fields in gear.ANTENNAS:
            antennas[key] = self.create(Antenna, **fields)
        lines = self.lines = {key: self.create(Feedline, **fields) for key, fields in gear.FEEDLINES}
        for key, antenna, fields, settings in gear.ARRANGEMENTS:
            fields = {**fields, "feedline": lines.get(fields.get("feedline"))}
            self.arrangements[key] = self.create(Arrangement, antenna=antennas[antenna], **fields)
            for setting in settings:
                BandSetting.objects.create(arrangement=self.arrangements[key], **setting)
        for antenna, fields, taps in gear.COILS:
            coil = self.create(Coil, antenna=antennas[antenna], **fields)
            CoilTap.objects.bulk_create(CoilTap(coil=coil, **tap) for tap in taps)
        for key, fields in gear.PACKS:
            self.packs[key] = self.create(Pack, **fields)
        for key, fields in gear.ACCESSORIES:
            others[key] = self.create(Accessory, **fields)
        pieces = {**self.radios, **antennas, **self.packs, **lines, **others}
        for key, name, keys, arrangements in gear.KITS:
            kit = self.kits[key] = self.create(Kit, name=name)
            kit.arrangements.set([self.arrangements[arrangement] for arrangement in arrangements])
            for position, piece in enumerate(keys):
                KitItem.objects.create(kit=kit, item_id=pieces[piece].pk, position=position)

    def make_readings(self, readings):
        rows = [
            PackReading(
                owner=self.operator, uuid=self.identity(), pack=self.packs[reading.pack], at=reading.at,
                voltage_v=reading.voltage_v, current_a=reading.current_a, temperature_c=reading.temperature_c,
                doing=reading.doing, resting_since=reading.resting_since,
            )
            for reading in readings
        ]
        PackReading.keep_all(rows, self.operator, cause=CAUSE, batch=BATCH)
        for row in rows:
            self.made(row)

    def make_pack_logs(self, drawn):
        for one in drawn:
            pack = self.packs[one.pack]
            row = PackLog(owner=self.operator, pack=pack, started_at=one.at, note="Invented, part of the demo.")
            log = log_files.read(one.content)
            row.take(one.file_name, one.content, log, look(one.kind, log, pack, one.cutoff_v))
            self.kept(row)
            row.use_for_pack()

    def make_sweeps(self, drawn):
        for one in drawn:
            arrangement = self.arrangements[one.arrangement]
            sweep = Sweep(
                owner=self.operator, arrangement=arrangement, band=one.band, taken_at=one.at, place=one.place,
                feedpoint_height_m=arrangement.feedpoint_height_m, conditions=one.conditions,
                plane=Sweep.Plane.LINE if one.line else Sweep.Plane.FEEDPOINT, feedline=self.lines.get(one.line),
            )
            sweep.take(one.file_name, one.content, sweep_files.read(one.content, one.file_name))
            self.kept(sweep)

    def make_outing(self, drawn):
        site = self.sites[drawn.site]
        minutes = datetime.timedelta(minutes=1)
        call = self.operator.call_sign if "/" in self.operator.call_sign else f"{self.operator.call_sign}/P"
        outing = self.kept(Outing(
            owner=self.operator, site=site, station_call=call, references=site.references,
            title="" if drawn.held else "Demo: a morning at Mirror Lake", window_start=drawn.window_start,
            window_end=drawn.window_end, started_at=drawn.window_start - 20 * minutes if drawn.held else None,
            ended_at=drawn.window_end + 25 * minutes if drawn.held else None, kit=self.kits[drawn.kit],
            bands=list(drawn.bands), goal_contacts=drawn.goal, solar_flux=drawn.solar_flux, a_index=drawn.a_index,
            k_index=drawn.k_index, announced_at=drawn.window_start if drawn.held else None,
            notes="Invented, part of the demo scenario.",
        ))
        self.make_checklist(outing)
        stints = [self.make_stint(outing, drawn.kit, stint) for stint in drawn.stints]
        contacts = [
            self.contact(outing, row, stint, contact)
            for row, stint in zip(stints, drawn.stints, strict=True) for contact in stint.contacts
        ]
        Contact.keep_all(contacts, self.operator, cause=CAUSE, batch=BATCH)
        for row in contacts:
            self.made(row)
        return outing

    def make_checklist(self, outing):
        """Everything ticked on an outing that was held; on the planned one a part of it."""
        lines = [("before", text, None, 1) for text in gear.BEFORE]
        lines += [
            ("pack", line.item.name, line.item, line.quantity) for line in outing.kit.lines.select_related("item")
        ]
        lines += [("arrival", text, None, 1) for text in gear.ARRIVAL]
        lines += [("leaving", text, None, 1) for text in gear.LEAVING]
        rows = []
        for position, (section, text, item, quantity) in enumerate(lines):
            ticked = outing.started_at or (outing.created_at if position < 4 else None)
            rows.append(ChecklistLine(
                owner=self.operator, uuid=self.identity(), outing=outing, text=text, section=section, item=item,
                quantity=quantity, position=position, ticked_at=ticked,
            ))
        ChecklistLine.keep_all(rows, self.operator, cause=CAUSE, batch=BATCH)
        for row in rows:
            self.made(row)

    def make_stint(self, outing, kit, drawn):
        first = not outing.stints.exists()
        stint = self.kept(Stint(
            owner=self.operator, outing=outing, radio=self.radios[scenario.RADIO[kit]],
            arrangement=self.arrangements[drawn.arrangement], pack=self.packs[scenario.PACK[kit]],
            power_w=drawn.power_w, band=drawn.band, frequency_hz=drawn.frequency_hz, mode=drawn.mode,
            submode=submode(drawn.band, drawn.mode), tuner_in=drawn.arrangement.startswith("wire"),
            calling=drawn.calling, started_at=drawn.started_at, ended_at=drawn.ended_at,
            setup_min=gear.SETUP_MIN[drawn.arrangement] if first else None,
        ))
        if drawn.pause:
            begin, end = drawn.pause
            self.kept(Pause(owner=self.operator, stint=stint, started_at=begin, ended_at=end))
            stint.keep(self.operator, cause=CAUSE, batch=BATCH)  # counts its hours again, without the pause
        return stint

    def contact(self, outing, stint, drawn, contact):
        return Contact(
            owner=self.operator, uuid=self.identity(), outing=outing, stint=stint, call=contact.call,
            pending=contact.pending, started_at=contact.at, band=drawn.band, frequency_hz=drawn.frequency_hz,
            mode=drawn.mode, submode=stint.submode, rst_sent=contact.rst_sent, rst_rcvd=contact.rst_rcvd,
            station_call=outing.station_call, power_w=drawn.power_w, their_grid=contact.grid, name=contact.name,
        )

    def make_notes(self, outings):
        for title, text, arrangements, packs, radios, places in gear.NOTES:
            note = self.kept(Note(owner=self.operator, title=title, text=text))
            note.arrangements.set([self.arrangements[key] for key in arrangements])
            note.packs.set([self.packs[key] for key in packs])
            note.radios.set([self.radios[key] for key in radios])
            note.outings.set([outings[place] for place in places])


def submode(band, mode):
    """By custom the lower sideband below 10 MHz and the upper one above."""
    if mode != "SSB":
        return ""
    return "LSB" if band in ("160m", "80m", "40m") else "USB"


# In this order nothing is deleted before what refers to it.
REMOVAL = (
    "outings.contact", "outings.pause", "outings.stint", "equipment.packreading", "equipment.packlog",
    "outings.checklistline", "outings.note", "outings.outing", "equipment.kit", "equipment.sweep",
    "equipment.arrangement", "equipment.antenna", "equipment.radio", "equipment.pack",
    "equipment.feedline", "equipment.accessory", "outings.site",
)


@transaction.atomic
@gear_history.unrecorded()
def remove(operator):
    """Take the demo scenario out of a log again, for good, and touch nothing else. Raises DemoError.

    What rows of the operator's own depend on stays: an antenna that a stint of theirs used, an outing that they logged
    contacts at. Returns the rows that stayed, as texts.
    """
    demo = DemoScenario.objects.of(operator).select_for_update().first()
    if demo is None:
        raise DemoError("There is no demo scenario in this log.")
    doomed = {label: set(keys) for label, keys in demo.rows.items()}
    stayed = []
    for label in REMOVAL:
        model = apps.get_model(label)
        rows = model._base_manager.filter(owner=operator, pk__in=doomed.get(label, ()))
        for row in rows if label != "outings.contact" else ():
            if has_others(row, doomed):
                doomed[label].discard(row.pk)
                stayed.append(f"{model._meta.verbose_name} {row}")
        gone = model._base_manager.filter(owner=operator, pk__in=doomed.get(label, ()))
        if hasattr(model, "uuid"):
            subjects = list(gone.values_list("uuid", flat=True))
            for part in chunks(subjects):
                Change.objects.of(operator).filter(kind=label, subject__in=part).delete()
        else:
            subjects = [gear_history.identity(pk) for pk in gone.values_list("pk", flat=True)]
            Change.objects.of(operator).filter(whole_kind=label, whole__in=subjects).delete()
        gone.delete()
    demo.delete()
    return stayed


def has_others(row, doomed):
    """Whether rows that the demo did not make refer to this one."""
    for relation in row._meta.related_objects:
        model, name = relation.related_model, relation.field.name
        if model is SharedPage:  # an address goes with what it shows
            continue
        if (row._meta.label_lower, model._meta.label_lower) in PARTS:
            continue
        mine = doomed.get(model._meta.label_lower, ())
        if model._base_manager.filter(**{name: row.pk}).exclude(pk__in=mine).exists():
            return True
    return False


# The second goes with the first, which it is a part of.
PARTS = frozenset({
    ("equipment.radio", "equipment.powersetting"), ("equipment.arrangement", "equipment.bandsetting"),
    ("equipment.kit", "equipment.kititem"),
})
