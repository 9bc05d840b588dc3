"""Text of any script on a canvas: measured, broken into lines and drawn, a typeface for each run of letters."""

import functools
import unicodedata
from dataclasses import dataclass

import uharfbuzz
from reportlab.pdfbase import pdfmetrics
from reportlab.pdfgen.canvas import FILL_NON_ZERO
from reportlab.platypus import Flowable

from . import direction, typefaces

LONGEST_WORD = 60  # characters; longer ones are rare, and not worth remembering


@dataclass(frozen=True)
class Style:
    """How a text is set; sizes in points."""

    size_pt: float = 9.5
    leading: float = 1.32
    face: str = typefaces.TEXT
    grey: float = 0.0
    follow_direction: bool = True  # set text that runs from the right against the right edge

    @property
    def line_pt(self):
        return self.size_pt * self.leading


@dataclass(frozen=True)
class Run:
    """Letters of one typeface and one direction, in the order of reading."""

    text: str
    face: str
    level: int
    shaped: bool


@functools.lru_cache(maxsize=1000)
def glyphs(text, face, right_to_left):
    """The shaped outline of a run: tuples (glyph, x, y) in units of the em, and its whole advance in them."""
    buffer = uharfbuzz.Buffer()
    buffer.add_str(text)
    buffer.guess_segment_properties()
    buffer.direction = "rtl" if right_to_left else "ltr"
    font = typefaces.shaper(face)
    uharfbuzz.shape(font, buffer)
    em = font.face.upem
    placed, across = [], 0
    for info, position in zip(buffer.glyph_infos, buffer.glyph_positions, strict=True):
        placed.append((info.codepoint, (across + position.x_offset) / em, position.y_offset / em))
        across += position.x_advance
    return tuple(placed), across / em


@functools.lru_cache(maxsize=1000)
def runs(text, style, base=None):
    """Cut a line into runs, in the order of reading."""
    base = direction.base_level(text) if base is None else base
    found, start = [], 0
    keys = []
    for letter, level in zip(text, direction.levels(text, base), strict=True):
        joined = unicodedata.combining(letter) or letter in "\u200c\u200d"
        if joined and keys:
            keys.append(keys[-1])
            continue
        shaped = bool(level % 2) or typefaces.within(letter, typefaces.SHAPED)
        face = typefaces.name_for(letter, style.face) or style.face
        if letter == " " and keys and level == keys[-1][1]:
            face, _, shaped = keys[-1]  # a space belongs to the word before it
        keys.append((face, level, shaped))
    for index in range(1, len(text) + 1):
        if index == len(text) or keys[index] != keys[start]:
            face, level, shaped = keys[start]
            found.append(Run(text[start:index], face, level, shaped))
            start = index
    return tuple(found)


def run_width_pt(run, size_pt):
    """How wide a run is."""
    if run.shaped:
        return glyphs(run.text, run.face, bool(run.level % 2))[1] * size_pt
    typefaces.font(run.face)
    return pdfmetrics.stringWidth(run.text, run.face, size_pt)


def width_pt(text, style, base=None):
    """How wide a text is on one line."""
    return sum(run_width_pt(run, style.size_pt) for run in runs(text, style, base))


def pieces(paragraph):
    """Cut a paragraph where a line may break: after spaces, and between letters of scripts without spaces."""
    found, piece = [], ""
    for letter in paragraph:
        mark = unicodedata.category(letter).startswith("M") or letter in "\u200c\u200d"
        free = typefaces.within(letter, typefaces.BETWEEN_ALL_LETTERS) and unicodedata.category(letter)[0] == "L"
        if piece and not mark and (free or (piece[-1] == " " and letter != " ")):
            found.append(piece)
            piece = ""
        piece += letter
    return [*found, piece] if piece else found


def piece_width_pt(piece, style):
    """How wide a piece is; letters keep their width in any line, since nothing is shaped across a space."""
    return word_width_pt(piece, style) if len(piece) <= LONGEST_WORD else width_pt(piece, style)


@functools.lru_cache(maxsize=20_000)
def word_width_pt(word, style):
    """The width of a word, remembered."""
    return width_pt(word, style)


def clusters(text):
    """Cut a text into letters with the marks that belong to them."""
    found = []
    for letter in text:
        if found and (unicodedata.category(letter).startswith("M") or letter in "\u200c\u200d"):
            found[-1] += letter
        else:
            found.append(letter)
    return found


def broken(piece, style, room_pt):
    """Cut a piece that is wider than a line, between letters (counted as wide as they are alone)."""
    parts, part, taken_pt = [], "", 0.0
    for cluster in clusters(piece):
        cluster_pt = piece_width_pt(cluster, style)
        if part and taken_pt + cluster_pt > room_pt:
            parts.append(part)
            part, taken_pt = "", 0.0
        part += cluster
        taken_pt += cluster_pt
    return [*parts, part] if part else parts


def lines(text, style, room_pt):
    """Break a text into lines no wider than the room; returns tuples (line, level of its paragraph)."""
    found = []
    for paragraph in typefaces.printable(text).split("\n"):
        base = direction.base_level(paragraph)
        line, taken_pt = "", 0.0
        for piece in pieces(paragraph):
            if taken_pt + piece_width_pt(piece.rstrip(), style) > room_pt:
                if line.strip():
                    found.append((line.rstrip(), base))
                line, taken_pt = "", 0.0
                if piece_width_pt(piece.rstrip(), style) > room_pt:
                    *whole, piece = broken(piece, style, room_pt)
                    found.extend((part, base) for part in whole)
            line += piece
            taken_pt += piece_width_pt(piece, style)
        found.append((line.rstrip(), base))
    return found


