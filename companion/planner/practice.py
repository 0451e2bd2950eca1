"""Draws the practice patterns by rule: straight lines, waves, corners, small openings, letters.

Every figure follows from the numbers of its level alone (companion/shop/data/practice), so
the same level gives the same drawing, byte for byte, and a test can measure the written
drawing against its rule. Curves are written as arcs, with their true radius.

Open lines become veins: single kerfs that run in from the plate's edge and free nothing.
Closed lines in the plate become openings. Letters are strokes of a pen's width.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass

from companion.errors import ShopError
from companion.findings import Point
from companion.pattern.options import Lines
from companion.planner.practice_letters import ADVANCE, skeleton
from companion.sentence import sentence
from companion.shop.practice import Level, Plate, plate


@dataclass(frozen=True, slots=True)
class Figures:
    """What is drawn of a level, mm, y down."""

    paths: tuple[str, ...]
    """SVG path data, one each figure."""
    width_mm: float
    height_mm: float
    pen_mm: float | None = None
    """Strokes are ink of this width; None: they are cut lines, in a plate."""


def drawing(level: Level) -> str:
    """The level's pattern as an SVG document at true size.

    >>> from companion.shop.practice import level
    >>> drawing(level("waves")) == drawing(level("waves"))
    True

    Raises:
        ShopError: the table asks for a figure that is not known, or lacks a measure.
    """
    return _document(level, _drawn(level))


def _drawn(level: Level) -> Figures:
    maker = _MAKERS.get(level.figure)
    if maker is None:
        raise ShopError(
            sentence("unknown practice figure {figure!r}", figure=level.figure),
            "",
            "Mend levels.toml.",
        )
    try:
        return maker(level, plate())
    except KeyError as error:
        raise ShopError(
            sentence("practice level {key} lacks {error}", key=level.key, error=error),
            "",
            "Mend levels.toml.",
        ) from error


def outside_start(level: Level) -> Point | None:
    """Where the plate's own outline is best started: its foot's middle, far from all lines' ends.

    Returns:
        In pattern mm; None for letters, which have no plate.
    """
    drawn = _drawn(level)
    return (drawn.width_mm / 2.0, drawn.height_mm) if drawn.pen_mm is None else None


def lines_mode(level: Level) -> Lines:
    """How the reader takes the strokes: letters are ink, all else is cut along."""
    return "ink" if level.figure == "letters" else "cut"


def _document(level: Level, drawn: Figures) -> str:
    wide, high = _n(drawn.width_mm), _n(drawn.height_mm)
    pen = drawn.pen_mm
    width = 0.2 if pen is None else pen
    body = "\n".join(f'  <path d="{d}"/>' for d in drawn.paths)
    return (
        '<?xml version="1.0" encoding="UTF-8"?>\n'
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{wide}mm" height="{high}mm" '
        f'viewBox="0 0 {wide} {high}">\n'
        f"<title>{level.project}</title>\n"
        f'<g fill="none" stroke="black" stroke-width="{_n(width)}" stroke-linejoin="miter">\n'
        f"{body}\n</g>\n</svg>\n"
    )


def _n(value: float) -> str:
    """A coordinate to 0.1 micrometre, without idle zeros."""
    text = f"{value:.4f}".rstrip("0").rstrip(".")
    return "0" if text in ("-0", "") else text


def _p(at: Point) -> str:
    return f"{_n(at[0])} {_n(at[1])}"


def polyline(points: Sequence[Point], closed: bool = False) -> str:
    """Path data of straight lines."""
    return f"M{_p(points[0])}L{' '.join(_p(q) for q in points[1:])}{'Z' if closed else ''}"


def _plate(wide: float, high: float, by: Plate) -> str:
    """The plate's outline: a rectangle with round corners, from its top left on clockwise."""
    r = by.round_mm
    return (
        f"M{_n(r)} 0H{_n(wide - r)}A{_n(r)} {_n(r)} 0 0 1 {_n(wide)} {_n(r)}V{_n(high - r)}"
        f"A{_n(r)} {_n(r)} 0 0 1 {_n(wide - r)} {_n(high)}H{_n(r)}"
        f"A{_n(r)} {_n(r)} 0 0 1 0 {_n(high - r)}V{_n(r)}A{_n(r)} {_n(r)} 0 0 1 {_n(r)} 0Z"
    )


def _in_plate(paths: Sequence[str], wide: float, high: float, by: Plate) -> Figures:
    return Figures((_plate(wide, high, by), *paths), wide, high)


# ------------------------------------------------------------------ open lines


