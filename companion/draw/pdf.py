"""Paints on PDF pages at true size; the only module that speaks to the PDF library.

Millimetres in, origin at the top left of the page or of the scene, y down. Output
is the same bytes for the same input: the library's invariant mode leaves out the
time of day.
"""

from __future__ import annotations

import io
import unicodedata
from collections.abc import Iterable, Sequence
from typing import TYPE_CHECKING, Any

from companion.draw import marks
from companion.draw.labels import HEIGHT_EM
from companion.draw.pens import PENS, Pen
from companion.draw.scene import Scene
from companion.findings import Point

if TYPE_CHECKING:
    from reportlab.pdfgen.canvas import Canvas

POINT_PER_MM = 72.0 / 25.4
"""PDF's unit is 1/72 inch."""
CIRCLE_K = 0.5522847498
"""Control length of a quarter circle as a cubic: off the circle by 0.03 % of its radius."""


class Sheets:
    """A PDF being written, page by page."""

    def __init__(self, title: str) -> None:
        from reportlab.pdfgen.canvas import Canvas

        self._buffer = io.BytesIO()
        self.canvas: Canvas = Canvas(self._buffer, invariant=1, pageCompression=1)
        self.canvas.setTitle(title)
        self.canvas.setCreator("kerfside")
        self.canvas.setViewerPreference("PrintScaling", "None")
        self._height = 0.0
        self.pages = 0

    def begin(self, page_mm: tuple[float, float]) -> None:
        """Start a page of a size in mm."""
        self._height = page_mm[1]
        self.canvas.setPageSize((page_mm[0] * POINT_PER_MM, page_mm[1] * POINT_PER_MM))
        self.canvas.setLineJoin(1)
        self.canvas.setLineCap(0)

    def end(self) -> None:
        """Finish the page."""
        self.canvas.showPage()
        self.pages += 1

    def bytes(self) -> bytes:
        """Close the file and hand over what was written."""
        self.canvas.save()
        return self._buffer.getvalue()

    def _xy(self, p: Point) -> tuple[float, float]:
        return p[0] * POINT_PER_MM, (self._height - p[1]) * POINT_PER_MM

    def pen(self, pen: Pen) -> None:
        """Take a pen."""
        self.canvas.setLineWidth(pen.width_mm * POINT_PER_MM)
        self.canvas.setDash([d * POINT_PER_MM for d in pen.dash_mm] or [])

    def lines(self, polylines: Iterable[Sequence[Point]], fill: bool = False) -> None:
        """Stroke polylines with the pen in hand; closed when the last point is the first."""
        path = self.canvas.beginPath()
        empty = True
        for points in polylines:
            closed = len(points) > 2 and points[0] == points[-1]
            path.moveTo(*self._xy(points[0]))
            for p in points[1:-1] if closed else points[1:]:
                path.lineTo(*self._xy(p))
            if closed:
                path.close()
            empty = False
        if not empty:
            self.canvas.drawPath(path, stroke=1, fill=int(fill))

    def circles(self, circles: Iterable[tuple[Point, float]]) -> None:
        """Stroke circles, given by centre and radius in mm."""
        path = self.canvas.beginPath()
        empty = True
        for at, radius in circles:
            (x, y), r = self._xy(at), radius * POINT_PER_MM
            k = CIRCLE_K * r
            path.moveTo(x + r, y)
            path.curveTo(x + r, y + k, x + k, y + r, x, y + r)
            path.curveTo(x - k, y + r, x - r, y + k, x - r, y)
            path.curveTo(x - r, y - k, x - k, y - r, x, y - r)
            path.curveTo(x + k, y - r, x + r, y - k, x + r, y)
            path.close()
            empty = False
        if not empty:
            self.canvas.drawPath(path, stroke=1, fill=0)

    def text_width(self, text: str, size_mm: float, bold: bool = False) -> float:
        """Width of a text in mm."""
        from reportlab.pdfbase.pdfmetrics import stringWidth

        return float(stringWidth(latin(text), _face(bold), size_mm))

    def text(
        self, at: Point, text: str, size_mm: float, align: str = "left", bold: bool = False
    ) -> None:
        """Write one line; ``at`` is on the base line, ``align`` left, middle or right of it."""
        self.canvas.setFont(_face(bold), size_mm * POINT_PER_MM)
        draw: dict[str, Any] = {
            "left": self.canvas.drawString,
            "middle": self.canvas.drawCentredString,
            "right": self.canvas.drawRightString,
        }
        draw[align](*self._xy(at), latin(text))

    def wrap(self, text: str, width_mm: float, size_mm: float, bold: bool = False) -> list[str]:
        """Break a text into lines no wider than a width."""
        lines: list[str] = []
        for word in text.split():
            longer = f"{lines[-1]} {word}" if lines else word
            if lines and self.text_width(longer, size_mm, bold) <= width_mm:
                lines[-1] = longer
            else:
                lines.append(word)
        return lines

    def define_scene(self, scene: Scene, name: str) -> None:
        """Draw the scene once; :meth:`place_scene` shows it by its name on any page."""
        x0, y0, x1, y1 = scene.bounds_mm
        pad = 2.0
        box = [v * POINT_PER_MM for v in (x0 - pad, -(y1 + pad), x1 + pad, -(y0 - pad))]
        self.canvas.beginForm(name, *box)
        # in the form the scene's own origin is (0, 0) and y runs up: page height 0
        self._height = 0.0
        self.canvas.setLineJoin(1)
        paint_scene(self, scene)
        self.canvas.endForm()

    def place_scene(
        self, name: str, corner_mm: Point, window_mm: tuple[float, float], origin_mm: Point
    ) -> None:
        """Show a window of the scene on the page.

        Args:
            name: as given to :meth:`define_scene`.
            corner_mm: top left of the window on the page.
            window_mm: width and height of the window.
            origin_mm: the scene's place that comes to that corner.
        """
        canvas = self.canvas
        canvas.saveState()
        clip = canvas.beginPath()
        x, y = self._xy((corner_mm[0], corner_mm[1] + window_mm[1]))
        clip.rect(x, y, window_mm[0] * POINT_PER_MM, window_mm[1] * POINT_PER_MM)
        canvas.clipPath(clip, stroke=0, fill=0)
        shift = self._xy((corner_mm[0] - origin_mm[0], corner_mm[1] - origin_mm[1]))
        canvas.translate(*shift)
        canvas.doForm(name)
        canvas.restoreState()


