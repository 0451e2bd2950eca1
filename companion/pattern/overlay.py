"""Union, difference and intersection on a fine grid.

The geometry library's overlay in floating point now and then gives a wrong region and
no error, where outlines run along one another with a last digit between them (issues
libgeos/geos 1344 and locationtech/jts 1000, both open in 2026). Of 6,000 random strokes
40 lost an opening by it; rounded to a grid while it is made, none did, and a whole
reading took a third longer. So no region is made without a grid.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence

import numpy as np
import shapely
from numpy.typing import NDArray
from scipy.sparse import csr_matrix
from scipy.sparse.csgraph import connected_components
from shapely.errors import GEOSException
from shapely.geometry.base import BaseGeometry

Geometries = NDArray[np.object_]

EMPTY: BaseGeometry = shapely.from_wkt("POLYGON EMPTY")
FINE_MM = 1e-6
"""A thousandth of the grid on which drawings are kept."""
SAMPLE = 64
MOST_PAIRS = 1_000_000
"""Pairs of boxes that are looked at together: 30 MB or so."""


def areas_only(region: BaseGeometry) -> BaseGeometry:
    """Polygons of an overlay's result; lines and points left by it are dropped."""
    if region.geom_type in ("Polygon", "MultiPolygon"):
        return region
    parts = [
        polygon
        for part in shapely.get_parts(region).tolist()
        for polygon in shapely.get_parts(part).tolist()
        if polygon.geom_type == "Polygon" and not polygon.is_empty
    ]
    if not parts:
        return EMPTY
    joined: BaseGeometry = parts[0] if len(parts) == 1 else shapely.multipolygons(parts)
    return joined


def union(one: BaseGeometry, other: BaseGeometry) -> BaseGeometry:
    """What lies in either region, mm."""
    return _of_two(shapely.union, one, other, FINE_MM)


def difference(one: BaseGeometry, other: BaseGeometry, grid: float = FINE_MM) -> BaseGeometry:
    """What lies in the first region and not in the other; the grid in their unit."""
    return _of_two(shapely.difference, one, other, grid)


def intersection(one: BaseGeometry, other: BaseGeometry) -> BaseGeometry:
    """What lies in both regions, mm."""
    return _of_two(shapely.intersection, one, other, FINE_MM)


def either(one: BaseGeometry, other: BaseGeometry) -> BaseGeometry:
    """What lies in one region and not in both, mm."""
    return _of_two(shapely.symmetric_difference, one, other, FINE_MM)


def union_all(regions: Sequence[BaseGeometry] | Geometries, grid: float = FINE_MM) -> BaseGeometry:
    """What lies in any of the regions.

    Parts whose boxes lie apart are united apart: the dashes of a line together would take
    a hundred times longer.

    Args:
        regions: polygons.
        grid: in their unit.
    """
    array = np.array(regions, dtype=object)
    # an empty one has no box to be found by
    array = array[~shapely.is_empty(array)]
    if len(array) == 0:
        return EMPTY
    group = _groups(array)
    count = int(group.max()) + 1
    if count == 1:
        return areas_only(_of_many(array, grid))
    alone = (np.bincount(group) == 1)[group]
    united: list[BaseGeometry] = array[alone].tolist()
    crowd, of = array[~alone], group[~alone]
    order = np.argsort(of, kind="stable")
    for members in np.split(crowd[order], np.flatnonzero(np.diff(of[order])) + 1):
        if len(members):
            united.append(areas_only(_of_many(members, grid)))
    parts = shapely.get_parts(united)
    joined = shapely.multipolygons(parts[~shapely.is_empty(parts)])
    assert isinstance(joined, BaseGeometry)
    return joined


def _groups(array: Geometries) -> NDArray[np.int32]:
    """Numbers from 0 for shapes whose boxes touch, directly or through others (n,).

    Asked in portions: the boxes of long slanting lines all meet, and their pairs at once
    would fill the memory.
    """
    tree, size = shapely.STRtree(array), len(array)
    sample = array[:: max(1, size // SAMPLE)]
    meeting = tree.query(sample).shape[1] / len(sample)
    step = max(SAMPLE, int(MOST_PAIRS / meeting))
    group, count = np.arange(size, dtype=np.int32), size
    for first in range(0, size, step):
        one, other = tree.query(array[first : first + step])
        ends = group[one + first], group[other]
        near = csr_matrix((np.ones(len(one), dtype=np.int8), ends), shape=(count, count))
        count, again = connected_components(near, directed=False)
        group = again[group]
        if count == 1:
            break
    return group


def _of_two(
    work: Callable[..., BaseGeometry], one: BaseGeometry, other: BaseGeometry, grid: float
) -> BaseGeometry:
    try:
        return areas_only(work(one, other, grid_size=grid))
    except GEOSException:
        # an outline that crosses itself: laid on the grid beforehand it does not
        return areas_only(work(*_laid(np.array([one, other]), grid), grid_size=grid))


def _of_many(array: Geometries, grid: float) -> BaseGeometry:
    try:
        return shapely.union_all(array, grid_size=grid)
    except GEOSException:
        return shapely.union_all(_laid(array, grid), grid_size=grid)


def _laid(array: Geometries, grid: float) -> Geometries:
    """Rounded to the grid, and valid."""
    valid = [areas_only(g) for g in np.asarray(shapely.make_valid(array)).tolist()]
    return np.asarray(shapely.set_precision(valid, grid), dtype=object)
