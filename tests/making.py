"""Test data: plain functions that make one row each, complete enough to be used, every value open to change."""

import datetime

from django.utils import timezone

from equipment.models import (
    Accessory,
    Antenna,
    Arrangement,
    BandSetting,
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
)
from equipment.physics import log_files, sweep_files
from equipment.queries.pack_logs import look
from outings.models import (
    Contact,
    Note,
    Outing,
    OutingMember,
    ReceptionFile,
    ReceptionReport,
    Remark,
    SharedPage,
    Site,
    Stint,
    SwitchingPlan,
)
from stationlog.models import Invitation, Operator, PhonePairing

PASSWORD = "three loose guy lines"


def an_operator(call_sign="Q1ABC", *, password=PASSWORD, **fields):
    """An operator who can log in with PASSWORD; make the second one with a call sign of its own."""
    fields.setdefault("name", "Robin Fielding")
    fields.setdefault("home_grid", "JO62qm")
    return Operator.objects.create_user(call_sign, password, **fields)


def an_invitation(keeper=None, note="Q2DEF, who helps with the masts"):
    """The code of an invitation by a keeper, who is made if need be."""
    return Invitation.objects.make(keeper or an_operator("Q9KEEP", keeper=True), note)


def a_phone_token(operator=None, origin="https://quiet-box.local:8443", *, at=None):
    """The token of a code for a phone, shown just now unless told otherwise."""
    return PhonePairing.objects.make(operator or an_operator(), origin, at or timezone.now())


def a_paired_phone(operator=None, device="iPhone, Safari", *, at=None, **fields):
    """A phone that is paired."""
    at = at or timezone.now()
    token = a_phone_token(operator, at=at, **fields)
    PhonePairing.objects.with_token(token).get().use(device, at)
    return PhonePairing.objects.with_token(token).get()


def a_moment(text="2026-05-01 14:05"):
    """A moment in UTC, written as year-month-day hour:minute with or without seconds."""
    return datetime.datetime.fromisoformat(text).replace(tzinfo=datetime.UTC)


def tomorrow(clock="09:00"):
    """A time of the next day, for what lies ahead whenever it is made."""
    return f"{timezone.now() + datetime.timedelta(days=1):%Y-%m-%d} {clock}"


def a_site(owner=None, name="Reed Point", **fields):
    """A site on a shore, in the grid square JO62qm."""
    fields = {
        "latitude_deg": 52.52, "longitude_deg": 13.37, "grid": "JO62qm", "time_zone": "Europe/Berlin",
        "references": [{"programme": "Shorelines", "reference": "QS-0042"}], **fields,
    }
    return Site.objects.create(owner=owner or an_operator(), name=name, **fields)


def an_outing(owner=None, *, site=None, start="2026-05-01 13:00", hours=3, **fields):
    """An outing with a window of some hours; at a site of its own unless one is given."""
    owner = owner or (site.owner if site else an_operator())
    site = site or a_site(owner)
    start = a_moment(start)
    fields = {
        "station_call": "Q1ABC/P", "references": site.references, "window_start": start,
        "window_end": start + datetime.timedelta(hours=hours), **fields,
    }
    outing = Outing(owner=owner, site=site, **fields)
    outing.keep(owner)
    return outing


def a_member(outing=None, operator=None, *, joined_at="2026-04-30 18:00"):
    """Another operator who was invited to an outing, and joined unless `joined_at` is None."""
    return OutingMember.objects.create(
        outing=outing or an_outing(), operator=operator or an_operator("Q2DEF", name="Kim Moor"),
        joined_at=a_moment(joined_at) if joined_at else None,
    )


def a_stint(outing=None, *, start="2026-05-01 13:00", minutes=60, **fields):
    """A stint of some minutes; it goes on where minutes is None."""
    outing = outing or an_outing()
    start = a_moment(start)
    fields = {"band": "20m", "mode": "SSB", "submode": "USB", "power_w": 10, "calling": "calling", **fields}
    if minutes is not None:
        fields = {"ended_at": start + datetime.timedelta(minutes=minutes), "on_air_s": minutes * 60, **fields}
    stint = Stint(owner=outing.owner, outing=outing, started_at=start, **fields)
    stint.keep(outing.owner)
    return stint


