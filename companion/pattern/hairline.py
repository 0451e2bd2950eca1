"""Cut lines: closed contours nest by depth, open ones are veins.

A contour inside an even number of others outlines a piece, inside an odd number an
opening. Contours that cross are united first, as overlapping letters are.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import shapely
from shapely.geometry import LineString, Polygon
from shapely.geometry.base import BaseGeometry

from companion.pattern.chains import chain
from companion.pattern.fillrule import as_ring, fill
from companion.pattern.limits import Limits
from companion.pattern.notes import Notes
from companion.pattern.outline import Floats
from companion.pattern.overlay import EMPTY, difference, intersection, union
from companion.pattern.union import check_lines, united
from companion.sentence import sentence


@dataclass(frozen=True, slots=True)
class CutLines:
    """What a hairline drawing says."""

    region: BaseGeometry
    """Polygon or MultiPolygon; empty when no line closes."""
    veins: tuple[LineString, ...]
    """Open lines."""


def cut_lines(
    lines: list[tuple[Floats, bool]], limits: Limits, notes: Notes, name: str
) -> CutLines:
    """Nest contours and find veins.

    Args:
        lines: points in mm on the grid, and whether closed.
        limits: the thresholds.
        notes: takes the mends.
        name: how messages name the file.
    """
    chained = chain(lines, limits.join_mm)
    for join in chained.joins:
        if join.gap_mm > limits.grid_mm:
            text = sentence("Two open ends {gap_mm:.3f} mm apart were joined.", gap_mm=join.gap_mm)
            notes.add("open-end-joined", "note", text, "", join.at_mm, join.gap_mm)
    contours = _contours(chained.loops, limits, notes, name)
    veins = [LineString(p) for p in chained.open_lines if len(p) > 1]
    if not contours and veins:
        contours, veins = _faces(veins, limits, notes, name)
    region = _nested(_united(contours, limits, notes, name), limits, name)
    for vein in veins:
        x, y = vein.coords[0]
        text = sentence(
            "An open line {length:.1f} mm long was taken as a vein: one kerf, no waste.",
            length=vein.length,
        )
        notes.add(
            "vein", "note", text, "Close the line if it should free waste.", (x, y), vein.length
        )
    return CutLines(region, tuple(veins))


def _contours(loops: list[Floats], limits: Limits, notes: Notes, name: str) -> list[Polygon]:
    """Loops as filled outlines; self-crossing ones resolved by nonzero, doubles united."""
    found: list[Polygon] = []
    for points in loops:
        ring = as_ring(points)
        if ring is None:
            continue
        filled = fill([ring], False, limits, name)
        if filled.crossing_at is not None:
            text = "A cut line crosses itself; what it encloses was taken as one."
            remedy = "Redraw it without the crossing if that is not meant."
            notes.add("self-crossing", "note", text, remedy, filled.crossing_at)
        for part in shapely.get_parts(filled.region).tolist():
            found.append(Polygon(part.exterior))
    found.sort(key=lambda p: (-p.area, p.bounds))
    return _without_doubles(found, limits, notes)


def _without_doubles(polygons: list[Polygon], limits: Limits, notes: Notes) -> list[Polygon]:
    kept: list[Polygon] = []
    for polygon in polygons:
        twin = next(
            (
                k
                for k in reversed(kept[-8:])
                if np.abs(np.array(k.bounds) - polygon.bounds).max() <= limits.join_mm
                and k.symmetric_difference(polygon).area <= limits.join_mm * polygon.length
            ),
            None,
        )
        if twin is None:
            kept.append(polygon)
            continue
        point = polygon.representative_point()
        text = sentence(
            "A contour of {area:.1f} mm2 is drawn twice; taken once.", area=polygon.area
        )
        notes.add("duplicate-united", "note", text, "", (point.x, point.y))
    return kept


def _faces(
    veins: list[LineString], limits: Limits, notes: Notes, name: str
) -> tuple[list[Polygon], list[LineString]]:
    """Outlines closed only by lines that cross or meet between their ends."""
    check_lines(list(veins), limits, name)
    noded = shapely.union_all(np.array(veins, dtype=object))
    faces = shapely.get_parts(shapely.polygonize([noded]))
    if not len(faces):
        return [], veins
    outer = shapely.coverage_union_all(faces)
    contours = [
        Polygon(ring)
        for part in shapely.get_parts(outer).tolist()
        for ring in (part.exterior, *part.interiors)
    ]
    rest = shapely.difference(noded, shapely.boundary(outer))
    merged = shapely.line_merge(rest)
    point = shapely.point_on_surface(outer)
    text = sentence(
        "Lines that meet between their ends close {faces} areas; their common outline was "
        "taken, the lines inside it are veins.",
        faces=len(faces),
    )
    remedy = "Draw each outline as one closed line."
    notes.add("lines-meeting", "warn", text, remedy, (point.x, point.y))
    lines = [g for g in shapely.get_parts(merged).tolist() if g.geom_type == "LineString"]
    return contours, [g for g in lines if g.length > limits.grid_mm]


def _united(contours: list[Polygon], limits: Limits, notes: Notes, name: str) -> list[Polygon]:
    """Contours that cross one another become one outline (and the gaps it encloses)."""
    if len(contours) < 2:
        return contours
    check_lines([c.exterior for c in contours], limits, name)
    array = np.array(contours, dtype=object)
    tree = shapely.STRtree(array)
    shapely.prepare(array)
    first, second = tree.query(array, predicate="overlaps")
    group = list(range(len(contours)))

    def top(i: int) -> int:
        while group[i] != i:
            group[i] = group[group[i]]
            i = group[i]
        return i

    for i, j in zip(first.tolist(), second.tolist(), strict=True):
        if i < j:
            common = intersection(contours[i], contours[j])
            if common.area <= limits.speck_mm2:
                continue
            group[top(j)] = top(i)
            point = shapely.point_on_surface(common)
            text = sentence(
                "Two outlines overlap by {area:.2f} mm2; they were united.", area=common.area
            )
            notes.add("overlap-united", "note", text, "", (point.x, point.y))
    members: dict[int, list[Polygon]] = {}
    for i, contour in enumerate(contours):
        members.setdefault(top(i), []).append(contour)
    result: list[Polygon] = []
    for polygons in members.values():
        if len(polygons) == 1:
            result.append(polygons[0])
            continue
        whole = united(polygons, limits, name)
        for part in shapely.get_parts(whole).tolist():
            result += [Polygon(part.exterior), *(Polygon(r) for r in part.interiors)]
    return result


def _nested(contours: list[Polygon], limits: Limits, name: str) -> BaseGeometry:
    """Even depths outline pieces, odd ones openings; folded from the outside in."""
    if not contours:
        return EMPTY
    array = np.array(contours, dtype=object)
    areas = shapely.area(array)
    tree = shapely.STRtree(array)
    of, which = tree.query(shapely.point_on_surface(array), predicate="within")
    depth = [0] * len(contours)
    for i, j in zip(of.tolist(), which.tolist(), strict=True):
        if i != j and (areas[j], -j) > (areas[i], -i):
            depth[i] += 1
    region: BaseGeometry = EMPTY
    for level in range(max(depth) + 1):
        here = array[[i for i, d in enumerate(depth) if d == level]]
        whole = united(here.tolist(), limits, name)
        region = (union if level % 2 == 0 else difference)(region, whole)
    return region
