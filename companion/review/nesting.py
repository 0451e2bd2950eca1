"""How many blanks a sheet gives: equal rectangles, both ways round, cut edge to edge.

Only straight cuts from edge to edge (guillotine), because that is how sheets are sawn. The
best pattern is found by recursion over the places where such a cut can make sense: sums of
the blank's two sides. With very many of those the recursion stops at a depth, and the
answer is a pattern that can be sawn but perhaps not the best.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import cache

UNIT_MM = 0.1
"""Lengths are whole numbers of this."""
EXACT_PLACES = 4000
"""Most pairs of cut places for which every pattern is looked at."""
DEPTH = 2
"""Cuts one inside the other, beyond that; then only whole rows of one way round are cut off."""

Pattern = tuple[int, tuple[tuple[int, int, int, int], ...]]
"""Number of blanks, and each as x, y, width, height in units."""


@dataclass(frozen=True, slots=True)
class Placed:
    """One blank on the sheet."""

    x_mm: float
    y_mm: float
    width_mm: float
    height_mm: float


@dataclass(frozen=True, slots=True)
class Layout:
    """How a sheet is sawn up."""

    blanks: tuple[Placed, ...]
    best: bool
    """No other pattern of straight cuts gives more."""


def lay_blanks(
    sheet_mm: tuple[float, float], blank_mm: tuple[float, float], kerf_mm: float = 0.0
) -> Layout:
    """Lay equal blanks out on a sheet.

    Args:
        sheet_mm: width and height.
        blank_mm: likewise; may be turned.
        kerf_mm: width of the cut between two blanks.

    >>> len(lay_blanks((100.0, 60.0), (30.0, 20.0)).blanks)
    10
    """
    kerf = round(kerf_mm / UNIT_MM)
    # a blank with its kerf, on a sheet with one more: then no cut needs minding
    wide, high = (math.floor(v / UNIT_MM + 1e-6) + kerf for v in sheet_mm)
    w, h = (math.ceil(v / UNIT_MM - 1e-6) + kerf for v in blank_mm)
    if min(w, h) <= kerf:
        return Layout((), True)
    across, down = _places(wide, w, h), _places(high, w, h)
    best = len(across) * len(down) <= EXACT_PLACES
    depth = 10_000 if best else DEPTH
    if not best:
        across, down = (
            sorted({n for side in (w, h) for n in range(side, whole + 1, side)})
            for whole in (wide, high)
        )
    count, placed = _search(wide, high, w, h, tuple(across), tuple(down), depth)
    assert count == len(placed)
    return Layout(
        tuple(
            Placed(x * UNIT_MM, y * UNIT_MM, (a - kerf) * UNIT_MM, (b - kerf) * UNIT_MM)
            for x, y, a, b in placed
        ),
        best or count == wide * high // (w * h),
    )


def _places(length: int, w: int, h: int) -> list[int]:
    """Sums of the two sides that fit, 0 left out."""
    found = {0}
    for side in (w, h):
        for at in sorted(found):
            found |= set(range(at, length + 1, side))
    return sorted(found - {0})


def _search(
    wide: int, high: int, w: int, h: int, across: tuple[int, ...], down: tuple[int, ...], depth: int
) -> Pattern:
    fit_x, fit_y = _largest(wide, across), _largest(high, down)

    @cache
    def count(a: int, b: int, left: int) -> tuple[int, str, int]:
        """Most blanks in a by b, and the cut that gives them: its way and place."""
        plain = max((a // w) * (b // h), (a // h) * (b // w))
        found = (plain, "", 0)
        most = a * b // (w * h)
        if plain == most or left == 0:
            return found
        for way, size, places, fit in (("x", a, across, fit_x), ("y", b, down, fit_y)):
            for at in places:
                if 2 * at > size:
                    break
                rest = fit[size - at]
                parts = ((at, b), (rest, b)) if way == "x" else ((a, at), (a, rest))
                n = sum(count(*part, left - 1)[0] for part in parts)
                if n > found[0]:
                    found = (n, way, at)
                    if n == most:
                        return found
        return found

    def place(x: int, y: int, a: int, b: int, left: int) -> list[tuple[int, int, int, int]]:
        _, way, at = count(a, b, left)
        if way == "x":
            return place(x, y, at, b, left - 1) + place(x + at, y, fit_x[a - at], b, left - 1)
        if way == "y":
            return place(x, y, a, at, left - 1) + place(x, y + at, a, fit_y[b - at], left - 1)
        i, j = (w, h) if (a // w) * (b // h) >= (a // h) * (b // w) else (h, w)
        return [(x + p * i, y + q * j, i, j) for p in range(a // i) for q in range(b // j)]

    a, b = fit_x[wide], fit_y[high]
    return count(a, b, depth)[0], tuple(place(0, 0, a, b, depth))


def _largest(length: int, places: tuple[int, ...]) -> list[int]:
    """For each length up to this: the largest place that fits in it."""
    found, last = [0] * (length + 1), 0
    marks = set(places)
    for i in range(length + 1):
        last = i if i in marks else last
        found[i] = last
    return found
