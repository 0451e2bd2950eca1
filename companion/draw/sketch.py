"""Small drawn pictures: areas, lines and signs in mm, painted as SVG and on terminal cells.

A picture is a :class:`companion.draw.scene.Scene` with its solid areas beside it, so that
both painters show the same: striped is wood that goes, plain is wood that stays, empty is
air. A picture holds no words but numbers, so it needs no translation; its caption tells.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from companion.draw import marks
from companion.draw.cells import DOTS, Area, Frame, Ink, Mode, View, fill, paint, stroke
from companion.draw.hatch import with_hatch
from companion.draw.labels import box_mm
from companion.draw.scene import Area as Region
from companion.draw.scene import Label, Line, Role, Scene
from companion.draw.svg import svg_text
from companion.findings import Point

Points = tuple[Point, ...]
WIDTH_MM, HEIGHT_MM = 100.0, 50.0
SIGN_MM = 5.0
"""Em size of numbers."""

_INKS: dict[str, Ink] = {
    "board": Ink.FRAME, "piece-line": Ink.LATER, "lead": Ink.DONE, "hole": Ink.MARK,
    "hole-cross": Ink.MARK, "start": Ink.NOW, "arrow": Ink.MARK, "hold": Ink.HOLD,
    "neck": Ink.NECK, "fastener": Ink.MARK, "note": Ink.NECK, "meet": Ink.NOW,
}  # fmt: skip


@dataclass(frozen=True, slots=True)
class Picture:
    """One finished picture."""

    scene: Scene
    fills: tuple[tuple[Area, Points], ...]
    """Solid areas, later ones over earlier ones."""


class Sketch:
    """Collects what is drawn on a plane of 100 by 50 mm, y down."""

    def __init__(self) -> None:
        self._fills: list[tuple[Area, Points]] = []
        self._lines: list[Line] = []
        self._labels: list[Label] = []
        self._waste: list[Region] = []

    def wood(self, ring: Points, *inner: Points) -> Sketch:
        """Wood that goes: striped; without the regions inside that are drawn later."""
        self._fills.append((Area.WASTE, ring))
        self._waste.append(Region("waste", (ring, *inner)))
        return self.line("board", ring)

    def keep(self, ring: Points) -> Sketch:
        """Wood that stays: plain."""
        self._fills.append((Area.KEEP, ring))
        self._lines.append(Line("piece-line", ring, len(self._fills)))
        return self

    def air(self, ring: Points, role: Role = "lead") -> Sketch:
        """Nothing there any more."""
        self._fills.append((Area.AWAY, ring))
        return self.line(role, ring)

    def line(self, role: Role, *lines: Sequence[Point]) -> Sketch:
        """Polylines."""
        self._lines += [Line(role, tuple(points)) for points in lines]
        return self

    def arrow(self, *points: Point, role: Role = "arrow", head: float = 2.4) -> Sketch:
        """A polyline with a head at its end."""
        (ax, ay), (bx, by) = points[-2], points[-1]
        d = math.hypot(bx - ax, by - ay) or 1.0
        ux, uy = (bx - ax) / d, (by - ay) / d
        sides = [
            (bx - head * (ux + s * 0.5 * uy), by - head * (uy - s * 0.5 * ux)) for s in (1.0, -1.0)
        ]
        return self.line(role, points, (sides[0], (bx, by), sides[1]))

    def number(self, text: str, at: Point) -> Sketch:
        """A number at its place."""
        self._labels.append(Label("number", at, text, SIGN_MM, box_mm(text, SIGN_MM)))
        return self

    def cross(self, at: Point, size: float = 2.5) -> Sketch:
        """A slanted cross: not so."""
        (x, y), s = at, size
        return self.line("note", ((x - s, y - s), (x + s, y + s)), ((x - s, y + s), (x + s, y - s)))

    def tick(self, at: Point, size: float = 2.5) -> Sketch:
        """A tick: so."""
        (x, y), s = at, size
        return self.line("hold", ((x - s, y), (x - s * 0.3, y + s * 0.8), (x + s, y - s)))

    def blade(self, at: Point, heading_deg: float = 0.0, size: float = 3.4) -> Sketch:
        """The blade seen from above: a thin box, its teeth's end crossed by a bar."""
        a = math.radians(heading_deg)
        ux, uy = math.cos(a), math.sin(a)

        def put(u: float, v: float) -> Point:
            return (at[0] + u * ux - v * uy, at[1] + u * uy + v * ux)

        h, w = size / 2, size / 6
        body = (put(-h, -w), put(h, -w), put(h, w), put(-h, w), put(-h, -w))
        return self.line("start", body, (put(h, -2 * w), put(h, 2 * w)))

    def finger(self, tip: Point, way_deg: float, length: float = 9.0, half: float = 2.3) -> Sketch:
        """A finger from above that points along ``way_deg``; its tip touches ``tip``."""
        a = math.radians(way_deg)
        centre = (tip[0] - half * math.cos(a), tip[1] - half * math.sin(a))
        round_ = marks.arc(centre, half, way_deg - 90.0, 180.0)
        back = (-length * math.cos(a), -length * math.sin(a))
        first, last = round_[0], round_[-1]
        return self.line(
            "hold",
            (
                (first[0] + back[0], first[1] + back[1]), *round_,
                (last[0] + back[0], last[1] + back[1]),
            ),
        )  # fmt: skip

    def done(self) -> Picture:
        """The picture."""
        scene = Scene(
            WIDTH_MM, HEIGHT_MM, areas=tuple(self._waste), lines=tuple(self._lines),
            labels=tuple(self._labels),
        )  # fmt: skip
        return Picture(scene, tuple(self._fills))


