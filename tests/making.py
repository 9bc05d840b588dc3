"""Test data: plain functions that make one row each, complete enough to be used, every value open to change."""

import datetime

from outings.models import Contact, Outing, Site, Stint
from stationlog.models import Invitation, Operator

PASSWORD = "three loose guy lines"


def an_operator(call_sign="Q1ABC", *, password=PASSWORD, **fields):
    """An operator who can log in with PASSWORD; make the second one with a call sign of its own."""
    fields.setdefault("name", "Robin Fielding")
    fields.setdefault("home_grid", "JO62qm")
    return Operator.objects.create_user(call_sign, password, **fields)


def an_invitation(keeper=None, note="Q2DEF, who helps with the masts"):
    """The code of an invitation by a keeper, who is made if need be."""
    return Invitation.objects.make(keeper or an_operator("Q9KEEP", keeper=True), note)


def a_moment(text="2026-05-01 14:05"):
    """A moment in UTC, written as year-month-day hour:minute with or without seconds."""
    return datetime.datetime.fromisoformat(text).replace(tzinfo=datetime.UTC)


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