def a_fair_test(outing=None, **fields):
    """Two arrangements in blocks of ten minutes there and back, with two minutes to switch."""
    outing = outing or an_outing()
    antenna = an_antenna(outing.owner)
    fields = {"minutes": 60, "block_min": 10, "change_min": 2, "order": "ABBA", "seed": 1, **fields}
    plan = SwitchingPlan(owner=outing.owner, outing=outing, **fields)
    plan.make(outing.owner, [an_arrangement(antenna, "upright"), an_arrangement(antenna, "sloping")])
    return plan


def a_reception_file(outing=None, name="heard.csv", **fields):
    """A file with one report of a receiver."""
    outing = outing or an_outing()
    file = ReceptionFile.objects.create(owner=outing.owner, outing=outing, name=name, lines=1)
    fields = {"at": outing.window_start, "receiver": "Q0RX", "frequency_hz": 14_097_100, "band": "20m", "snr_db": -12,
              **fields}
    ReceptionReport.objects.create(owner=outing.owner, outing=outing, file=file, **fields)
    return file


def a_contact(outing=None, *, call="Q0XYZ", at="2026-05-01 13:10", **fields):
    """A contact on 20m, in no stint unless one is given."""
    stint = fields.get("stint")
    outing = outing or (stint.outing if stint else an_outing())
    fields = {
        "band": "20m", "frequency_hz": 14_285_000, "mode": "SSB", "submode": "USB", "rst_sent": "59", "rst_rcvd": "57",
        "station_call": outing.station_call, "power_w": 10, **fields,
    }
    contact = Contact(owner=outing.owner, outing=outing, call=call, started_at=a_moment(at), **fields)
    contact.keep(outing.owner)
    return contact


def a_radio(owner=None, name="Little radio", **fields):
    """A radio without power settings."""
    return Radio.objects.create(owner=owner or an_operator(), name=name, **fields)


def a_power_setting(radio=None, label="low", output_w=5.0, **fields):
    """A power setting of a radio."""
    return PowerSetting.objects.create(radio=radio or a_radio(), label=label, output_w=output_w, **fields)


def an_antenna(owner=None, name="Wire antenna", **fields):
    """An antenna without arrangements."""
    return Antenna.objects.create(owner=owner or an_operator(), name=name, **fields)


def an_arrangement(antenna=None, name="sloping from the mast", *, bands=(), **fields):
    """An arrangement of an antenna, with a plain setting for each band of `bands`."""
    antenna = antenna or an_antenna()
    arrangement = Arrangement.objects.create(owner=antenna.owner, antenna=antenna, name=name, **fields)
    for band in bands:
        a_band_setting(arrangement, band)
    return arrangement


def a_band_setting(arrangement=None, band="20m", **fields):
    """What an arrangement needs on a band."""
    return BandSetting.objects.create(arrangement=arrangement or an_arrangement(), band=band, **fields)


def a_coil(antenna=None, name="Tapped coil", **fields):
    """A coil of 24 turns on 50 mm, 60 mm long, without taps."""
    antenna = antenna or an_antenna()
    fields = {"diameter_m": 0.05, "length_m": 0.06, "turns": 24.0, **fields}
    return Coil.objects.create(owner=antenna.owner, antenna=antenna, name=name, **fields)


def a_coil_tap(coil=None, band="20m", whip_length_m=1.5, **fields):
    """Where a coil was tapped for a band with a whip of 1.5 m."""
    return CoilTap.objects.create(coil=coil or a_coil(), band=band, whip_length_m=whip_length_m, **fields)


def a_pack(owner=None, name="Pack one", **fields):
    """A battery pack of four LiFePO4 cells."""
    fields = {"chemistry": "LiFePO4", "cells_in_series": 4, "rated_ah": 6.0, "nominal_v": 12.8, **fields}
    return Pack.objects.create(owner=owner or an_operator(), name=name, **fields)


def a_reading(pack=None, voltage_v=13.2, *, at="2026-05-01 12:00", **fields):
    """A reading of a pack."""
    pack = pack or a_pack()
    reading = PackReading(owner=pack.owner, pack=pack, at=a_moment(at), voltage_v=voltage_v, **fields)
    reading.keep(pack.owner)
    return reading


def a_sweep_file(low_mhz=13.5, high_mhz=14.8, *, resonance_mhz=14.15, ohm=42.0, q=14.0, points=131, form="RI"):
    """A Touchstone file of a series resonance, as bytes."""
    lines = ["! made for a test", f"# MHz S {form} R 50"]
    for step in range(points):
        mhz = low_mhz + (high_mhz - low_mhz) * step / (points - 1)
        z = complex(ohm, ohm * q * (mhz / resonance_mhz - resonance_mhz / mhz))
        gamma = (z - 50) / (z + 50)
        lines.append(f"{mhz:.6f} {gamma.real:.9f} {gamma.imag:.9f}")
    return "\n".join(lines).encode()


