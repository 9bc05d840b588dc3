"""What papers share: page sizes, head and foot, tables of text, tick boxes, and the QR code."""

import io

import segno
from reportlab.lib import pagesizes
from reportlab.lib.units import mm
from reportlab.pdfgen.canvas import Canvas
from reportlab.platypus import BaseDocTemplate, CondPageBreak, Flowable, Frame, PageTemplate, Table

from . import lettering, typefaces

SIZES = {"A4": pagesizes.A4, "Letter": pagesizes.LETTER}
MARGIN_PT = 15 * mm
HEAD_PT = 9 * mm
FOOT_PT = 8 * mm

PLAIN = lettering.Style()
SMALL = lettering.Style(size_pt=8.2)
SOFT = lettering.Style(size_pt=8.2, grey=0.35)
LABEL = lettering.Style(size_pt=8.2, grey=0.35, leading=PLAIN.line_pt / 8.2)  # stands on the line of the text beside it
STRONG = lettering.Style(face=typefaces.BOLD)
TITLE = lettering.Style(size_pt=17, face=typefaces.BOLD, leading=1.25)
HEADING = lettering.Style(size_pt=11.5, face=typefaces.BOLD)
CALL = lettering.Style(face=typefaces.CALL_BOLD, size_pt=10, leading=PLAIN.line_pt / 10)
GRID = lettering.Style(face=typefaces.CALL, size_pt=9.5)


def heading(text):
    """A heading that is not left alone at the foot of a page; a list of flowables."""
    return [CondPageBreak(55), lettering.Text(text, HEADING, before_pt=8, after_pt=3)]


class Box(Flowable):
    """An empty square to tick with a pencil; filled with a check mark where it was ticked before printing."""

    SIDE_PT = 9

    def __init__(self, ticked=False):
        super().__init__()
        self.ticked = ticked

    def wrap(self, room_pt, height_pt):
        return self.SIDE_PT, self.SIDE_PT + 3

    def draw(self):
        self.canv.setLineWidth(0.8)
        self.canv.setStrokeGray(0)
        self.canv.rect(0.5, 0.5, self.SIDE_PT - 1, self.SIDE_PT - 1)
        if self.ticked:
            self.canv.setLineWidth(1.3)
            self.canv.lines([(2, 4.5, 3.8, 2.4), (3.8, 2.4, 7.2, 7.2)])


class QrCode(Flowable):
    """A QR code of an address, drawn as squares."""

    QUIET = 4  # modules of white around it, ISO/IEC 18004

    def __init__(self, address, side_pt):
        super().__init__()
        self.matrix = [list(row) for row in segno.make_qr(address, error="m").matrix]
        self.side_pt = side_pt

    def wrap(self, room_pt, height_pt):
        return self.side_pt, self.side_pt

    def draw(self):
        count = len(self.matrix) + 2 * self.QUIET
        module_pt = self.side_pt / count
        path = self.canv.beginPath()
        for row, line in enumerate(self.matrix):
            for column, dark in enumerate(line):
                if dark:
                    x_pt = (column + self.QUIET) * module_pt
                    y_pt = self.side_pt - (row + self.QUIET + 1) * module_pt
                    path.rect(x_pt, y_pt, module_pt, module_pt)
        self.canv.setFillGray(0)
        self.canv.drawPath(path, stroke=0, fill=1)


def table(rows, widths_pt, *, head=False, lines=True):
    """A table of flowables or texts; the head, if there is one, is repeated on the next page."""
    cells = []
    for number, row in enumerate(rows):
        style = STRONG if head and number == 0 else PLAIN
        cells.append([cell if isinstance(cell, Flowable) else lettering.Text(cell, style) for cell in row])
    commands = [
        ("VALIGN", (0, 0), (-1, -1), "TOP"),
        ("LEFTPADDING", (0, 0), (0, -1), 0), ("RIGHTPADDING", (-1, 0), (-1, -1), 0),
        ("TOPPADDING", (0, 0), (-1, -1), 1.8), ("BOTTOMPADDING", (0, 0), (-1, -1), 1.8),
    ]
    if lines:
        commands.append(("LINEBELOW", (0, 0), (-1, -1), 0.3, (0.75, 0.75, 0.75)))
    if head:
        commands.append(("LINEBELOW", (0, 0), (-1, 0), 0.9, (0.2, 0.2, 0.2)))
    return Table(
        cells, colWidths=widths_pt, repeatRows=1 if head else 0, style=commands, hAlign="LEFT", splitInRow=1
    )


class CountedCanvas(Canvas):
    """Holds the pages back until their number is known, then writes "page 2 of 5" on each."""

    def __init__(self, *arguments, **options):
        super().__init__(*arguments, **options)
        self._held = []

    def showPage(self):
        self._held.append(dict(self.__dict__))
        self._startPage()

    def save(self):
        for page, state in enumerate(self._held, 1):
            self.__dict__.update(state)
            text = f"page {page} of {len(self._held)}"
            wide_pt = lettering.width_pt(text, SOFT)
            lettering.draw(self, self._pagesize[0] - MARGIN_PT - wide_pt, FOOT_PT, text, SOFT)
            super().showPage()
        super().save()


def shortened(text, style, room_pt):
    """A text cut to one line with an ellipsis where it is too long."""
    first, *rest = lettering.lines(text.replace("\n", " "), style, room_pt)
    if not rest:
        return first[0]
    cut = lettering.lines(text.replace("\n", " "), style, room_pt - lettering.width_pt("…", style))
    return cut[0][0] + "…"


def document(story, *, paper, title, head, call="", author=""):
    """Lay the flowables out on pages of the size; returns the PDF as bytes.

    `head` stands at the top of every page, `call` at its right. Raises ValueError for an unknown paper size.
    """
    if paper not in SIZES:
        raise ValueError(f"Paper is A4 or Letter, not {paper}.")
    wide_pt, high_pt = SIZES[paper]

    def furniture(canvas, _document):
        top_pt = high_pt - MARGIN_PT + 3
        call_pt = lettering.width_pt(call, CALL)
        lettering.draw(canvas, wide_pt - MARGIN_PT - call_pt, top_pt, call, CALL)
        lettering.draw(
            canvas, MARGIN_PT, top_pt, shortened(head, SOFT, wide_pt - 2 * MARGIN_PT - call_pt - 12), SOFT
        )
        canvas.setStrokeGray(0.2)
        canvas.setLineWidth(0.8)
        canvas.line(MARGIN_PT, top_pt - 4, wide_pt - MARGIN_PT, top_pt - 4)

    output = io.BytesIO()
    frame = Frame(
        MARGIN_PT, MARGIN_PT, wide_pt - 2 * MARGIN_PT, high_pt - 2 * MARGIN_PT - HEAD_PT / 2,
        leftPadding=0, rightPadding=0, topPadding=0, bottomPadding=0,
    )
    pages = BaseDocTemplate(
        output, pagesize=(wide_pt, high_pt), title=typefaces.printable(title), author=typefaces.printable(author),
        creator="stationlog", pageTemplates=[PageTemplate(id="page", frames=[frame], onPage=furniture)],
    )
    pages.build(story, canvasmaker=CountedCanvas)
    return output.getvalue()
