"""Thickness against the raster medial axis of a general image library.

Source: scikit-image (van der Walt and others, PeerJ 2, 2014),
``skimage.morphology.medial_axis`` with distances: at each pixel of its skeleton the
distance to the background is half the thickness.
"""

from __future__ import annotations

import time

import numpy as np
import pytest
from numpy.typing import NDArray
from PIL import Image, ImageDraw
from scipy.spatial import cKDTree
from shapely.geometry import LineString, Point, Polygon, box

from companion.planner.axis import Axis, medial_axis

morphology = pytest.importorskip(
    "skimage.morphology", reason="scikit-image is not installed: extra `proof`"
)

Floats = NDArray[np.float64]


def raster(shape: Polygon, pixels_per_mm: float) -> tuple[Floats, Floats]:
    """Places and thicknesses of the raster's skeleton, mm."""
    x0, y0, x1, y1 = shape.bounds
    size = (int((x1 - x0 + 2) * pixels_per_mm), int((y1 - y0 + 2) * pixels_per_mm))
    image = Image.new("1", size)
    draw = ImageDraw.Draw(image)
    for ring, ink in ((shape.exterior, 1), *((r, 0) for r in shape.interiors)):
        spots = (np.array(ring.coords) - (x0 - 1, y0 - 1)) * pixels_per_mm - 0.5
        draw.polygon([(float(x), float(y)) for x, y in spots], fill=ink)
    skeleton, distance = morphology.medial_axis(np.array(image), return_distance=True)
    rows, columns = np.nonzero(skeleton)
    xy = np.column_stack((columns, rows)).astype(np.float64) + 0.5
    return xy / pixels_per_mm + (x0 - 1, y0 - 1), 2.0 * distance[rows, columns] / pixels_per_mm


def compared(axis: Axis, shape: Polygon, pixels_per_mm: float) -> Floats:
    """Differences in thickness along all branches, as shares of what is allowed."""
    xy, thick = raster(shape, pixels_per_mm)
    nodes = np.flatnonzero(axis.degree == 2)
    tree = cKDTree(xy)
    best = np.array([thick[tree.query(axis.xy[n], k=3)[1]].max() for n in nodes])
    allowed = np.maximum(0.02 * axis.thickness[nodes], 0.05)
    off: Floats = np.abs(best - axis.thickness[nodes]) / allowed
    return off


def wave(width: float) -> Polygon:
    x = np.arange(0.0, 36.0, 0.2)
    line = LineString(np.column_stack((x, 8.0 * np.sin(x / 6.0))))
    shape = line.buffer(width / 2, quad_segs=16)
    assert isinstance(shape, Polygon)
    return shape


SHAPES = {
    "wave": wave(2.0),
    "ring": Point(0, 0).buffer(10, 64).difference(Point(1, 0).buffer(7.5, 64)),
    "wedge": Polygon([(0, 0), (30, 3), (30, -3)]),
    "panel": box(0, 0, 30, 20).difference(
        Point(10, 10).buffer(6, 32).union(Point(21, 10).buffer(4, 32))
    ),
}


@pytest.mark.parametrize("name", SHAPES)
def test_thickness_agrees(name: str) -> None:
    # 80 pixels a millimetre: the raster's own step is 0.0125 mm a wall
    shape = SHAPES[name]
    assert isinstance(shape, Polygon)
    off = compared(medial_axis(shape), shape, 80.0)
    assert off.max() <= 1.0


def test_comparer_can_fail() -> None:
    shape = wave(2.0)
    fat = shape.buffer(0.1)
    assert isinstance(fat, Polygon)
    assert np.quantile(compared(medial_axis(fat), shape, 80.0), 0.5) > 1.0


def test_ten_times_as_fast_at_equal_error() -> None:
    # truth: a band of 2 mm is 2 mm thick everywhere; the raster is refined until its median
    # error is as small as the axis's worst but one in a hundred, or 60 pixels a millimetre
    shape = wave(2.0)
    axis = medial_axis(shape)
    middle = axis.branches[0].nodes[10:-10]
    own = float(np.quantile(np.abs(axis.thickness[middle] - 2.0), 0.99))
    # the buffer's own polygon is this much off
    own = max(own, 0.005)
    for pixels in (20.0, 40.0, 60.0):
        xy, thick = raster(shape, pixels)
        inner = (xy[:, 0] > 3.0) & (xy[:, 0] < 33.0)
        error = float(np.median(np.abs(thick[inner] - 2.0)))
        if error <= own:
            break
    start = time.process_time()
    raster(shape, pixels)
    slow = time.process_time() - start
    fast = min(_timed(shape) for _ in range(5))
    assert slow >= 10.0 * fast, f"raster {slow:.3f} s, axis {fast:.3f} s, error {error:.4f}"


def _timed(shape: Polygon) -> float:
    start = time.process_time()
    medial_axis(shape)
    return time.process_time() - start
