"""What gear did, to hand out or to show: verdict, picture, intervals and method, on paper and as a picture."""

import math
from dataclasses import dataclass

from reportlab.lib.units import mm
from reportlab.platypus import Flowable

from equipment.numerals import Numeral

from . import boards, lettering, sheets, typefaces
from .lettering import Text

INK, SOFT, RULE, ACCENT = "#1f2a35", "#505a60", "#cfd6cf", "#a93807"
BACKGROUND, PAPER = "#fdfaf1", "#ffffff"
TICKS = (0.01, 0.02, 0.05, 0.1, 0.2, 0.5, 1, 2, 5, 10, 20, 50, 100)
WIDTH_PT, LEAST_HEIGHT_PT = 1200, 675  # 16:9, as screens and cameras have it
PIXELS_A_PT = 1.6  # 1920 pixels wide
MARGIN_PT = 48
SHARES = (0.29, 0.1, 0.16, 0.1, 0.13, 0.09, 0.13)  # of the columns of the table
MOST_ROWS = 14  # more are left to the page


@dataclass(frozen=True)
class Row:
    """One of the things compared; figures for the picture, texts for the table."""

    label: str
    value: float | None
    low: float | None
    high: float | None
    raw: float | None
    is_reference: bool
    is_told: bool
    text: str  # beside the bar
    cells: tuple = ()  # of the table, behind the label
    why: str = ""


@dataclass(frozen=True)
class GearReport:
    """Everything that the paper and the picture show, as texts and plain numbers."""

    title: str
    call: str
    operator: str
    verdict: str
    counted: str  # from how many stints, contacts and hours
    held: str
    chosen: str  # which stints were asked for
    rows: tuple[Row, ...]
    neutral: float
    unit: str
    read: str
    next: tuple[str, ...]
    method: tuple[str, ...]
    made: str
    head: tuple[str, ...] = ()
    remarks: tuple[str, ...] = ()


@dataclass(frozen=True)
class Sizes:
    """How large a chart is drawn."""

    text_pt: float
    row_pt: float
    dot_pt: float
    bar_pt: float


ON_PAPER = Sizes(8.2, 21, 3.4, 1.8)
ON_SCREEN = Sizes(16, 42, 8, 4)


def span(report):
    """From the least to the most that the axis shows, with some room; what is far beyond the rest is cut."""
    logarithmic, neutral = bool(report.neutral), report.neutral

    def kept(values):
        return [value for value in values if value is not None and (value > 0 or not logarithmic)]

    inner = kept(value for row in report.rows for value in (row.value, row.raw))
    ends = kept(value for row in report.rows for value in (row.low, row.high))
    if not logarithmic:
        low, high = min([neutral, *inner, *ends]), max([neutral, *inner, *ends])
        return low - 0.08 * (high - low or 1), high + 0.08 * (high - low or 1)
    least, most = min([neutral, *inner]), max([neutral, *inner])
    low, high = max(min([least, *ends]), least / 8), min(max([most, *ends]), most * 8)
    return min(low, neutral / 1.6) / 1.1, max(high, neutral * 1.6) * 1.1


