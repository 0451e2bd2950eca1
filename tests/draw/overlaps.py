"""Counts what labels cover, exactly, with shapely: independent of the raster that placed them."""

from __future__ import annotations

from dataclasses import dataclass

import shapely

from companion.draw.scene import Label, Scene

LEAST_MM2 = 1e-6


@dataclass(frozen=True, slots=True)
class Overlaps:
    """Pairs found; all zero on a good sheet."""

    lines: int
    holes: int
    labels: int
    leaders: int
    """Leaders of other labels that run under a label, or cross a hole that is not theirs."""

    @property
    def total(self) -> int:
        return self.lines + self.holes + self.labels + self.leaders


def count_overlaps(scene: Scene) -> Overlaps:
    """Labels against lines and marks (hatch aside), holes, each other and others' leaders."""
    boxes = [_box(label) for label in scene.labels]
    tree = shapely.STRtree(boxes)
    lines = [
        shapely.linestrings(line.points_mm)
        for line in scene.lines
        if line.role not in ("hatch", "leader")
    ]
    discs = [shapely.Point(d.at_mm).buffer(d.radius_mm) for d in scene.discs]
    leaders = [line for line in scene.lines if line.role == "leader"]
    strokes = [shapely.linestrings(line.points_mm) for line in leaders]
    under = 0
    for stroke, line in zip(strokes, leaders, strict=True):
        inside = shapely.box(*stroke.bounds).buffer(0.01)
        for i in tree.query(inside):
            # a leader ends at the edge of its own box
            if boxes[i].buffer(-0.01).intersects(stroke):
                under += 1
        for disc, d in zip(discs, scene.discs, strict=True):
            under += d.cut != line.cut and bool(disc.intersects(stroke))
    pairs = tree.query(boxes, predicate="intersects")
    return Overlaps(
        lines=tree.query(lines, predicate="intersects").shape[1] if lines else 0,
        holes=tree.query(discs, predicate="intersects").shape[1] if discs else 0,
        labels=int((pairs[0] < pairs[1]).sum()),
        leaders=under,
    )


def _box(label: Label) -> shapely.Polygon:
    (x, y), (w, h) = label.at_mm, label.box_mm
    return shapely.box(x - w / 2, y - h / 2, x + w / 2, y + h / 2)
