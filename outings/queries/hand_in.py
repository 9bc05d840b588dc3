"""What the hand-in page of an outing reads: what is missing before the log is sent, counts per UTC day, the files."""

import datetime
import re
import zoneinfo
from collections import Counter
from dataclasses import dataclass

from equipment.numerals import Numeral
from outings import calls
from outings.adif import tables
from outings.models import Contact, ContactConflict
from outings.models.contacts import references_of

NAMED = 12  # so many contacts of a finding are linked; the rest is counted
SLACK = datetime.timedelta(minutes=15)  # so far outside its window an outing's contacts are no surprise


@dataclass(frozen=True)
class Finding:
    """Something to look at before the log is sent.

    `serious` says that the log is wrong or incomplete with it; `key` names the kind; `contacts` are the first ones
    concerned and `count` all of them; `hint` says what can be done.
    """

    key: str
    serious: bool
    text: str
    hint: str
    count: int
    contacts: tuple

    @property
    def more(self):
        """How many are not named."""
        return self.count - len(self.contacts)


@dataclass(frozen=True)
class DayCount:
    """Contacts of one UTC day: those that count, repeats of others among them, doubtful ones that stay behind."""

    day: datetime.date
    counted: int
    repeats: int
    pending: int
    goal: int | None

    @property
    def missing(self):
        """How many contacts the goal still wants, repeats not counted; None without a goal."""
        return None if self.goal is None else max(self.goal - self.counted + self.repeats, 0)


@dataclass(frozen=True)
class HandInFile:
    """One file to hand in: the contacts of one own call and UTC day, for one own reference."""

    number: int
    station_call: str
    day: datetime.date
    programme: str
    reference: str
    count: int

    @property
    def stem(self):
        """The file name without its ending: Q1ABC-P_QS-0042_2026-05-01."""
        parts = [safe(self.station_call), safe(self.reference), f"{self.day:%Y-%m-%d}"]
        return "_".join(part for part in parts if part)


@dataclass(frozen=True)
class HandIn:
    """All that the page shows."""

    findings: tuple
    days: tuple
    files: tuple
    count: int

    @property
    def serious(self):
        return sum(finding.serious for finding in self.findings)


def safe(text):
    """A part of a file name that every system takes: letters, digits, point and hyphen; a slash becomes a hyphen."""
    return re.sub(r"[^A-Za-z0-9.]+", "-", text).strip("-.")


def hand_in(outing, now):
    """Check an outing's log at a moment; reads the outing's contacts once, whatever their number."""
    contacts = list(
        Contact.objects.filter(outing=outing).defer("raw", "notes", "comment").order_by("started_at", "id")
    )
    repeats = repeated(contacts)
    in_conflict = set(ContactConflict.objects.filter(
        contact__outing=outing, settled_at__isnull=True).values_list("contact_id", flat=True))
    findings = [*about_outing(outing, contacts), *about_contacts(outing, contacts, now, repeats, in_conflict)]
    findings.sort(key=lambda finding: not finding.serious)
    return HandIn(
        tuple(findings), days_of(outing, contacts, repeats), hand_in_files(outing, contacts),
        sum(not contact.pending for contact in contacts),
    )


def repeated(contacts):
    """Primary keys of contacts that repeat an earlier one of the same outing.

    The same own call, call, band, kind of mode and UTC day; a reference of theirs that was not there yet makes it new.
    """
    seen, found = {}, set()
    for contact in contacts:
        if contact.pending:
            continue
        key = (
            contact.station_call, contact.call, contact.band, tables.mode_family(contact.mode, contact.submode),
            contact.started_at.date(),
        )
        theirs = references_of(contact.their_reference)
        if key in seen and (not theirs or theirs <= seen[key]):
            found.add(contact.pk)
        seen[key] = seen.get(key, frozenset()) | theirs
    return found


def about_outing(outing, contacts):
    """Findings that concern the outing as a whole."""
    if not contacts:
        yield Finding("empty", True, "There are no contacts yet.", "", 0, ())
    if not outing.references:
        yield Finding(
            "reference", False, "The outing has no reference of its own.",
            "Where the log is for a programme, add its reference to the outing; the files then carry it.", 0, (),
        )
    if contacts and (hours := hours_off(outing, contacts)):
        yield Finding(
            "local", True,
            "Most contacts are outside the window, and would be within it if the clock were moved by "
            f"{Numeral(hours):+g} h.",
            "They may have been logged in local time. Look, then shift the clock.", 0, (),
        )


