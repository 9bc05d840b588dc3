"""Reports of receivers and the stints that they are of: matched when read, so that they follow every change."""

import math
from collections import Counter, defaultdict
from dataclasses import dataclass, field

from equipment.numerals import Numeral
from outings import geography
from outings.evidence import reception
from outings.models import ReceptionFile, ReceptionReport, Stint

from .dimensions import DIMENSIONS, NOTHING, labelled
from .judging import Judged, Line
from .remembering import remembered

REFERENCE_W = 10.0  # reports at other powers are read as if at this one
UNMATCHED = {
    "no stint": "while nothing was on the air", "band": "on a band that was not on the air", "pause": "in a pause",
    "unnoted": "in a stint without what is compared",
}


@dataclass(frozen=True)
class Matched:
    """The reports that belong to a stint, and how many do not, by the reason (a key of UNMATCHED)."""

    heard: tuple[reception.Heard, ...] = field(repr=False)
    groups: dict  # label: (key, stints, on the air in hours)
    unmatched: Counter
    reports: int
    normalised: int  # whose stint had another power than REFERENCE_W
    without_power: int

    @property
    def left_out(self):
        """(how many, in words why), most first."""
        return tuple((count, UNMATCHED[why]) for why, count in self.unmatched.most_common())


def matched(operator, stints, by="arrangement", outing=None):
    """Match the operator's reports (of one outing, or of all) with stints by time and band.

    A report belongs to the stint of its outing that is on the air at its time on its band, the latest begun of several;
    not in a pause. Its SNR is brought to REFERENCE_W by 10 log(Pref/P) where the stint has a power.
    """
    dimension = DIMENSIONS[by]
    reports = ReceptionReport.objects.of(operator)
    if outing is not None:
        reports = reports.filter(outing=outing)
    rows = stints.of(operator).filter(outing__in=reports.order_by().values("outing"))
    columns = {pk: values for pk, *values in rows.order_by().values_list("pk", *dimension.columns)}
    by_outing = defaultdict(list)
    for stint in rows.order_by("started_at").prefetch_related("pauses"):
        by_outing[stint.outing_id].append(stint)
    heard, groups, unmatched, normalised, without_power, count = [], {}, Counter(), 0, 0, 0
    for outing_id, at, receiver, band, snr_db in reports.values_list("outing_id", "at", "receiver", "band", "snr_db"):
        count += 1
        stint, why = stint_of(by_outing.get(outing_id, ()), at, band)
        key = dimension.key(*columns[stint.pk]) if stint else NOTHING
        if stint is None or key == NOTHING:
            unmatched[why or "unnoted"] += 1
            continue
        label = labelled(dimension, columns[stint.pk], operator)
        known = groups.setdefault(label, (key, set()))
        known[1].add(stint)
        if stint.power_w:
            snr_db += 10 * math.log10(REFERENCE_W / stint.power_w)
            normalised += stint.power_w != REFERENCE_W
        else:
            without_power += 1
        heard.append(reception.Heard(label, receiver, band, at.timestamp(), f"{stint.pk}", snr_db))
    groups = {label: (key, len(mine), sum(stint.on_air_s or 0 for stint in mine) / 3600)
              for label, (key, mine) in groups.items()}
    return Matched(tuple(heard), groups, unmatched, count, normalised, without_power)


def stint_of(stints, at, band):
    """(the stint on the air at a moment on a band, "") or (None, why there is none)."""
    covering = [stint for stint in stints if stint.started_at <= at and (stint.ended_at is None or at < stint.ended_at)]
    if not covering:
        return None, "no stint"
    same = [stint for stint in covering if stint.band == band]
    if not same:
        return None, "band"
    stint = same[-1]
    if any(pause.started_at <= at and (pause.ended_at is None or at < pause.ended_at) for pause in stint.pauses.all()):
        return None, "pause"
    return stint, ""


@dataclass(frozen=True)
class OutingReception:
    """What the page of an outing's reports shows: files, the match, the comparison or why there is none, receivers."""

    files: tuple[ReceptionFile, ...]
    matched: Matched
    compared: reception.Reception | None
    why_none: str
    receivers: tuple

    @property
    def has_reports(self):
        return bool(self.matched.reports)