class Chart:
    """The dots with their intervals, drawn on any board."""

    def __init__(self, report, sizes, width_pt, rows=None):
        self.report, self.sizes, self.width_pt = report, sizes, width_pt
        self.rows = report.rows if rows is None else rows
        self.low, self.high = span(report)
        self.label_pt, self.text_pt = width_pt * 0.32, width_pt * 0.24

    @property
    def height_pt(self):
        return len(self.rows) * self.sizes.row_pt + 3.2 * self.sizes.text_pt

    def place(self, value):
        """Where a value stands, as points from the left; ends beyond the axis stand at its end."""
        value = min(self.high, max(self.low, value))
        if self.report.neutral:
            share = math.log(value / self.low) / math.log(self.high / self.low)
        else:
            share = (value - self.low) / (self.high - self.low)
        return self.label_pt + share * (self.width_pt - self.label_pt - self.text_pt)

    def ticks(self):
        if self.report.neutral:
            return [(tick, f"× {Numeral(tick):g}") for tick in TICKS if self.low <= tick <= self.high]
        step = 10 ** math.floor(math.log10(self.high - self.low))
        step = step if (self.high - self.low) / step > 3 else step / 2
        first = math.ceil(self.low / step)
        return [
            (n * step, f"{Numeral(n * step):+g}".replace("-", "−") if n else "0")
            for n in range(first, math.floor(self.high / step) + 1)
        ]

    def draw(self, board, left_pt, top_pt, background):
        """Draw it with its upper left corner there."""
        sizes = self.sizes
        bottom = top_pt + len(self.rows) * sizes.row_pt
        plain, strong = lettering.Style(size_pt=sizes.text_pt), lettering.Style(size_pt=sizes.text_pt, grey=0.35)
        for tick, word in self.ticks():
            x = left_pt + self.place(tick)
            board.line(x, top_pt, x, bottom, RULE, 0.06 * sizes.text_pt)
            wide = lettering.width_pt(word, plain)
            board.text(x - wide / 2, bottom + 1.3 * sizes.text_pt, word, plain)
        unit = sheets.shortened(self.report.unit, strong, self.width_pt - self.label_pt)
        middle = left_pt + (self.label_pt + self.width_pt - self.text_pt) / 2
        board.text(middle - lettering.width_pt(unit, strong) / 2, bottom + 2.7 * sizes.text_pt, unit, strong)
        x = left_pt + self.place(self.report.neutral)
        board.line(x, top_pt, x, bottom, SOFT, 0.1 * sizes.text_pt, (0.35 * sizes.text_pt, 0.3 * sizes.text_pt))
        for number, row in enumerate(self.rows):
            self._row(board, left_pt, top_pt + (number + 0.5) * sizes.row_pt, row, background)

    def _row(self, board, left_pt, y, row, background):
        sizes = self.sizes
        plain = lettering.Style(size_pt=sizes.text_pt)
        base = y + 0.35 * sizes.text_pt
        label = sheets.shortened(typefaces.printable(row.label), plain, self.label_pt - sizes.text_pt)
        board.text(left_pt + self.label_pt - sizes.text_pt - lettering.width_pt(label, plain), base, label, plain)
        text = sheets.shortened(typefaces.printable(row.text), plain, self.text_pt - sizes.text_pt)
        board.text(left_pt + self.width_pt - self.text_pt + sizes.text_pt, base, text, plain)
        if row.is_reference:
            x, r = left_pt + self.place(self.report.neutral), 1.2 * sizes.dot_pt
            board.polygon([(x, y - r), (x + 0.7 * r, y), (x, y + r), (x - 0.7 * r, y)], SOFT)
            return
        if row.is_told:
            self._bar(board, left_pt, y, row)
        if row.raw is not None and (row.raw > 0 or not self.report.neutral) and self.low <= row.raw <= self.high:
            board.circle(left_pt + self.place(row.raw), y, 0.8 * sizes.dot_pt, background, INK, 0.4 * sizes.bar_pt)
        if row.is_told and row.value is not None and self.low <= row.value <= self.high:
            board.circle(
                left_pt + self.place(row.value), y, sizes.dot_pt, ACCENT, background, 0.5 * sizes.bar_pt
            )

    def _bar(self, board, left_pt, y, row):
        sizes, tall = self.sizes, 0.9 * self.sizes.dot_pt
        ends = [
            (row.low, self.low, -1, row.low is None or row.low < self.low),
            (row.high, self.high, 1, row.high is None or row.high > self.high),
        ]
        xs = [left_pt + self.place(edge if beyond else end) for end, edge, _, beyond in ends]
        board.line(xs[0], y, xs[1], y, ACCENT, sizes.bar_pt)
        for x, (_, _, way, beyond) in zip(xs, ends, strict=True):
            if beyond:
                board.polygon([(x + way * tall, y), (x, y - tall), (x, y + tall)], ACCENT)
            else:
                board.line(x, y - tall, x, y + tall, ACCENT, 0.7 * sizes.bar_pt)


class ChartOnPaper(Flowable):
    """The chart as a part of a page."""

    def __init__(self, report, rows):
        super().__init__()
        self.report, self.rows = report, rows

    def wrap(self, room_pt, height_pt):
        self.chart = Chart(self.report, ON_PAPER, room_pt, self.rows)
        return room_pt, self.chart.height_pt

    def draw(self):
        self.chart.draw(boards.PdfBoard(self.canv, 0, self.chart.height_pt), 0, 0, PAPER)


