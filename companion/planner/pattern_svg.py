"""Writes a pattern as an SVG drawing of true size: one unit is one millimetre.

Rule: reading the file again gives the same pieces, in the same places, with the
same openings; nothing else stands on the page. Pieces are dark areas, lines cut as a
single kerf are hairlines.
"""

from __future__ import annotations

from collections.abc import Iterable
from xml.sax.saxutils import escape

import shapely
from shapely.geometry import LinearRing, LineString

from companion.pattern.model import Pattern

MARGIN_MM = 5.0
DECIMALS = 4
"""0.1 micrometre: no measure of a board is finer."""
HAIRLINE_MM = 0.1


def _number(value: float) -> str:
    text = f"{value:.{DECIMALS}f}".rstrip("0").rstrip(".")
    return "0" if text in ("-0", "") else text


def _path(line: LineString | LinearRing) -> str:
    points = [f"{_number(x)} {_number(y)}" for x, y in line.coords]
    if isinstance(line, LinearRing):
        return "M" + "L".join(points[:-1]) + "Z"
    return "M" + "L".join(points)


def page_mm(pattern: Pattern) -> tuple[float, float, float, float]:
    """Left, top, width and height of the page in pattern mm.

    The page keeps the pattern's own origin unless something lies left of it or above.
    """
    x0, y0, x1, y1 = pattern.bounds_mm
    left = 0.0 if x0 >= 0.0 else x0 - MARGIN_MM
    top = 0.0 if y0 >= 0.0 else y0 - MARGIN_MM
    return left, top, x1 + MARGIN_MM - left, y1 + MARGIN_MM - top


def pattern_svg(pattern: Pattern, title: str = "") -> str:
    """The drawing.

    Args:
        pattern: pieces and single lines, mm.
        title: told by viewers; may be empty.

    >>> from shapely.geometry import box
    >>> from companion.pattern.model import Piece
    >>> one = Pattern((Piece(1, box(1, 1, 3, 2), (), None),), (), (), "")
    >>> pattern_svg(one).splitlines()[1]
    '<path fill="#000" fill-rule="evenodd" d="M3 1L3 2L1 2L1 1Z"/>'
    """
    left, top, width, height = page_mm(pattern)
    size = f'width="{_number(width)}mm" height="{_number(height)}mm"'
    view = " ".join(_number(v) for v in (left, top, width, height))
    lines = [f'<svg xmlns="http://www.w3.org/2000/svg" {size} viewBox="{view}">']
    if title:
        lines.append(f"<title>{escape(title)}</title>")
    lines += [_piece(piece.shape.exterior, piece.shape.interiors) for piece in pattern.pieces]
    lines += [
        f'<path fill="none" stroke="#000" stroke-width="{HAIRLINE_MM}" d="{_path(vein)}"/>'
        for vein in pattern.veins
    ]
    return "\n".join([*lines, "</svg>", ""])


def _piece(outer: LinearRing, inner: Iterable[LinearRing]) -> str:
    rings = "".join(_path(shapely.LinearRing(ring)) for ring in (outer, *inner))
    return f'<path fill="#000" fill-rule="evenodd" d="{rings}"/>'