def box(x: float, y: float, width: float, height: float) -> Points:
    """A closed rectangle by its top left corner."""
    return marks.box(x, y, width, height)


def ring(x: float, y: float, radius: float) -> Points:
    """A closed circle."""
    return marks.ring((x, y), radius)


def closed(*points: Point) -> Points:
    """A closed polygon."""
    return (*points, points[0])


def bow(x: float, top: float, bottom: float, deep: float) -> Points:
    """A blade seen from the side: from top to bottom, bowed by ``deep`` in the middle."""
    steps = 12
    return tuple(
        (x + deep * math.sin(math.pi * k / steps), top + (bottom - top) * k / steps)
        for k in range(steps + 1)
    )


def picture_svg(picture: Picture, title: str = "") -> str:
    """The picture as an SVG document."""
    return svg_text(with_hatch(picture.scene), title, bars=False)


def picture_frame(picture: Picture, columns: int, rows: int, mode: Mode = "braille") -> Frame:
    """The picture on terminal cells.

    Args:
        picture: what to paint.
        columns: room, cells.
        rows: room, cells.
        mode: which canvas.
    """
    view = View.around((0.0, 0.0, WIDTH_MM, HEIGHT_MM), columns, rows)
    down, across = DOTS[mode]
    shape = (rows * down, columns * across)
    areas = np.full(shape, Area.BARE, dtype=np.int32)
    inks = np.zeros(shape, dtype=np.int32)
    for area, outline in picture.fills:
        fill(areas, view.dots(np.array(outline), mode), area)
    for line in sorted(picture.scene.lines, key=lambda one: _INKS.get(one.role, Ink.LATER)):
        dots = view.dots(np.array(line.points_mm), mode)
        ink = np.full(len(dots) - 1, _INKS.get(line.role, Ink.LATER), dtype=np.int32)
        stroke(inks, dots[:-1], dots[1:], ink)
    frame = paint(areas, inks, mode)
    for label in picture.scene.labels:
        column, row = view.cell(label.at_mm)
        for offset, sign in enumerate(label.text):
            at = column + offset - len(label.text) // 2
            if 0 <= row < rows and 0 <= at < columns:
                frame.signs[row, at] = sign
                frame.ink[row, at] = Ink.MARK
    return frame
