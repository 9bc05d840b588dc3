"""A log sheet to write on with a pencil: columns in UTC, as many rows as fit."""

from dataclasses import dataclass

from reportlab.lib.units import mm
from reportlab.platypus import Flowable

from . import lettering, sheets, typefaces
from .lettering import Text

ROW_PT = 8.2 * mm
COLUMNS = (  # heading, share of the width
    ("UTC", 0.075), ("call", 0.155), ("band or freq.", 0.115), ("mode", 0.08), ("RST sent", 0.075),
    ("RST rcvd", 0.075), ("their grid", 0.105), ("their reference", 0.13), ("name, state, remarks", 0.19),
)


@dataclass(frozen=True)
class LogSheet:
    """What stands above the lines: the call used, the place, and the UTC days of the window."""

    station_call: str
    site: str
    grid: str
    utc_days: str
    references: str = ""
    pages: int = 1


class Ruled(Flowable):
    """The empty table, as high as the room allows."""

    def __init__(self, high_pt):
        super().__init__()
        self.high_pt = high_pt

    def wrap(self, room_pt, height_pt):
        self.width, self.height = room_pt, self.high_pt
        return room_pt, self.high_pt

    def draw(self):
        style = lettering.Style(size_pt=7.6, face=typefaces.BOLD)
        head_pt = 2.2 * style.line_pt
        rows = int((self.height - head_pt) / ROW_PT)
        bottom_pt = self.height - head_pt - rows * ROW_PT
        self.canv.setStrokeGray(0.35)
        edges, left_pt = [0.0], 0.0
        for name, share in COLUMNS:
            for number, (line, base) in enumerate(lettering.lines(name, style, share * self.width - 4)[:2]):
                y_pt = self.height - (number + 0.85) * style.line_pt
                lettering.draw(self.canv, left_pt + 2, y_pt, line, style, base)
            left_pt += share * self.width
            edges.append(left_pt)
        self.canv.setLineWidth(0.9)
        self.canv.line(0, self.height - head_pt, self.width, self.height - head_pt)
        self.canv.setLineWidth(0.4)
        for row in range(1, rows + 1):
            y_pt = self.height - head_pt - row * ROW_PT
            self.canv.line(0, y_pt, self.width, y_pt)
        for edge_pt in edges:
            self.canv.line(edge_pt, self.height, edge_pt, bottom_pt)
        self.canv.line(0, self.height, self.width, self.height)


def page(sheet, paper, number):
    """The flowables of one log page; `number` counts from 0."""
    wide_pt, high_pt = sheets.SIZES[paper]
    room_pt = wide_pt - 2 * sheets.MARGIN_PT
    head = [
        Text(f"Log sheet {number + 1}" + (f" of {sheet.pages}" if sheet.pages > 1 else ""), sheets.HEADING, after_pt=2),
        sheets.table(
            [
                [
                    Text("call used", sheets.LABEL), Text(sheet.station_call, sheets.CALL),
                    Text("UTC days", sheets.LABEL), Text(sheet.utc_days),
                ],
                [
                    Text("site", sheets.LABEL), Text(sheets.shortened(sheet.site, sheets.PLAIN, room_pt * 0.5)),
                    Text("grid", sheets.LABEL), Text(sheet.grid, sheets.GRID),
                ],
                [
                    Text("references", sheets.LABEL),
                    Text(sheets.shortened(sheet.references, sheets.PLAIN, room_pt * 0.5)),
                    Text("year, month, day of this sheet", sheets.LABEL), Text("______ - ____ - ____"),
                ],
            ],
            [20 * mm, room_pt * 0.54 - 20 * mm, 26 * mm, room_pt * 0.46 - 26 * mm],
        ),
        Text(
            "All times in UTC: begin a new sheet, or write the new date across a line, when the UTC day changes.",
            sheets.SOFT, before_pt=3, after_pt=4,
        ),
    ]
    taken_pt = sum(
        flowable.wrap(room_pt, high_pt)[1] + flowable.getSpaceBefore() + flowable.getSpaceAfter() for flowable in head
    )
    left_pt = high_pt - 2 * sheets.MARGIN_PT - sheets.HEAD_PT / 2 - taken_pt - 6
    return [*head, Ruled(left_pt)]
