"""Draws the patterns of the demo projects.

Run it with the folder that holds the three fonts (open-licensed, see CREDITS.md)::

    python demo_projects/draw_demos.py FONT_FOLDER

The patterns that need no font are drawn by rule alone. The written files are
kept in the repository, so nobody needs the fonts to use the demos.
"""

from __future__ import annotations

import math
import sys
from pathlib import Path

from fontTools.pens.boundsPen import BoundsPen
from fontTools.pens.svgPathPen import SVGPathPen
from fontTools.pens.transformPen import TransformPen
from fontTools.ttLib import TTFont

HERE = Path(__file__).parent
Point = tuple[float, float]


def number(value: float) -> str:
    """A coordinate as short as 0.001 mm allows."""
    return f"{value:.3f}".rstrip("0").rstrip(".")


def word_path(
    font_file: Path, text: str, width_mm: float, closer: dict[str, int] | None = None
) -> tuple[str, float]:
    """Outlines of a word, its ink ``width_mm`` wide with its top left at 0,0.

    Args:
        font_file: the font.
        text: the word.
        width_mm: width of its ink.
        closer: by how many font units the letter after this one moves up to it.

    Returns:
        Path data in mm, and the ink's height in mm.
    """
    font = TTFont(font_file)
    glyphs, names = font.getGlyphSet(), font.getBestCmap()
    bounds, at = BoundsPen(glyphs), 0.0
    placed: list[tuple[str, float]] = []
    for letter in text:
        name = names[ord(letter)]
        placed.append((name, at))
        glyphs[name].draw(TransformPen(bounds, (1, 0, 0, -1, at, 0)))
        at += glyphs[name].width - (closer or {}).get(letter, 0)
    left, top, right, bottom = bounds.bounds
    scale = width_mm / (right - left)
    pen = SVGPathPen(glyphs, ntos=number)
    for name, x in placed:
        matrix = (scale, 0, 0, -scale, (x - left) * scale, -top * scale)
        glyphs[name].draw(TransformPen(pen, matrix))
    return pen.getCommands(), (bottom - top) * scale


def polygon(points: list[Point]) -> str:
    """Closed straight-sided path data."""
    return "M" + " L".join(f"{number(x)},{number(y)}" for x, y in points) + "Z"


def circle(x: float, y: float, r: float) -> str:
    """Closed circle path data from two arcs."""
    return (
        f"M{number(x - r)},{number(y)}a{number(r)},{number(r)} 0 1 0 {number(2 * r)},0"
        f"a{number(r)},{number(r)} 0 1 0 {number(-2 * r)},0Z"
    )


def polar(cx: float, cy: float, r: float, degrees: float) -> Point:
    """A point at a bearing (0 = up, clockwise)."""
    a = math.radians(degrees)
    return cx + r * math.sin(a), cy - r * math.cos(a)


def compass(cx: float, cy: float, r: float) -> list[str]:
    """A compass rose: a disc with 8 rays, 8 kites and 8 round openings."""
    paths = [circle(cx, cy, r)]
    for k in range(8):
        a = 45.0 * k
        reach = 0.66 if k % 2 == 0 else 0.52
        half = 9.5 if k % 2 == 0 else 8.0
        paths.append(
            polygon(
                [
                    polar(cx, cy, r * 0.14, a - 12),
                    polar(cx, cy, r * 0.30, a - half),
                    polar(cx, cy, r * reach, a),
                    polar(cx, cy, r * 0.30, a + half),
                    polar(cx, cy, r * 0.14, a + 12),
                ]
            )
        )
        b = a + 22.5
        paths.append(
            polygon(
                [
                    polar(cx, cy, r * 0.40, b),
                    polar(cx, cy, r * 0.58, b - 7),
                    polar(cx, cy, r * 0.74, b),
                    polar(cx, cy, r * 0.58, b + 7),
                ]
            )
        )
        x, y = polar(cx, cy, r * 0.84, a)
        paths.append(circle(x, y, r * 0.075))
    return paths


FISH = (
    "M-1,0C-.6,-.62 .2,-.6 .55,-.12L1,-.42Q.82,0 1,.42L.55,.12C.2,.6 -.6,.62 -1,0Z "
    "M-.69,-.1a.07,.07 0 1 0 .14,0a.07,.07 0 1 0 -.14,0Z "
    "M-.35,-.2q.12,.2 0,.4h.07q.12,-.2 0,-.4Z "
    "M-.12,-.2q.12,.2 0,.4h.07q.12,-.2 0,-.4Z "
    "M.11,-.2q.12,.2 0,.4h.07q.12,-.2 0,-.4Z"
)
"""A fish from -1 to 1 with an eye and three gill slots."""