def a_sweep(arrangement=None, content=None, *, at="2026-05-01 11:00", name="bench.s1p", **fields):
    """A sweep of an arrangement, with a dip at 14.15 MHz unless a file is given."""
    arrangement = arrangement or an_arrangement()
    content = content or a_sweep_file()
    sweep = Sweep(owner=arrangement.owner, arrangement=arrangement, taken_at=a_moment(at), **fields)
    sweep.take(name, content, sweep_files.read(content, name))
    sweep.keep(arrangement.owner)
    return sweep


def a_pack_log_file(*, ohm=0.06, capacity_ah=5.5):
    """A logger's file of a discharge at 2 A in the mean, with a heavier load each tenth minute, as bytes."""
    lines, used, at = ["Zeit (s);Spannung (mV);Strom (mA)"], 0.0, 0
    while used < 1.02 * capacity_ah:
        amps = 6.0 if at % 600 < 120 else 1.0
        open_v = 13.3 - 0.6 * used / capacity_ah - (3.0 if used >= capacity_ah else 0.0)
        lines.append(f"{at};{1000 * (open_v - ohm * amps):.1f};{1000 * amps:.0f}".replace(".", ","))
        used, at = used + amps * 20 / 3600, at + 20
    return "\n".join(lines).encode()


def a_pack_log(pack=None, *, at="2026-05-01 09:00", kind="test", content=None, cutoff_v=10.0):
    """A capacity test of a pack, kept with its file; or a charge."""
    pack = pack or a_pack(resistance_ohm=0.06)
    content = content or a_pack_log_file()
    read = log_files.read(content)
    row = PackLog(owner=pack.owner, pack=pack, started_at=a_moment(at))
    row.take("log.csv", content, read, look(kind, read, pack, cutoff_v))
    row.keep(pack.owner)
    return row


def a_feedline(owner=None, name="Thin coax", **fields):
    """A feedline."""
    return Feedline.objects.create(owner=owner or an_operator(), name=name, **fields)


def an_accessory(owner=None, name="Mast", **fields):
    """An accessory."""
    return Accessory.objects.create(owner=owner or an_operator(), name=name, **fields)


def a_kit(owner=None, name="Shore kit", *, items=(), arrangements=(), **fields):
    """A kit of these items, one of each (or as many as a pair (item, quantity) says), and these arrangements."""
    kit = Kit.objects.create(owner=owner or an_operator(), name=name, **fields)
    for position, piece in enumerate(items):
        item, quantity = piece if isinstance(piece, tuple) else (piece, 1)
        KitItem.objects.create(kit=kit, item_id=item.pk, quantity=quantity, position=position)
    kit.arrangements.set(arrangements)
    return kit


def a_note(owner=None, title="What the coil does", text="Tap **three** is best.", *, about=()):
    """A performance note, tied to arrangements, packs, radios and outings."""
    note = Note(owner=owner or an_operator(), title=title, text=text)
    note.keep(note.owner)
    for thing in about:
        getattr(note, Note.TIES[type(thing)]).add(thing)
    return note


def a_shared_page(kind, thing, **fields):
    """An address that shows a thing to others; kinds are those of SharedPage.KINDS."""
    return SharedPage.objects.create(owner=thing.owner, **{SharedPage.KINDS[kind][1]: thing}, **fields)


def typed_rows(*rows, before=0, prefix="rows"):
    """The fields of the rows below a form as a browser sends them; `before` of them were there already."""
    sent = {
        f"{prefix}-TOTAL_FORMS": str(len(rows)), f"{prefix}-INITIAL_FORMS": str(before), f"{prefix}-MAX_NUM_FORMS": "60"
    }
    for number, row in enumerate(rows):
        sent.update({f"{prefix}-{number}-{name}": value for name, value in row.items()})
    return sent


def a_remark(outing=None, text="Power line nearby", *, at="2026-05-01 13:20", **fields):
    """A note made at an outing."""
    outing = outing or an_outing()
    remark = Remark(owner=outing.owner, outing=outing, at=a_moment(at), text=text, **fields)
    remark.keep(outing.owner)
    return remark