@dataclass(frozen=True)
class Receiver:
    """A receiver with how often it heard this station, how far it is, and its mean SNR with each arrangement."""

    name: str
    grid: str
    reports: int
    distance_km: float | None
    distance_error_km: float | None
    strongest_db: float


def of_outing(outing):
    """The reports of one outing."""
    found = matched(outing.owner, Stint.objects.filter(outing=outing), outing=outing)
    compared, why_none = None, ""
    try:
        compared = remembered(reception.compare, found.heard)
    except reception.NothingToCompare as reason:
        text = str(reason)
        why_none = f"{text[:1].upper()}{text[1:]}."
    files = tuple(ReceptionFile.objects.filter(outing=outing))
    return OutingReception(files, found, compared, why_none, receivers_of(outing))


def receivers_of(outing):
    """The receivers of an outing, the farthest first; distances are from where the site is now."""
    by = {}
    rows = ReceptionReport.objects.filter(outing=outing).values_list("receiver", "grid", "snr_db")
    for name, grid, snr_db in rows:
        known = by.setdefault(name, [grid, 0, snr_db])
        known[0] = max(known[0], grid, key=len)
        known[1] += 1
        known[2] = max(known[2], snr_db)
    found = []
    for name, (grid, count, best) in by.items():
        way = geography.way(outing.site.place, geography.place_of_grid(grid)) if grid else None
        found.append(Receiver(name, grid, count, way and way.distance_km, way and way.error_km, best))
    return tuple(sorted(found, key=lambda one: (-(one.distance_km or -1), one.name)))


def judged(asked):
    """Gear judged by reports of receivers: a measure of the evidence page."""
    found = matched(asked.operator, asked.stints, asked.by)
    remarks = tuple(f"{count} report{'s' if count != 1 else ''} {why} do not count" for count, why in found.left_out)
    if found.normalised:
        remarks += (f"reports are read as if every stint had {Numeral(REFERENCE_W):g} W, by 10 log of the power",)
    if not found.groups:
        return Judged("empty", "No reports of receivers lie in these stints.",
                      ("Bring in a file of reports on the page “Heard” of an outing.",), remarks=remarks)
    try:
        told = remembered(reception.compare, found.heard)
    except reception.NothingToCompare as reason:
        text = str(reason)
        lines = tuple(bare(label, group, found) for label, group in found.groups.items())
        return Judged("alone", f"{text[:1].upper()}{text[1:]}.",
                      ("Switch between two, every few minutes, while receivers report.",), lines, remarks=remarks)
    reference = next(row for row in told.arrangements if row.arrangement == told.reference)
    lines = tuple(line(row, reference, told, found.groups[row.arrangement]) for row in told.arrangements)
    known = [one for one in lines if one.is_told]
    state = "apart" if len(known) < 2 else "told" if any(one.claimed for one in lines) else "open"
    return Judged(state, told.verdict, (), lines, told.reference, ("receiver", "band", "minutes"), remarks, None,
                  told.confidence)


def bare(label, group, found):
    key, stints, hours = group
    count = sum(one.arrangement == label for one in found.heard)
    return Line(key, label, stints, 0, 0, 0.0, hours, count, None, None, None, None, None, None, None)


def line(row, reference, told, group):
    """A line of the table from a row of a comparison; its contacts are reports."""
    key, stints, hours = group
    is_reference = row.arrangement == told.reference
    return Line(
        key, row.arrangement, stints, 0, 0, 0.0, hours, row.reports, row.mean_snr_db, None, None,
        row.mean_snr_db - reference.mean_snr_db, row.difference, row.difference_low, row.difference_high, is_reference,
        claimed=not is_reference and row.p_holm is not None and row.p_holm < 1 - told.confidence, reason=row.reason,
        why="" if is_reference or row.difference is None else (
            f"{row.pairs} pairs of {row.paired_receivers} receivers over {row.switches} switches stand behind the "
            "adjusted figure; raw is the mean of all reports, whoever sent them."
        ),
    )
