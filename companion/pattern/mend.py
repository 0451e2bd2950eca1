"""Takes out what no blade can cut: specks, and slivers between shapes meant to touch."""

from __future__ import annotations

import shapely
from shapely.geometry import Polygon
from shapely.geometry.base import BaseGeometry

from companion.findings import Point
from companion.pattern.limits import Limits
from companion.pattern.notes import Notes
from companion.pattern.overlay import EMPTY
from companion.sentence import counted, sentence


def mended(region: BaseGeometry, limits: Limits, notes: Notes) -> BaseGeometry:
    """Drop specks and slivers, pieces and openings alike; each drop is told.

    Args:
        region: Polygon or MultiPolygon.
        limits: the thresholds.
        notes: takes the findings.
    """
    kept: list[Polygon] = []
    specks: list[Polygon] = []
    dropped_slivers: list[Polygon] = []
    filled: list[Polygon] = []
    closed: list[Polygon] = []
    for polygon in [] if region.is_empty else shapely.get_parts(region).tolist():
        outline = Polygon(polygon.exterior)
        if outline.area < limits.speck_mm2:
            specks.append(outline)
            continue
        if mean_width(outline) < limits.sliver_mm:
            dropped_slivers.append(outline)
            continue
        holes = []
        for ring in polygon.interiors:
            hole = Polygon(ring)
            if hole.area < limits.speck_mm2:
                filled.append(hole)
            elif mean_width(hole) < limits.sliver_mm:
                closed.append(hole)
            else:
                holes.append(ring)
        kept.append(
            polygon if len(holes) == len(polygon.interiors) else Polygon(outline.exterior, holes)
        )
    _tell_specks(specks, filled, limits, notes)
    _tell_slivers(dropped_slivers, "piece", notes)
    _tell_slivers(closed, "opening", notes)
    if not kept:
        return EMPTY
    return kept[0] if len(kept) == 1 else shapely.multipolygons(kept)


def mean_width(polygon: Polygon) -> float:
    """Twice the area over the outline: the width of a long thin strip."""
    return float(2.0 * polygon.area / polygon.length) if polygon.length > 0.0 else 0.0


def _centre(polygon: Polygon) -> Point:
    point = polygon.representative_point()
    return (point.x, point.y)


def _tell_specks(
    pieces: list[Polygon], openings: list[Polygon], limits: Limits, notes: Notes
) -> None:
    for specks, kept in ((pieces, True), (openings, False)):
        if not specks:
            continue
        largest = max(specks, key=lambda p: (p.area, p.bounds))
        least, area = limits.speck_mm2, largest.area
        if kept:
            text = counted(
                "{n} piece smaller than {least} mm2 dropped; the largest has {area:.3f} mm2.",
                "{n} pieces smaller than {least} mm2 dropped; the largest has {area:.3f} mm2.",
                len(specks),
                least=least,
                area=area,
            )
        else:
            text = counted(
                "{n} opening smaller than {least} mm2 dropped; the largest has {area:.3f} mm2.",
                "{n} openings smaller than {least} mm2 dropped; the largest has {area:.3f} mm2.",
                len(specks),
                least=least,
                area=area,
            )
        across = 2.0 * (largest.area / 3.141592653589793) ** 0.5
        remedy = "Enlarge the drawing if they matter."
        notes.add("specks-dropped", "note", text, remedy, _centre(largest), across)


def _tell_slivers(slivers: list[Polygon], what: str, notes: Notes) -> None:
    for sliver in slivers:
        width = mean_width(sliver)
        long = sliver.length / 2.0
        told = (
            "A sliver of piece, {width:.3f} mm wide and {long:.1f} mm long, dropped."
            if what == "piece"
            else "A sliver of opening, {width:.3f} mm wide and {long:.1f} mm long, closed."
        )
        text = sentence(told, width=width, long=long)
        remedy = "Draw it wider if it matters; else nothing."
        notes.add("sliver", "note", text, remedy, _centre(sliver), width)