ANCHOR = (
    "M-.09,-.55H-.42V-.38H-.09V.62Q-.52,.55 -.6,.2L-.5,.24L-.7,-.12L-.9,.24H-.8"
    "Q-.66,.84 0,.92Q.66,.84 .8,.24H.9L.7,-.12L.5,.24L.6,.2Q.52,.55 .09,.62V-.38H.42V-.55Z"
)
"""Stock, shank and arms of an anchor."""

ANCHOR_RING = (
    "M-.24,-.74a.24,.24 0 1 0 .48,0a.24,.24 0 1 0 -.48,0Z "
    "M-.11,-.74a.11,.11 0 1 0 .22,0a.11,.11 0 1 0 -.22,0Z"
)
"""Overlaps the stock, so it is a path of its own: the reader unites them."""

DROP = "M0,-.46C.12,-.24 .39,-.21 .39,0A.39,.39 0 0 1 -.39,0C-.39,-.21 -.12,-.24 0,-.46Z"
"""A fish scale for a pitch of 1."""


def unit_path(data: str, x: float, y: float, scale: float) -> str:
    """A path drawn in units, put in its place in mm."""
    place = f"translate({number(x)} {number(y)}) scale({number(scale)})"
    return f'<path fill-rule="evenodd" transform="{place}" d="{data}"/>'


def starfish(x: float, y: float, s: float) -> list[str]:
    """A five-armed star with a round opening in each arm."""
    points = [polar(x, y, s if k % 2 == 0 else 0.48 * s, 36.0 * k) for k in range(10)]
    holes = []
    for k in range(5):
        hx, hy = polar(x, y, 0.55 * s, 72.0 * k)
        holes.append(circle(hx, hy, 0.085 * s))
    return [polygon(points), *holes]


def scales(columns: int, rows: int, pitch: float, border: float) -> tuple[str, float, float]:
    """A panel of fish scales: half-offset rows of white drops on a dark board.

    Returns:
        The drawing, and the panel's width and height in mm.
    """
    row_pitch = pitch * 0.86
    w, h = columns * pitch + 2 * border, rows * row_pitch + 2 * border
    parts = [
        f'<defs><path id="drop" transform="scale({number(pitch)})" d="{DROP}"/></defs>',
        f'<rect width="{number(w)}" height="{number(h)}"/>',
        '<g fill="white">',
    ]
    for j in range(rows):
        odd = j % 2
        y = border + row_pitch * (j + 0.5)
        for i in range(columns - odd):
            x = border + pitch * (i + 0.5 + 0.5 * odd)
            parts.append(f'<use href="#drop" x="{number(x)}" y="{number(y)}"/>')
    return "\n".join([*parts, "</g>"]), w, h


def svg(width: float, height: float, body: str, note: str) -> str:
    """A whole file at true size in mm."""
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{number(width)}mm" '
        f'height="{number(height)}mm" viewBox="0 0 {number(width)} {number(height)}">\n'
        f"<!-- {note} -->\n{body}\n</svg>\n"
    )


def write(project: str, text: str) -> None:
    """Write one project's pattern."""
    (HERE / project / "pattern.svg").write_text(text, encoding="utf-8")


def main(fonts: Path) -> None:
    """Draw all five patterns."""
    path, height = word_path(
        fonts / "dancing-script-latin-400-normal.woff", "Harbour", 240.0, {"H": 136}
    )
    write("harbour_sign", svg(240, height, f'<path d="{path}"/>', "see CREDITS.md"))

    path, height = word_path(fonts / "pacifico-latin-400-normal.woff", "68", 130.0)
    base = f'<rect x="0" y="{number(height - 4)}" width="130" height="20" rx="6"/>'
    write("quay_number", svg(130, height + 16, f'<path d="{path}"/>{base}', "see CREDITS.md"))

    body, w, h = scales(10, 10, 18.0, 8.0)
    write("tide_panel", svg(w, h, body, "by rule"))

    path, height = word_path(fonts / "josefin-sans-latin-700-normal.woff", "BOATS", 190.0)
    plate = f'<rect x="0.5" y="0.5" width="229" height="{number(height + 39)}" rx="12" fill="none" '
    plate += 'stroke="black" stroke-width="0.2"/>'
    body = f'{plate}\n<path transform="translate(20 20)" d="{path}"/>'
    write("ferry_plate", svg(230, height + 40, body, "see CREDITS.md"))

    body = "\n".join(
        [
            f'<path fill-rule="evenodd" d="{" ".join(compass(55, 55, 50))}"/>',
            unit_path(FISH, 160, 30, 38),
            f'<path fill-rule="evenodd" d="{" ".join(starfish(152, 88, 27))}"/>',
            unit_path(ANCHOR, 212, 82, 34),
            unit_path(ANCHOR_RING, 212, 82, 34),
        ]
    )
    write("beach_ornaments", svg(250, 120, body, "by rule"))


if __name__ == "__main__":
    main(Path(sys.argv[1]))
