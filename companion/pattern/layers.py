"""Painted shapes as regions in mm, clipped, in paint order."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
import shapely
from shapely.geometry.base import BaseGeometry

from companion.findings import Point
from companion.pattern.bends import fineness
from companion.pattern.budget import dash_budget, overlay_budget, points_budget
from companion.pattern.fillrule import as_ring, fill
from companion.pattern.flatten import (
    CHORD_SHARE,
    THINNING_SHARE,
    flatten,
    thin,
)
from companion.pattern.joins import stroke_lines
from companion.pattern.limits import Limits
from companion.pattern.matrix import Matrix, determinant, largest_stretch, multiply
from companion.pattern.outline import Floats, Outline, joined
from companion.pattern.overlay import EMPTY, intersection
from companion.pattern.paint import Effect
from companion.pattern.painted import BLACK_TINT, Clip, Painted, Tint
from companion.pattern.stroke import stroke_region
from companion.pattern.union import check_lines, check_pair, on_grid, united
from companion.pattern.watchdog import check

FLAT_DETERMINANT = 1e-18


@dataclass(frozen=True, slots=True)
class Layer:
    """One fill or stroke as a region."""

    effect: Effect
    """Ink or paper."""
    region: BaseGeometry
    """Valid, mm, on the grid, not empty."""
    label: str
    """The shape it comes from."""
    shape: int
    """Its index among the painted shapes."""
    is_stroke: bool
    """The line of the shape, not its fill."""
    tint: Tint = BLACK_TINT
    """As in Painted; black for a line."""
    group: int = 0
    """As in Painted; 0 for a line."""
    solid: bool = True
    """As in Painted."""


@dataclass(frozen=True, slots=True)
class Crossing:
    """A filled outline that crosses itself."""

    at_mm: Point
    """Where, mm."""
    label: str
    """The shape."""
    even_odd: bool
    """Its fill rule."""


class Layers:
    """Turns painted shapes into layers at one scale."""

    def __init__(self, to_mm: Matrix, limits: Limits, name: str) -> None:
        self.to_mm = to_mm
        self.limits = limits
        self.name = name
        self.points = points_budget(limits.points, name)
        self.dashes = dash_budget(limits.dashes, name)
        self.overlays = overlay_budget(limits.overlay_points, name)
        self.chord_mm = limits.flatness_mm * CHORD_SHARE
        self.thin_mm = limits.flatness_mm * THINNING_SHARE
        self.per_mm = 1.0 / limits.grid_mm
        self.crossings: list[Crossing] = []
        self.cut_off_mm2 = 0.0
        self.cut_off_at: Point | None = None
        self.off_page: list[str] = []
        self._clips: dict[int, BaseGeometry] = {}

    def on_grid(self, points: Floats) -> Floats:
        """Rounded as the geometry library rounds."""
        rounded: Floats = np.round(points * self.per_mm) / self.per_mm + 0.0
        return rounded

    def of(self, painted: tuple[Painted, ...], fills_only: bool = False) -> list[Layer]:
        """All layers in paint order; shapes clipped away or without area are left out."""
        filled = self._fills([p for p in painted if p.fill is not Effect.NOTHING])
        layers: list[Layer] = []
        at = 0
        for index, shape in enumerate(painted):
            both: list[tuple[Effect, BaseGeometry, bool]] = []
            if shape.fill is not Effect.NOTHING:
                both.append((shape.fill, filled[at], False))
                at += 1
            if shape.stroke is not None and not fills_only:
                both.append((shape.stroke.effect, self._stroke(shape), True))
            if shape.stroke_first:
                both.reverse()
            for effect, region, is_stroke in both:
                shown = self._clip_all(region, shape)
                if not shown.is_empty:
                    layer = Layer(effect, shown, shape.label, index, is_stroke)
                    if not is_stroke:
                        layer = replace(
                            layer, tint=shape.tint, group=shape.group, solid=shape.solid
                        )
                    layers.append(layer)
        return layers

    def rings(self, outlines: list[Outline]) -> list[list[Floats]]:
        """Closed rings on the grid for each outline (already in mm), flattened at once."""
        together = joined(outlines)
        if not len(together.starts):
            return [[] for _ in outlines]
        lines = [
            line if (line[0] == line[-1]).all() else np.vstack([line, line[:1]])
            for line in flatten(together, self.chord_mm, self.points).each()
        ]
        lines = thin(lines, self.thin_mm)
        result: list[list[Floats]] = []
        at = 0
        for outline in outlines:
            rings = []
            for line in lines[at : at + len(outline.starts)]:
                ring = as_ring(self.on_grid(line))
                if ring is not None:
                    rings.append(ring)
            at += len(outline.starts)
            result.append(rings)
        return result

    def centre_lines(self, shape: Painted) -> list[tuple[Floats, bool]]:
        """A shape's subpaths in mm on the grid, and whether each is closed by itself."""
        moved = shape.outline.moved(multiply(self.to_mm, shape.matrix))
        lines = flatten(moved, self.chord_mm, self.points)
        thinned = thin(lines.each(), self.thin_mm)
        return [(self.on_grid(p), c) for p, c in zip(thinned, lines.closed, strict=True)]

    def _fills(self, painted: list[Painted]) -> list[BaseGeometry]:
        outlines = [p.outline.moved(multiply(self.to_mm, p.matrix)) for p in painted]
        regions: list[BaseGeometry] = []
        for shape, rings in zip(painted, self.rings(outlines), strict=True):
            filled = fill(rings, shape.even_odd, self.limits, self.name)
            if filled.crossing_at is not None:
                self.crossings.append(Crossing(filled.crossing_at, shape.label, shape.even_odd))
            regions.append(filled.region)
        return regions

    def _stroke(self, shape: Painted) -> BaseGeometry:
        check()
        stroke = shape.stroke
        assert stroke is not None
        outline, total = shape.outline, multiply(self.to_mm, shape.matrix)
        if stroke.fixed_width:
            outline, total = outline.moved(shape.matrix), self.to_mm
        stretch = largest_stretch(total)
        if abs(determinant(total)) < FLAT_DETERMINANT or stretch <= 0.0:
            return EMPTY
        chord = self.chord_mm / stretch
        fine = fineness(
            stroke.width / 2.0, chord, self.thin_mm / stretch, self.limits.grid_mm / stretch
        )
        lines = stroke_lines(outline, fine, self.points)
        # The outlines of the band cross four times where its line crosses once.
        fewer = replace(self.limits, self_crossings=self.limits.self_crossings // 4)
        check_lines(
            [shapely.LineString(x.points) for x in lines if len(x.points) > 1], fewer, self.name
        )
        region = stroke_region(lines, stroke, chord, self.dashes)
        self.points.take(int(shapely.get_num_coordinates(region)))
        a, b, c, d, e, f = total
        turn, shift = np.array([[a, b], [c, d]]), np.array([e, f])
        moved = shapely.transform(region, lambda p: p @ turn + shift)
        return on_grid(moved, self.limits.grid_mm)

    def _clip_all(self, region: BaseGeometry, shape: Painted) -> BaseGeometry:
        for clip in shape.clips:
            if region.is_empty:
                return region
            window = self._window(clip)
            shown = self._clip_one(region, window)
            if clip.is_page and shown is not region:
                lost = region.area - shown.area
                if shown.is_empty:
                    self.off_page.append(shape.label)
                elif lost > self.limits.speck_mm2:
                    if lost > self.cut_off_mm2 or self.cut_off_at is None:
                        self.cut_off_at = _farthest_out(region, window)
                    self.cut_off_mm2 += lost
            region = shown
        return region

    def _clip_one(self, region: BaseGeometry, window: BaseGeometry) -> BaseGeometry:
        if window.is_empty:
            return EMPTY
        if window.covers(shapely.box(*region.bounds)):
            return region
        self.overlays.take(shapely.get_num_coordinates([region, window]).sum())
        check_pair(region, window, self.limits, self.name)
        return intersection(region, window)

    def _window(self, clip: Clip) -> BaseGeometry:
        """The region a clip path leaves; kept for the next shape."""
        known = self._clips.get(id(clip))
        if known is not None:
            return known
        outlines = [part.outline.moved(self.to_mm) for part in clip.parts]
        pieces: list[BaseGeometry] = []
        for part, rings in zip(clip.parts, self.rings(outlines), strict=True):
            region = fill(rings, part.even_odd, self.limits, self.name).region
            for outer in part.clips:
                region = self._clip_one(region, self._window(outer)) if region else region
            pieces.append(region)
        window = united(pieces, self.limits, self.name)
        for outer in clip.clips:
            if not window.is_empty:
                window = self._clip_one(window, self._window(outer))
        self._clips[id(clip)] = window
        return window


def _farthest_out(region: BaseGeometry, window: BaseGeometry) -> Point:
    """The point of a region's outline that lies farthest outside a window."""
    points = shapely.get_coordinates(region)
    away = shapely.distance(shapely.points(points), window)
    x, y = points[int(np.argmax(away))]
    return (float(x), float(y))