def about_contacts(outing, contacts, now, repeats, in_conflict):
    """Findings that concern single contacts."""
    begin, end = outing.started_at or outing.window_start, outing.ended_at or outing.window_end
    main_call = Counter(contact.station_call for contact in contacts).most_common(1)[0][0] if contacts else ""
    serials = Counter(contact.serial_sent for contact in contacts if contact.serial_sent is not None)
    by_serial, by_place = outing.exchange == "serial", outing.exchange == "location"
    checks = (
        ("pending", True, "{} doubtful, and left out of the files.", "Correct the call, or send without.",
         lambda c: c.pending),
        ("station_call", True, "{} without a readable call of one's own.", "Mend the call used.",
         lambda c: not good_call(c.station_call)),
        ("call", True, "{} with a call that cannot be one.", "Correct the call.",
         lambda c: not c.pending and not good_call(c.call)),
        ("band", True, "{} without a band.", "Mend band or frequency.", lambda c: not c.band),
        ("frequency", True, "{} with a frequency outside the band.", "Mend band or frequency.", out_of_band),
        ("mode", True, "{} without a mode.", "Mend the mode.", lambda c: not c.mode),
        ("future", True, "{} with a time that is still ahead.", "Look at the clock.", lambda c: c.started_at > now),
        ("backwards", True, "{} that end before they begin.", "Look at the clock.",
         lambda c: c.ended_at is not None and c.ended_at < c.started_at),
        ("window", False, f"{{}} outside {span(begin, end)}.", "Look at the day and the clock, or change the outing.",
         lambda c: c.started_at < begin - SLACK or (end is not None and c.started_at > end + SLACK)),
        ("repeat", False, "{} that repeat an earlier one.",
         "Same call, band, kind of mode and UTC day. They stay in the files; most programmes count them once.",
         lambda c: c.pk in repeats),
        ("other_call", False, f"{{}} under another own call than {main_call}.",
         "They get files of their own; mend the call if it is a slip.", lambda c: c.station_call != main_call),
        ("report", False, "{} with a report missing.", "", lambda c: not (c.rst_sent and c.rst_rcvd)),
        ("exchange", False, "{} without the place that was given.", "The outing's exchange is report and place.",
         lambda c: by_place and not (c.state or c.exchange_rcvd)),
        ("serial", False, "{} without a serial number sent or received.", "The outing's exchange has serial numbers.",
         lambda c: by_serial and (c.serial_sent is None or c.serial_rcvd is None)),
        ("serial_twice", False, "{} that share a serial number sent.", "",
         lambda c: by_serial and serials[c.serial_sent] > 1),
        ("unusual", False, "{} with a call of unusual form.", "Fine if it was copied so.",
         lambda c: not c.pending and good_call(c.call) and not calls.read(c.call).usual),
        ("stint", False, "{} without a stint.", "They go into the files; they do not count in rates.",
         lambda c: c.stint_id is None),
        ("conflict", False, "{} changed in two places.", "Look at both versions.", lambda c: c.pk in in_conflict),
        ("marked", False, "{} with values from a file that are not to the standard.",
         "They are kept, and not written into their fields.", lambda c: bool(c.problems)),
    )
    for key, serious, text, hint, concerns in checks:
        found = [contact for contact in contacts if concerns(contact)]
        if found:
            what = f"{len(found)} contact{'s' if len(found) != 1 else ''}"
            yield Finding(key, serious, text.format(what), hint, len(found), tuple(found[:NAMED]))


def span(begin, end):
    """The stretch of time that an outing took, in words."""
    if end is None:
        return f"the time from {begin:%Y-%m-%d %H:%M} UTC on"
    same_day = begin.date() == end.date()
    return f"the window {begin:%Y-%m-%d %H:%M} to {end:{'%H:%M' if same_day else '%Y-%m-%d %H:%M'}} UTC"


def good_call(text):
    """Whether a text can be a fully copied call sign."""
    try:
        return not calls.read(text).doubtful
    except calls.NotACall:
        return False


def out_of_band(contact):
    """Whether frequency and band contradict each other."""
    return bool(
        contact.band and contact.frequency_hz and not tables.band_holds(contact.band, contact.frequency_hz)
    )


def hours_off(outing, contacts):
    """By how many hours the clock seems to have been off, if local time was logged as UTC; None if it was not.

    So it is where at least half of the contacts are outside the window, and the site's difference from UTC brings nine
    tenths of all into it.
    """
    begin, end = outing.started_at or outing.window_start, outing.ended_at or outing.window_end
    try:
        zone = zoneinfo.ZoneInfo(outing.site.time_zone)
    except (zoneinfo.ZoneInfoNotFoundError, ValueError):
        return None
    offset = begin.astimezone(zone).utcoffset()
    if end is None or not offset:
        return None

    def within(by):
        return sum(begin - SLACK <= contact.started_at + by <= end + SLACK for contact in contacts)

    if within(datetime.timedelta()) * 2 > len(contacts) or within(-offset) < 0.9 * len(contacts):
        return None
    return -offset.total_seconds() / 3600


def days_of(outing, contacts, repeats):
    """Counts for each UTC day with contacts, in order."""
    days = {}
    for contact in contacts:
        counts = days.setdefault(contact.started_at.date(), [0, 0, 0])
        counts[0] += not contact.pending
        counts[1] += contact.pk in repeats
        counts[2] += contact.pending
    return tuple(DayCount(day, *counts, outing.goal_contacts) for day, counts in sorted(days.items()))


def hand_in_files(outing, contacts):
    """The files, one for each own call, UTC day and own reference; numbered in this order."""
    counts = Counter((c.started_at.date(), c.station_call) for c in contacts if not c.pending)
    references = outing.references or [{}]
    return tuple(
        HandInFile(number, call, day, own.get("programme", ""), own.get("reference", ""), count)
        for number, ((day, call), count, own) in enumerate(
            ((key, count, own) for key, count in sorted(counts.items()) for own in references), start=1
        )
    )