def _lines(level: Level, by: Plate) -> Figures:
    """Parallel straight lines in from the left edge, their gaps as listed."""
    m = level.measures
    y, paths = by.edge_mm, []
    for gap in m["gaps_mm"]:
        y += gap
        paths.append(polyline([(0.0, y), (m["length_mm"], y)]))
    return _in_plate(paths, m["length_mm"] + by.edge_mm, y + by.edge_mm, by)


def _waves(level: Level, by: Plate) -> Figures:
    """One wave a row: half circles of one radius, led in and out by quarter circles."""
    m = level.measures
    y, paths = by.edge_mm, []
    for r in m["radii_mm"]:
        y += 2.0 * r
        paths.append(_wave(y, r, by.lead_mm, m["length_mm"]))
        y += by.edge_mm
    return _in_plate(paths, m["length_mm"] + by.edge_mm, y, by)


def _wave(y: float, r: float, lead: float, length: float) -> str:
    """From (0, y) to the right: quarter, half circles, quarter; tangents meet everywhere."""
    halves = int((length - lead - 2.0 * r) // (2.0 * r))
    arc = f"A{_n(r)} {_n(r)} 0 0"
    x = lead + r
    d = f"M0 {_n(y)}H{_n(lead)}{arc} 0 {_n(x)} {_n(y - r)}"
    for k in range(halves):
        x += 2.0 * r
        d += f"{arc} {1 - k % 2} {_n(x)} {_n(y - r)}"
    # after an even number of halves the blade heads up, after an odd one down
    up = halves % 2 == 0
    return d + f"{arc} {1 if up else 0} {_n(x + r)} {_n(y - 2.0 * r if up else y)}"


def _zigzags(level: Level, by: Plate) -> Figures:
    """One zigzag a row: legs of one length that meet at the row's angle."""
    m = level.measures
    leg, y, paths = m["leg_mm"], by.edge_mm, []
    for angle in m["angles_deg"]:
        rise = leg * math.cos(math.radians(angle / 2.0))
        run = leg * math.sin(math.radians(angle / 2.0))
        y += rise
        legs = max(2, int((m["length_mm"] - by.lead_mm) // run))
        points = [(0.0, y), (by.lead_mm, y)]
        points += [(by.lead_mm + run * k, y - rise * (k % 2)) for k in range(1, legs + 1)]
        paths.append(polyline(points))
        y += by.edge_mm
    return _in_plate(paths, m["length_mm"] + by.edge_mm, y, by)


SPIRAL_STEP_DEG = 4.0
"""Chords of a spiral; at a radius of 30 mm they leave it by under 0.02 mm."""


def _spirals(level: Level, by: Plate) -> Figures:
    """Archimedean spirals side by side: r = inner + pitch * angle / full turn.

    Each comes in from the top edge along its tangent on the left and winds inwards.
    """
    m = level.measures
    turns, inner = m["turns"], m["inner_mm"]
    outer = [inner + pitch * turns for pitch in m["pitches_mm"]]
    high = 2.0 * max(outer) + 2.0 * by.edge_mm
    x, paths = by.edge_mm, []
    for pitch, r in zip(m["pitches_mm"], outer, strict=True):
        centre = (x + r, by.edge_mm + max(outer))
        steps = round(turns * 360.0 / SPIRAL_STEP_DEG)
        points: list[Point] = [(x, 0.0)]
        for k in range(steps + 1):
            wound = k / steps * turns
            radius = r - pitch * wound
            # from the left, down, right, up: the board turns clockwise under the blade
            way = math.radians(180.0 - 360.0 * wound)
            points.append((centre[0] + radius * math.cos(way), centre[1] + radius * math.sin(way)))
        paths.append(polyline(points))
        x += 2.0 * r + by.edge_mm
    return _in_plate(paths, x, high, by)


# --------------------------------------------------------------- closed lines


def _polygons(level: Level, by: Plate) -> Figures:
    """Regular openings in columns, each row smaller; one side lies level at the foot."""
    m = level.measures
    corners, across = m["corners"], m["across_mm"]
    y, paths = by.edge_mm, []
    pitch = max(across) + by.edge_mm
    for size in across:
        for k, n in enumerate(corners):
            centre = (by.edge_mm + max(across) / 2.0 + pitch * k, y + size / 2.0)
            ways = [math.pi / 2.0 + math.pi * (2 * i + 1) / n for i in range(n)]
            ring = [
                (centre[0] + size / 2.0 * math.cos(a), centre[1] + size / 2.0 * math.sin(a))
                for a in ways
            ]
            paths.append(polyline(ring, closed=True))
        y += size + by.edge_mm
    return _in_plate(paths, by.edge_mm + pitch * len(corners), y, by)


def star_inner_mm(radius_mm: float, tip_deg: float, points: int) -> float:
    """Radius of a star's inner corners, from its points' radius and angle (law of sines).

    >>> round(star_inner_mm(1.0, 36.0, 5), 6)  # the pentagram's: (3 - sqrt 5) / 2
    0.381966
    """
    half, step = math.radians(tip_deg / 2.0), math.pi / points
    return radius_mm * math.sin(half) / math.sin(half + step)


def _stars(level: Level, by: Plate) -> Figures:
    """Star openings in two columns, each with sharper points."""
    m = level.measures
    r, n, paths = m["radius_mm"], m["points"], []
    pitch = 2.0 * r + by.edge_mm
    for k, tip in enumerate(m["tips_deg"]):
        cx = by.edge_mm + r + pitch * (k % 2)
        cy = by.edge_mm + r + pitch * (k // 2)
        inner = star_inner_mm(r, tip, n)
        corners = []
        for i in range(2 * n):
            way, far = math.pi * i / n - math.pi / 2.0, (r, inner)[i % 2]
            corners.append((cx + far * math.cos(way), cy + far * math.sin(way)))
        paths.append(polyline(corners, closed=True))
    rows = -(-len(paths) // 2)
    return _in_plate(paths, by.edge_mm + 2 * pitch, by.edge_mm + rows * pitch, by)


def _circle(at: Point, r: float) -> str:
    (x, y), a = at, f"A{_n(r)} {_n(r)} 0 0 1"
    return f"M{_n(x + r)} {_n(y)}{a} {_n(x - r)} {_n(y)}{a} {_n(x + r)} {_n(y)}Z"


def _threading(level: Level, by: Plate) -> Figures:
    """Round openings of one size on a square grid."""
    m = level.measures
    r, pitch = m["diameter_mm"] / 2.0, m["pitch_mm"]
    first = by.edge_mm + r
    paths = [
        _circle((first + pitch * i, first + pitch * j), r)
        for j in range(m["rows"])
        for i in range(m["columns"])
    ]
    wide, high = (2.0 * first + pitch * (m[k] - 1) for k in ("columns", "rows"))
    return _in_plate(paths, wide, high, by)


def _counters(level: Level, by: Plate) -> Figures:
    """Rows of round, pointed and half-round openings, each row from large to small.

    ``size`` is the diameter of the round one, the side of the triangle, and the straight
    side of the half-round.
    """
    m = level.measures
    pitch, paths = m["pitch_mm"], []
    for k, size in enumerate(m["sizes_mm"]):
        x = by.edge_mm + pitch * (k + 0.5)
        row = [by.edge_mm + pitch * (j + 0.5) for j in range(3)]
        paths.append(_circle((x, row[0]), size / 2.0))
        high = size * math.sqrt(3.0) / 2.0
        foot = row[1] + high / 2.0
        corners = [(x, foot - high), (x + size / 2.0, foot), (x - size / 2.0, foot)]
        paths.append(polyline(corners, closed=True))
        left, r = x - size / 4.0, size / 2.0
        paths.append(
            f"M{_n(left)} {_n(row[2] - r)}A{_n(r)} {_n(r)} 0 0 1 {_n(left)} {_n(row[2] + r)}Z"
        )
    wide = 2.0 * by.edge_mm + pitch * len(m["sizes_mm"])
    return _in_plate(paths, wide, 2.0 * by.edge_mm + 3.0 * pitch, by)


# --------------------------------------------------------------------- letters

BAR_BELOW = 0.35
"""Middle of the bar under the middle of the lowest strokes, in pens."""


def _letters(level: Level, by: Plate) -> Figures:
    """A word in strokes of one pen, on a bar or free."""
    m = level.measures
    pen, tall = m["pen_mm"], m["height_mm"] - m["pen_mm"]
    # room for mitred corners, which stand out by up to 1.7 pens at the A's angle
    x, top, paths = 2.0 * pen, 2.0 * pen, []
    for sign in m["word"]:
        paths += skeleton(sign, (x, top), tall)
        x += ADVANCE[sign] * tall + pen + m["gap_mm"]
    right = x - m["gap_mm"]
    if m["bar"]:
        # a third of the bar laps over the letters' feet: round ones too then stand broadly on it
        foot = top + tall + pen * BAR_BELOW
        paths.append(polyline([(1.5 * pen, foot), (right, foot)]))
    return Figures(tuple(paths), right + 2.0 * pen, top + tall + 2.0 * pen, pen)


_MAKERS: dict[str, Callable[[Level, Plate], Figures]] = {
    "lines": _lines,
    "waves": _waves,
    "zigzags": _zigzags,
    "spirals": _spirals,
    "polygons": _polygons,
    "stars": _stars,
    "threading": _threading,
    "counters": _counters,
    "letters": _letters,
}
