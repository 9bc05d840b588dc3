"""Two boards to draw on alike: a page of PDF, and an SVG whose letters are outlines and ask for no typeface.

Coordinates are points from the upper left corner, y downwards; colours are written #rrggbb.
"""

import io
import threading
from html import escape

from reportlab.lib.colors import HexColor
from reportlab.pdfgen.canvas import Canvas

from . import direction, lettering, typefaces

PDFIUM = threading.Lock()  # the library may be used by one thread at a time


class PdfBoard:
    """A part of a page of PDF; `left_pt` and `top_pt` are where its corner lies on the canvas."""

    def __init__(self, canvas, left_pt, top_pt):
        self.canvas, self.left_pt, self.top_pt = canvas, left_pt, top_pt

    def _at(self, x_pt, y_pt):
        return self.left_pt + x_pt, self.top_pt - y_pt

    def line(self, x1, y1, x2, y2, colour, width, dash=()):
        self.canvas.setStrokeColor(HexColor(colour))
        self.canvas.setLineWidth(width)
        self.canvas.setDash(*([list(dash)] if dash else []))
        self.canvas.line(*self._at(x1, y1), *self._at(x2, y2))
        self.canvas.setDash()

    def circle(self, x, y, radius, fill, stroke="", width=1.0):
        self.canvas.setFillColor(HexColor(fill))
        if stroke:
            self.canvas.setStrokeColor(HexColor(stroke))
            self.canvas.setLineWidth(width)
        self.canvas.circle(*self._at(x, y), radius, stroke=int(bool(stroke)), fill=1)

    def polygon(self, points, fill):
        path = self.canvas.beginPath()
        path.moveTo(*self._at(*points[0]))
        for point in points[1:]:
            path.lineTo(*self._at(*point))
        path.close()
        self.canvas.setFillColor(HexColor(fill))
        self.canvas.drawPath(path, stroke=0, fill=1)

    def text(self, x, y, text, style):
        """One line from its left end, y on the baseline."""
        lettering.draw(self.canvas, *self._at(x, y), text, style)


class SvgPen:
    """Receives the outline of a glyph from HarfBuzz as the data of an SVG path."""

    def __init__(self):
        self.parts = []

    def _add(self, command, *points):
        self.parts.append(command + " ".join(f"{x:g} {y:g}" for x, y in points))

    def moveTo(self, point):
        self._add("M", point)

    def lineTo(self, point):
        self._add("L", point)

    def qCurveTo(self, bend, point):
        self._add("Q", bend, point)

    def curveTo(self, first, second, point):
        self._add("C", first, second, point)

    def closePath(self):
        self.parts.append("Z")


class SvgBoard:
    """A drawing in SVG with a title and a description for those who do not see it."""

    def __init__(self, width_pt, height_pt, background):
        self.width_pt, self.height_pt, self.background = width_pt, height_pt, background
        self.outlines, self.parts = {}, []

    def line(self, x1, y1, x2, y2, colour, width, dash=()):
        dashes = f' stroke-dasharray="{" ".join(f"{one:g}" for one in dash)}"' if dash else ""
        self.parts.append(
            f'<line x1="{x1:.2f}" y1="{y1:.2f}" x2="{x2:.2f}" y2="{y2:.2f}" stroke="{colour}" '
            f'stroke-width="{width:g}"{dashes}/>'
        )

    def circle(self, x, y, radius, fill, stroke="", width=1.0):
        edge = f' stroke="{stroke}" stroke-width="{width:g}"' if stroke else ""
        self.parts.append(f'<circle cx="{x:.2f}" cy="{y:.2f}" r="{radius:g}" fill="{fill}"{edge}/>')

    def polygon(self, points, fill):
        corners = " ".join(f"{x:.2f},{y:.2f}" for x, y in points)
        self.parts.append(f'<polygon points="{corners}" fill="{fill}"/>')

    def text(self, x, y, text, style):
        """One line from its left end, y on the baseline."""
        grey = f"{round(255 * style.grey):02x}"
        base = direction.base_level(text)
        for run in direction.in_visual_order(lettering.runs(text, style, base), lambda run: run.level):
            typefaces.font(run.face)
            scale = style.size_pt / typefaces.shaper(run.face).face.upem
            wide_pt = lettering.run_width_pt(run, style.size_pt)
            placed, advance = lettering.glyphs(run.text, run.face, bool(run.level % 2))
            fit = wide_pt / (advance * style.size_pt) if advance else 1.0  # kerned or not, as wide as was measured
            for glyph, gx, gy in placed:
                name = self._outline(run.face, glyph)
                if name:
                    self.parts.append(
                        f'<use href="#{name}" transform="translate({x + gx * fit * style.size_pt:.2f} '
                        f'{y - gy * style.size_pt:.2f}) scale({scale:.5g} {-scale:.5g})" fill="#{grey * 3}"/>'
                    )
            x += wide_pt

    def _outline(self, face, glyph):
        """The name of a glyph's outline, which stands once in the drawing; empty for a glyph without ink."""
        if (face, glyph) not in self.outlines:
            pen = SvgPen()
            typefaces.shaper(face).draw_glyph_with_pen(glyph, pen)
            name = f"g{len(self.outlines)}" if pen.parts else ""
            self.outlines[face, glyph] = (name, "".join(pen.parts))
        return self.outlines[face, glyph][0]

    def svg(self, title, description):
        """The whole drawing as text."""
        paths = "".join(f'<path id="{name}" d="{data}"/>' for name, data in self.outlines.values() if name)
        size = f"{self.width_pt:g} {self.height_pt:g}"
        ground = f'<rect width="100%" height="100%" fill="{self.background}"/>'
        return (
            f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {size}" width="{self.width_pt:g}" '
            f'height="{self.height_pt:g}" role="img" aria-labelledby="title description">'
            f'<title id="title">{escape(title)}</title><desc id="description">{escape(description)}</desc>'
            f'<defs>{paths}</defs>{ground}{"".join(self.parts)}</svg>'
        )


def pdf_page(width_pt, height_pt, background, draw, title=""):
    """One page of PDF that `draw`, a function of a board, has drawn on."""
    output = io.BytesIO()
    canvas = Canvas(output, pagesize=(width_pt, height_pt), pageCompression=1)
    canvas.setTitle(typefaces.printable(title))
    canvas.setFillColor(HexColor(background))
    canvas.rect(0, 0, width_pt, height_pt, stroke=0, fill=1)
    draw(PdfBoard(canvas, 0, height_pt))
    canvas.showPage()
    canvas.save()
    return output.getvalue()


def png_of_page(pdf, pixels_a_pt):
    """The first page of a PDF as PNG."""
    import pypdfium2

    with PDFIUM:
        document = pypdfium2.PdfDocument(pdf)
        try:
            picture = document[0].render(scale=pixels_a_pt).to_pil()
        finally:
            document.close()
    output = io.BytesIO()
    picture.save(output, "PNG", optimize=True)
    return output.getvalue()