class Outline:
    """Receives the outline of a glyph from HarfBuzz and adds it to a PDF path, in the units of the typeface."""

    def __init__(self, path):
        self.path, self.last = path, (0, 0)

    def moveTo(self, point):
        self.last = point
        self.path.moveTo(*point)

    def lineTo(self, point):
        self.last = point
        self.path.lineTo(*point)

    def qCurveTo(self, bend, point):
        """A quadratic curve, as the cubic one that is the same."""
        first = [a + 2 / 3 * (b - a) for a, b in zip(self.last, bend, strict=True)]
        second = [c + 2 / 3 * (b - c) for c, b in zip(point, bend, strict=True)]
        self.curveTo(first, second, point)

    def curveTo(self, first, second, point):
        self.last = point
        self.path.curveTo(*first, *second, *point)

    def closePath(self):
        self.path.close()


def outline_form(canvas, face, glyph):
    """The name of the drawing of one glyph, kept once in the document and used wherever the glyph stands."""
    name = f"{face}-{glyph}"
    if not canvas.hasForm(name):
        font = typefaces.shaper(face)
        em = font.face.upem
        canvas.beginForm(name, -3 * em, -3 * em, 3 * em, 3 * em)
        path = canvas.beginPath()
        font.draw_glyph_with_pen(glyph, Outline(path))
        canvas.drawPath(path, stroke=0, fill=1, fillMode=FILL_NON_ZERO)
        canvas.endForm()
    return name


def draw(canvas, x_pt, y_pt, text, style, base=None):
    """Draw one line of text from its left end on the baseline; returns its width in points."""
    base = direction.base_level(text) if base is None else base
    start_pt = x_pt
    canvas.setFillGray(style.grey)
    for run in direction.in_visual_order(runs(text, style, base), lambda run: run.level):
        typefaces.font(run.face)
        wide_pt = run_width_pt(run, style.size_pt)
        if run.shaped:
            _draw_shaped(canvas, x_pt, y_pt, run, style.size_pt, wide_pt)
        else:
            canvas.setFont(run.face, style.size_pt)
            canvas.drawString(x_pt, y_pt, run.text)
        x_pt += wide_pt
    return x_pt - start_pt


def _draw_shaped(canvas, x_pt, y_pt, run, size_pt, wide_pt):
    scale = size_pt / typefaces.shaper(run.face).face.upem
    for glyph, x, y in glyphs(run.text, run.face, bool(run.level % 2))[0]:
        name = outline_form(canvas, run.face, glyph)
        canvas.saveState()
        canvas.transform(scale, 0, 0, scale, x_pt + x * size_pt, y_pt + y * size_pt)
        canvas.doForm(name)
        canvas.restoreState()
    plain_pt = pdfmetrics.stringWidth(run.text, run.face, size_pt)
    unseen = canvas.beginText(x_pt, y_pt)
    unseen.setFont(run.face, size_pt)
    unseen.setTextRenderMode(3)
    if plain_pt:
        unseen.setHorizScale(100 * wide_pt / plain_pt)
    # Readers of PDF expect letters as they stand from left to right and turn them into the order of reading.
    unseen.textOut("".join(reversed(clusters(run.text))) if run.level % 2 else run.text)
    unseen.setTextRenderMode(0)
    unseen.setHorizScale(100)
    canvas.drawText(unseen)


class Text(Flowable):
    """A text that wraps to the width it is given and may go on over the page; nothing in it is markup."""

    def __init__(self, text, style=None, *, before_pt=0, after_pt=0, keep_with_next=False):
        super().__init__()
        self.style = style or Style()
        self.source = text
        self.set_lines = None
        self.spaceBefore, self.spaceAfter, self.keepWithNext = before_pt, after_pt, keep_with_next

    def wrap(self, room_pt, height_pt):
        if self.set_lines is None or getattr(self, "room_pt", None) != room_pt:
            self.room_pt = room_pt
            if self.source is not None:
                self.set_lines = lines(self.source, self.style, room_pt)
        self.height = len(self.set_lines) * self.style.line_pt
        return room_pt, self.height

    def split(self, room_pt, height_pt):
        # a table that splits a row asks with the width of the column, without its padding: stay as it was set
        room_pt = min(room_pt, getattr(self, "room_pt", room_pt))
        self.wrap(room_pt, height_pt)
        fit = int(height_pt / self.style.line_pt + 1e-6)
        if fit < 1:
            return []
        parts = []  # always two, the second may be empty: a cell of a table that is split asks for both
        for chosen in (self.set_lines[:fit], self.set_lines[fit:]):
            part = Text(None, self.style)
            part.set_lines, part.room_pt = chosen, room_pt
            parts.append(part)
        parts[0].spaceBefore, parts[1].spaceAfter = self.spaceBefore, self.spaceAfter
        return parts

    def draw(self):
        y_pt = self.height - 0.83 * self.style.line_pt
        for line, base in self.set_lines:
            x_pt = 0
            if base and self.style.follow_direction:
                x_pt = self.room_pt - width_pt(line, self.style, base)
            draw(self.canv, x_pt, y_pt, line, self.style, base)
            y_pt -= self.style.line_pt
