"""The report of an outing on paper: figures, hours, bands, arrangements, the map, and what was noted."""

from dataclasses import dataclass

from reportlab.lib.units import mm
from reportlab.platypus import CondPageBreak

from . import maps, sheets
from .lettering import Text


@dataclass(frozen=True)
class Table:
    """A table with its heading; the first row is the head, `shares` of the width add up to one."""

    title: str
    rows: tuple
    shares: tuple
    note: str = ""


@dataclass(frozen=True)
class OutingReport:
    """Everything that the paper shows, as texts in the operator's units."""

    title: str
    station_call: str
    operator: str
    facts: tuple = ()  # (what, value)
    tables: tuple = ()
    map: maps.Map | None = None
    map_note: str = ""
    notes: tuple = ()  # (heading, text)


def render(report, paper):
    """Set the report on "A4" or "Letter"; returns the PDF as bytes. Raises ValueError for another paper."""
    if paper not in sheets.SIZES:
        raise ValueError(f"Paper is A4 or Letter, not {paper}.")
    room_pt = sheets.SIZES[paper][0] - 2 * sheets.MARGIN_PT
    facts = [[Text(what, sheets.LABEL), Text(value)] for what, value in report.facts]
    story = [Text(report.title, sheets.TITLE, after_pt=4), sheets.table(facts, [38 * mm, room_pt - 38 * mm])]
    for table in report.tables:
        if len(table.rows) > 1:
            story += sheets.heading(table.title)
            story.append(sheets.table(table.rows, [share * room_pt for share in table.shares], head=True))
            if table.note:
                story.append(Text(table.note, sheets.SOFT, before_pt=2))
    if report.map:
        drawing = maps.MapDrawing(report.map, 92 * mm)
        story += [CondPageBreak(drawing.side_pt + 60), *sheets.heading("Where to"), drawing]
        story.append(Text(report.map_note, sheets.SOFT, before_pt=2))
    if report.notes:
        story += sheets.heading("Notes")
        for title, text in report.notes:
            story += [Text(title, sheets.STRONG, keep_with_next=True), Text(text, sheets.SMALL, after_pt=3)]
    return sheets.document(
        story, paper=paper, title=report.title, head=report.title, call=report.station_call, author=report.operator,
    )