def _face(bold: bool) -> str:
    return "Helvetica-Bold" if bold else "Helvetica"


def latin(text: str) -> str:
    """The text in the letters of PDF's standard faces (Windows code page 1252).

    Accents that those lack are left off; letters of other scripts become question
    marks: embedding a face of many megabytes for a project's name is not worth it.

    >>> latin("Größe Żagiel \u0416")
    'Größe Zagiel ?'
    """
    found = []
    for c in text:
        for try_c in (c, unicodedata.normalize("NFKD", c)[0]):
            if try_c.encode("cp1252", "ignore"):
                found.append(try_c)
                break
        else:
            found.append("?")
    return "".join(found)


def paint_scene(sheets: Sheets, scene: Scene) -> None:
    """Stroke everything in the scene, role by role, then write its labels."""
    for role, pen in PENS.items():
        sheets.pen(pen)
        if role == "piece-line":
            # one path a cut: a photocopier or cutter sees each contour whole
            for line in scene.of(role):
                sheets.lines([line.points_mm])
            continue
        sheets.lines([line.points_mm for line in scene.of(role)])
        sheets.circles([(d.at_mm, d.radius_mm) for d in scene.discs if d.role == role])
    sheets.pen(PENS["note"])
    for label in scene.labels:
        (x, y), (w, h) = label.at_mm, label.box_mm
        if label.role == "note":
            sheets.lines([marks.box(x - w / 2, y - h / 2, w, h)])
        base = y + HEIGHT_EM * label.size_mm / 2 - 0.01 * label.size_mm
        sheets.text((x, base), label.text, label.size_mm, "middle")
