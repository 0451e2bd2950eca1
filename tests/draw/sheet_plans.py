"""Plans made by hand from polygons, so that the sheet is tested without the planner."""

from __future__ import annotations

import dataclasses
import math

import shapely
from shapely.geometry import LinearRing, Point, Polygon

from companion.findings import Finding
from companion.pattern.model import Pattern
from companion.planner.plan import (
    Blade,
    Board,
    Cut,
    Hole,
    Minutes,
    Neck,
    Plan,
    Project,
    Speed,
    Technique,
    Turn,
)

DRILLS = (0.6, 0.8, 1.0, 1.2, 1.5, 2.0, 2.5)
TECHNIQUES: tuple[Technique, ...] = ("spin", "back-out", "loop")
Place = tuple[float, float]


def _turns(line: tuple[Place, ...]) -> tuple[Turn, ...]:
    found = []
    ring = line[:-1]
    for i, p in enumerate(ring):
        a, b = ring[i - 1], ring[(i + 1) % len(ring)]
        one = math.atan2(p[1] - a[1], p[0] - a[0])
        two = math.atan2(b[1] - p[1], b[0] - p[0])
        angle = abs(math.degrees((two - one + math.pi) % (2 * math.pi) - math.pi))
        if angle > 40:
            found.append(Turn(p, angle, TECHNIQUES[min(2, int(angle // 60))]))
    return tuple(found)


def _line(ring: LinearRing, near: Point) -> tuple[Place, ...]:
    """The ring from the place nearest to a hole, once around."""
    points = [(float(x), float(y)) for x, y in ring.coords][:-1]
    first = min(range(len(points)), key=lambda i: math.dist(points[i], (near.x, near.y)))
    points = points[first:] + points[:first]
    return (*points, points[0])


def _cut(number: int, side: str, line: tuple[Place, ...], hole: Place, size: float) -> Cut:
    middle = Polygon(line).representative_point()
    clockwise = shapely.is_ccw(LinearRing(line))  # y down: turns the other way on the screen
    return Cut(
        number=number,
        side="inside" if side == "inside" else "outside",
        hole=number,
        length_mm=LinearRing(line).length,
        start_mm=line[0],
        direction="clockwise" if clockwise else "anticlockwise",
        line_mm=line,
        speed=Speed(3, 8),
        turns=_turns(line),
        weakness=0.5,
        hold_mm=((middle.x, middle.y),) if size > 15 else (),
        minutes=Minutes(1.0, 2.0, 3.0),
        lead_mm=(hole, line[0]),
    )


def plan_of(
    piece: Polygon, margin_mm: float = 15.0, name: str = "Test panel", stack: int = 1
) -> Plan:
    """A plan of one piece: its openings top to bottom, then the outside cut."""
    x0, y0, x1, y1 = piece.bounds
    piece = shapely.transform(piece, lambda p: p - [x0 - margin_mm, y0 - margin_mm])
    width, height = x1 - x0 + 2 * margin_mm, y1 - y0 + 2 * margin_mm
    board = shapely.box(0, 0, width, height)
    holes, cuts = [], []
    rings = sorted(piece.interiors, key=lambda r: (round(r.bounds[1], 3), r.bounds[0]))
    for number, ring in enumerate(rings, start=1):
        region = Polygon(ring)
        radius_line = shapely.maximum_inscribed_circle(region, tolerance=0.2)
        at = radius_line.coords[0]
        fits = [d for d in DRILLS if d / 2 + 0.3 < radius_line.length] or [DRILLS[0]]
        place = (float(at[0]), float(at[1]))
        holes.append(Hole(number, place, fits[-1], number, f"{fits[-1]} mm"))
        cuts.append(
            _cut(number, "inside", _line(ring, Point(place)), place, math.sqrt(region.area))
        )
    last = len(rings) + 1
    outer = Polygon(piece.exterior)
    free = board.difference(outer.buffer(2.0))
    corner = (outer.bounds[0], outer.bounds[1])
    place = next(
        (corner[0] + d, corner[1] + d)
        for d in (2.0, 0.0, -2.0, -4.0, -6.0)
        if free.contains(Point(corner[0] + d, corner[1] + d).buffer(1.5))
    )
    holes.append(Hole(last, place, 2.0, last, "2.0 mm"))
    cuts.append(_cut(last, "outside", _line(piece.exterior, Point(place)), place, 20.0))
    cuts = [c if c.number == last else dataclasses.replace(c, within=last) for c in cuts]
    return Plan(
        project=Project(name, "0" * 64),
        board=Board("mdf", 6.0, stack, width, height),
        blade=Blade("3", 0.4, 1.0, 2),
        pieces=1,
        openings=len(rings),
        kept_area_mm2=piece.area,
        findings=(
            Finding("reach", "warn", (width - 8.0, height - 8.0),
                    "This corner of the board meets the back of the saw.", "Trim it off."),
        ),
        holes=tuple(holes),
        cuts=tuple(cuts),
        steps=(),
        minutes=Minutes(len(cuts) * 1.0, len(cuts) * 2.0, len(cuts) * 3.0),
        necks=(Neck((width / 2, height / 2), 2.0),),
        fasteners_mm=((6.0, height - 6.0), (width - 6.0, 6.0)),
    )  # fmt: skip


def plan_of_pattern(pattern: Pattern, margin_mm: float = 12.0, name: str = "Outside") -> Plan:
    """A plan of any pattern: every contour a cut with a hole in its waste, inner ones first."""
    x0, y0, x1, y1 = pattern.bounds_mm

    def moved(shape: Polygon) -> Polygon:
        return shapely.transform(shape, lambda p: p - [x0 - margin_mm, y0 - margin_mm])

    pieces = [(p, moved(Polygon(p.shape.exterior))) for p in pattern.pieces]
    openings = [(o, moved(o.ring)) for o in pattern.openings]
    contours: list[tuple[str, int, Polygon]] = [
        *(("inside", o.number, ring) for o, ring in openings),
        *(("outside", p.number, ring) for p, ring in pieces),
    ]
    depth = {
        (side, n): sum(other.contains(ring.representative_point()) for _, _, other in contours)
        for side, n, ring in contours
    }
    contours.sort(key=lambda c: (-depth[(c[0], c[1])], c[0], c[1]))
    numbers = {(side, n): i for i, (side, n, _) in enumerate(contours, start=1)}
    within = {("inside", o.number): ("outside", o.piece) for o, _ in openings}
    within |= {
        ("outside", p.number): ("inside", p.within) for p, _ in pieces if p.within is not None
    }
    width, height = x1 - x0 + 2 * margin_mm, y1 - y0 + 2 * margin_mm
    holes, cuts = [], []
    for side, n, ring in contours:
        number = numbers[(side, n)]
        if side == "inside":
            spot = shapely.maximum_inscribed_circle(ring, tolerance=0.2)
            place = (float(spot.coords[0][0]), float(spot.coords[0][1]))
            fits = [d for d in DRILLS if d / 2 + 0.3 < spot.length] or [DRILLS[0]]
        else:
            beside = ring.buffer(1.6, join_style="mitre").exterior.interpolate(0.0)
            place, fits = (float(beside.x), float(beside.y)), [1.0]
        holes.append(Hole(number, place, fits[-1], number, f"{fits[-1]} mm"))
        size = math.sqrt(ring.area)
        cut = _cut(number, side, _line(ring.exterior, Point(place)), place, size)
        key = within.get((side, n))
        cuts.append(dataclasses.replace(cut, within=None if key is None else numbers[key]))
    return Plan(
        project=Project(name, "0" * 64),
        board=Board("mdf", 6.0, 1, width, height),
        blade=Blade("3", 0.4, 1.0, 1),
        pieces=len(pieces),
        openings=len(openings),
        kept_area_mm2=pattern.kept_area_mm2,
        findings=(),
        holes=tuple(holes),
        cuts=tuple(cuts),
        steps=(),
        minutes=Minutes(1.0, 2.0, 3.0),
    )


def panel(columns: int, rows: int, pitch_mm: float = 20.0, opening_mm: float = 12.0) -> Polygon:
    """A plate with equal openings in a grid, by turns square, round and star-shaped."""
    rings = []
    for r in range(rows):
        for c in range(columns):
            x, y = (c + 1) * pitch_mm, (r + 1) * pitch_mm
            kind, h = (r * columns + c) % 3, opening_mm / 2
            if kind == 0:
                shape = shapely.box(x - h, y - h, x + h, y + h)
            elif kind == 1:
                shape = Point(x, y).buffer(h, quad_segs=12)
            else:
                shape = Polygon(
                    [
                        (
                            x + (h if i % 2 == 0 else h / 2.4) * math.sin(i * math.pi / 5),
                            y - (h if i % 2 == 0 else h / 2.4) * math.cos(i * math.pi / 5),
                        )
                        for i in range(10)
                    ]
                )
            rings.append(shape.exterior)
    width, height = (columns + 1) * pitch_mm, (rows + 1) * pitch_mm
    return Polygon(shapely.box(0, 0, width, height).exterior, rings)