def render(report, paper):
    """Set the report on "A4" or "Letter"; returns the PDF as bytes. Raises ValueError for another paper."""
    if paper not in sheets.SIZES:
        raise ValueError(f"Paper is A4 or Letter, not {paper}.")
    room_pt = sheets.SIZES[paper][0] - 2 * sheets.MARGIN_PT
    story = [
        Text(report.title, sheets.TITLE, after_pt=5),
        Text(report.verdict, lettering.Style(size_pt=12.5, face=typefaces.BOLD), after_pt=4),
        Text(f"{report.counted} {report.held}".strip(), sheets.PLAIN),
        Text(report.chosen, sheets.SOFT, after_pt=6),
    ]
    for start in range(0, len(report.rows), MOST_ROWS):
        story.append(ChartOnPaper(report, report.rows[start:start + MOST_ROWS]))
    if report.read:
        story.append(Text(report.read, sheets.SOFT, before_pt=2, after_pt=2))
    story += sheets.heading("Figures")
    story.append(sheets.table(
        [[Text(word, sheets.SMALL) for word in report.head],
         *([Text(text, sheets.SMALL) for text in (row.label, *row.cells)] for row in report.rows)],
        [room_pt * share for share in SHARES], head=True,
    ))
    whys = [row for row in report.rows if row.why]
    if whys:
        story += sheets.heading("Why raw and adjusted differ")
        story.append(sheets.table([[Text(row.label, sheets.LABEL), Text(row.why, sheets.SMALL)] for row in whys],
                                  [room_pt * 0.3, room_pt * 0.7]))
    parts = (("What to do next", report.next), ("To bear in mind", report.remarks), ("Method", report.method))
    for title, texts in parts:
        if texts:
            story += sheets.heading(title)
            story += [Text(text, sheets.SMALL, after_pt=2) for text in texts]
    story.append(Text(report.made, sheets.SOFT, before_pt=4 * mm))
    return sheets.document(
        story, paper=paper, title=report.title, head=report.title, call=report.call, author=report.operator,
    )


def picture_height_pt(report):
    return max(LEAST_HEIGHT_PT, picture_layout(report)[-1])


def picture_layout(report):
    """Rows that are drawn, lines of the verdict, how far down each part begins, and the height that all need."""
    rows = report.rows[:MOST_ROWS]
    verdict = lettering.Style(size_pt=30 if len(report.verdict) < 160 else 24, face=typefaces.BOLD)
    lines = lettering.lines(report.verdict, verdict, WIDTH_PT - 2 * MARGIN_PT)[:5]
    chart_top = MARGIN_PT + 62 + len(lines) * verdict.line_pt + 44
    chart = Chart(report, ON_SCREEN, WIDTH_PT - 2 * MARGIN_PT, rows)
    foot = lettering.Style(size_pt=13, grey=0.35)
    feet = [line for text in (report.read, *report.method) for line in lettering.lines(
        text, foot, WIDTH_PT - 2 * MARGIN_PT
    )]
    height = chart_top + chart.height_pt + 24 + (len(feet) + 1) * foot.line_pt + MARGIN_PT * 0.6
    return rows, verdict, lines, chart_top, chart, foot, feet, height


def draw_picture(board, report):
    """Draw the whole picture on a board of WIDTH_PT and `picture_height_pt`."""
    rows, verdict, lines, chart_top, chart, foot, feet, height = picture_layout(report)
    call = lettering.Style(face=typefaces.CALL_BOLD, size_pt=34)
    title = lettering.Style(size_pt=20, grey=0.35)
    board.text(MARGIN_PT, MARGIN_PT + 26, report.call, call)
    shown = sheets.shortened(typefaces.printable(report.title), title, WIDTH_PT * 0.6)
    board.text(WIDTH_PT - MARGIN_PT - lettering.width_pt(shown, title), MARGIN_PT + 26, shown, title)
    board.line(MARGIN_PT, MARGIN_PT + 42, WIDTH_PT - MARGIN_PT, MARGIN_PT + 42, ACCENT, 2.5)
    y = MARGIN_PT + 62 + 0.8 * verdict.size_pt
    for line, _ in lines:
        board.text(MARGIN_PT, y, line, verdict)
        y += verdict.line_pt
    small = lettering.Style(size_pt=17, grey=0.35)
    more = f" {len(report.rows) - len(rows)} more are left out." if len(report.rows) > len(rows) else ""
    counted = sheets.shortened(f"{report.counted} {report.chosen}{more}".strip(), small, WIDTH_PT - 2 * MARGIN_PT)
    board.text(MARGIN_PT, chart_top - 22, counted, small)
    chart.draw(board, MARGIN_PT, chart_top, BACKGROUND)
    y = max(LEAST_HEIGHT_PT, height) - MARGIN_PT * 0.6 - len(feet) * foot.line_pt
    for line, _ in feet:
        board.text(MARGIN_PT, y, line, foot)
        y += foot.line_pt
    board.text(MARGIN_PT, y, report.made, foot)


def svg(report):
    """The picture as SVG text."""
    board = boards.SvgBoard(WIDTH_PT, picture_height_pt(report), BACKGROUND)
    draw_picture(board, report)
    described = "; ".join(f"{row.label}: {row.text}" for row in report.rows)
    return board.svg(f"{report.call}: {report.title}", f"{report.verdict} {report.counted} {described}.")


def png(report):
    """The picture as PNG."""
    page = boards.pdf_page(
        WIDTH_PT, picture_height_pt(report), BACKGROUND, lambda board: draw_picture(board, report), report.title
    )
    return boards.png_of_page(page, PIXELS_A_PT)
