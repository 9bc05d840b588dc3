"""The checklist of an outing on paper: where, when, the light, the kit, what to pack, cautions, and log sheets."""

from dataclasses import dataclass

from reportlab.lib.units import mm
from reportlab.platypus import PageBreak, Table

from . import lettering, log_sheet, sheets
from .lettering import Text


@dataclass(frozen=True)
class Fact:
    """One line of the head: what, and its value; `call` sets the value in the face with the slashed zero."""

    what: str
    value: str
    call: bool = False


@dataclass(frozen=True)
class LightLine:
    """One time of light (or another moment of the day) in UTC and local time."""

    what: str
    utc: str
    local: str


@dataclass(frozen=True)
class BandLine:
    """Which arrangement covers a band, how it is set, and whether it resonates there."""

    band: str
    arrangement: str
    setting: str
    resonance: str = ""


@dataclass(frozen=True)
class Line:
    """One line to tick."""

    text: str
    quantity: int = 1
    note: str = ""
    ticked: bool = False


@dataclass(frozen=True)
class Section:
    """Lines to tick under a heading."""

    title: str
    lines: tuple


@dataclass(frozen=True)
class Checklist:
    """Everything that the paper says; all texts are printed as they are, nothing in them is markup."""

    title: str
    station_call: str
    operator: str
    address: str
    facts: tuple = ()
    light: tuple = ()
    light_notes: tuple = ()
    kit: str = ""
    kit_weight: str = ""
    bands: tuple = ()
    check: tuple = ()  # (band, what to put up, what arrives at the antenna)
    check_notes: tuple = ()  # the check of the kit, in sentences
    energy: tuple = ()  # whether it lasts, in sentences
    people: tuple = ()  # (band, everybody beyond, those who know beyond, what the formula says)
    people_notes: tuple = ()
    sections: tuple = ()
    site_texts: tuple = ()  # (heading, text) of permission, facilities, supports, noise, notes
    cautions: tuple = ()  # (title, text)
    log: log_sheet.LogSheet | None = None


def render(checklist, paper):
    """Set the checklist on "A4" or "Letter"; returns the PDF as bytes. Raises ValueError for another paper."""
    if paper not in sheets.SIZES:
        raise ValueError(f"Paper is A4 or Letter, not {paper}.")
    room_pt = sheets.SIZES[paper][0] - 2 * sheets.MARGIN_PT
    story = [*_head(checklist, room_pt), *_light(checklist, room_pt), *_kit(checklist, room_pt)]
    story += [*_check(checklist, room_pt), *_people(checklist, room_pt)]
    for section in checklist.sections:
        story += _section(section, room_pt)
    if checklist.site_texts:
        rows = [[Text(title, sheets.LABEL), Text(text)] for title, text in checklist.site_texts]
        story += [*sheets.heading("On the spot"), sheets.table(rows, [32 * mm, room_pt - 32 * mm])]
    if checklist.cautions:
        story += sheets.heading("Cautions")
        for title, text in checklist.cautions:
            story += [Text(title, sheets.STRONG, keep_with_next=True), Text(text, sheets.SMALL, after_pt=3)]
    if checklist.log:
        for page in range(checklist.log.pages):
            story += [PageBreak(), *log_sheet.page(checklist.log, paper, page)]
    return sheets.document(
        story, paper=paper, title=checklist.title, head=checklist.title, call=checklist.station_call,
        author=checklist.operator,
    )


def _head(checklist, room_pt):
    code_pt = 28 * mm
    address = Text(checklist.address, sheets.SOFT)
    top = Table(
        [[[Text(checklist.title, sheets.TITLE, after_pt=4), address], sheets.QrCode(checklist.address, code_pt)]],
        colWidths=[room_pt - code_pt, code_pt],
        style=[
            ("VALIGN", (0, 0), (-1, -1), "TOP"), ("LEFTPADDING", (0, 0), (-1, -1), 0),
            ("RIGHTPADDING", (0, 0), (-1, -1), 0), ("TOPPADDING", (0, 0), (-1, -1), 0),
        ],
        hAlign="LEFT",
    )
    facts = [
        [Text(fact.what, sheets.LABEL), Text(fact.value, sheets.GRID if fact.call else sheets.PLAIN)]
        for fact in checklist.facts
    ]
    return [top, sheets.table(facts, [32 * mm, room_pt - 32 * mm])] if facts else [top]


def _light(checklist, room_pt):
    if not checklist.light and not checklist.light_notes:
        return []
    rows = [["", "UTC", "local"]]
    rows += [[line.what, line.utc, line.local] for line in checklist.light]
    found = sheets.heading("Light")
    if checklist.light:
        found.append(sheets.table(rows, [room_pt * 0.4, room_pt * 0.3, room_pt * 0.3], head=True))
    return found + [Text(note, sheets.SMALL, before_pt=2) for note in checklist.light_notes]


def _kit(checklist, room_pt):
    weight = f", {checklist.kit_weight}" if checklist.kit_weight else ""
    found = sheets.heading(f"Kit: {checklist.kit}{weight}" if checklist.kit else "Kit: none chosen")
    if checklist.bands:
        rows = [["band", "arrangement", "setting", "resonance"]]
        rows += [[line.band, line.arrangement, line.setting, line.resonance] for line in checklist.bands]
        rest_pt = room_pt - 16 * mm
        found.append(sheets.table(rows, [16 * mm, rest_pt * 0.24, rest_pt * 0.42, rest_pt * 0.34], head=True))
    return found + [Text(line, sheets.SMALL, before_pt=2) for line in checklist.energy]


def _check(checklist, room_pt):
    if not checklist.check_notes:
        return []
    found = sheets.heading("Kit check")
    if checklist.check:
        rows = [["band", "put up", "arrives at the antenna"], *map(list, checklist.check)]
        found.append(sheets.table(rows, [16 * mm, (room_pt - 16 * mm) * 0.4, (room_pt - 16 * mm) * 0.6], head=True))
    return found + [Text(note, sheets.SMALL, before_pt=2) for note in checklist.check_notes]


def _people(checklist, room_pt):
    if not checklist.people and not checklist.people_notes:
        return []
    found = sheets.heading("People nearby: keep them beyond, from every part of the antenna")
    if checklist.people:
        rows = [["band", "everybody", "those who know", "far-field formula, everybody"], *map(list, checklist.people)]
        found.append(sheets.table(rows, [room_pt * share for share in (0.16, 0.24, 0.24, 0.36)], head=True))
    return found + [Text(note, sheets.SMALL, before_pt=2) for note in checklist.people_notes]


def _section(section, room_pt):
    if not section.lines:
        return []
    text_style = lettering.Style(follow_direction=False)
    rows = []
    for line in section.lines:
        quantity = f"{line.quantity} ×" if line.quantity != 1 else ""
        rows.append([
            sheets.Box(line.ticked), quantity, Text(line.text, text_style), Text(line.note, sheets.LABEL),
        ])
    return [
        *sheets.heading(section.title),
        sheets.table(rows, [7 * mm, 12 * mm, room_pt - 49 * mm, 30 * mm]),
    ]
