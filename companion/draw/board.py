"""The map of the board as it stands now, from the plan alone.

One raster per view (which cut owns each dot, which line passes it) is made once;
a new step only looks its owners up in a small table. So a redraw costs the same
for three openings as for a thousand.
"""

from __future__ import annotations

import math
from collections.abc import Collection
from dataclasses import dataclass, field

import numpy as np

from companion.draw.cells import (
    DOTS,
    Area,
    Floats,
    Frame,
    Ink,
    Ints,
    Mode,
    View,
    fill,
    paint,
    stroke,
)
from companion.findings import Point
from companion.planner.plan import Cut, Plan

Box = tuple[float, float, float, float]

SIGNS: dict[str, tuple[str, str]] = {
    "hole": ("○", "o"),
    "drilled": ("●", "0"),
    "start": ("■", "S"),
    "spin": ("◆", "T"),
    "back-out": ("▼", "V"),
    "loop": ("∞", "@"),
    "hold": ("H", "H"),
    "neck": ("!", "!"),
}
"""Each thing has a sign of its own shape; the second is for an ASCII terminal."""
ROOM = 0.12
"""Share of the longer side that a close-up leaves free on each side."""
CLOSEST_MM = 30.0
KEPT_RASTERS = 6
"""Views remembered: the whole board, and the last few close-ups."""
_ARROWS = ("→", "↘", "↓", "↙", "←", "↖", "↑", "↗")
_PLAIN_ARROWS = (">", "\\", "v", "/", "<", "\\", "^", "/")


@dataclass(frozen=True, slots=True)
class Moment:
    """What of the plan is done, and what is shown now."""

    done: frozenset[int] = frozenset()
    """Numbers of the cuts that are made."""
    current: int | None = None
    """Number of the cut that is being made or prepared."""
    drilled: frozenset[int] | None = None
    """Holes already drilled; given only in the drill round, where all holes show."""
    holding: bool = True
    """Whether turns, holding places and necks show."""
    stretch: tuple[float, float] | None = None
    """Part of the current cut's line that is in hand, shares of its length from its
    start; the second is the smaller when it runs against the line. None: all of it."""


@dataclass(frozen=True, slots=True)
class Outlines:
    """The plan's lines as arrays, made once per plan."""

    plan: Plan
    lines: tuple[Floats, ...]
    """(n, 2) mm for each cut, in cut order."""
    boxes: Floats
    """(cuts, 4) x0, y0, x1, y1."""
    order: tuple[int, ...]
    """Indices of cuts, enclosing before enclosed."""
    starts: Floats
    ends: Floats
    owners: Ints
    """Segments of all lines, and the cut each belongs to."""
    _cache: dict[tuple[View, Mode], Raster] = field(default_factory=dict, compare=False)

    @classmethod
    def of(cls, plan: Plan) -> Outlines:
        """Read a plan's lines."""
        lines = tuple(np.array(c.line_mm, dtype=np.float64).reshape(-1, 2) for c in plan.cuts)
        boxes = np.array([(*ln.min(axis=0), *ln.max(axis=0)) for ln in lines]).reshape(-1, 4)
        starts = [ln[:-1] for ln in lines]
        ends = [ln[1:] for ln in lines]
        none = np.zeros((0, 2))
        owners = np.repeat(
            np.array([c.number for c in plan.cuts], dtype=np.int32), [len(s) for s in starts]
        )
        return cls(
            plan, lines, boxes, _nesting(plan.cuts),
            np.vstack([none, *starts]), np.vstack([none, *ends]), owners.astype(np.int32),
        )  # fmt: skip

    @property
    def board_box(self) -> Box:
        """The whole board."""
        return (0.0, 0.0, max(self.plan.board.width_mm, 1.0), max(self.plan.board.height_mm, 1.0))

    def stretch(self, cut: int, part: tuple[float, float] | None) -> Floats:
        """The part of a cut's line between two shares of its length, in the order cut.

        Args:
            cut: its number.
            part: from and to; None gives the whole line.
        """
        line = self.lines[cut - 1]
        if part is None or len(line) < 2:
            return line
        along = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(line, axis=0).T))])
        low, high = sorted(s * float(along[-1]) for s in part)
        ends = np.array([[np.interp(s, along, line[:, i]) for i in (0, 1)] for s in (low, high)])
        inner = line[(along > low) & (along < high)]
        found: Floats = np.vstack([ends[:1], inner, ends[1:]])
        return found if part[0] <= part[1] else found[::-1]

    def zoom_box(self, cut: int, part: tuple[float, float] | None = None) -> Box:
        """What a close-up shows: a cut, or the part of it that is in hand.

        With some room around it, and never less than ``CLOSEST_MM`` across: what lies
        around a short leg tells where it is.
        """
        line = self.stretch(cut, part)
        whole = part is None or abs(part[1] - part[0]) > 0.5
        points = [line]
        if whole:
            entry = self.plan.cuts[cut - 1]
            points.append(np.array((*entry.lead_mm, *entry.hold_mm)).reshape(-1, 2))
        (x0, y0), (x1, y1) = (np.vstack(points).min(axis=0), np.vstack(points).max(axis=0))
        edge = max(4.0, ROOM * max(x1 - x0, y1 - y0), (CLOSEST_MM - max(x1 - x0, y1 - y0)) / 2.0)
        return (float(x0 - edge), float(y0 - edge), float(x1 + edge), float(y1 + edge))

    def raster(self, view: View, mode: Mode) -> Raster:
        """The dots of a view; the last few are remembered."""
        key = (view, mode)
        # the one used last stands last; the whole board, costly, so outlives close-ups
        found = self._cache.pop(key, None) or Raster.of(self, view, mode)
        while len(self._cache) >= KEPT_RASTERS:
            self._cache.pop(next(iter(self._cache)))
        self._cache[key] = found
        return self._cache[key]


def _nesting(cuts: tuple[Cut, ...]) -> tuple[int, ...]:
    by_number = {c.number: c for c in cuts}

    def depth(cut: Cut) -> int:
        deep = 0
        seen = {cut.number}
        while cut.within is not None and cut.within in by_number and cut.within not in seen:
            seen.add(cut.within)
            cut = by_number[cut.within]
            deep += 1
        return deep

    return tuple(sorted(range(len(cuts)), key=lambda i: (depth(cuts[i]), i)))


@dataclass(frozen=True, slots=True)
class Raster:
    """Which cut each dot of a view belongs to."""

    view: View
    mode: Mode
    owner: Ints
    """Innermost cut whose line encloses the dot; 0: the frame; -1: outside the board."""
    line: Ints
    """Cut whose line passes the dot; 0: none; -1: the board's edge."""

    @classmethod
    def of(cls, outlines: Outlines, view: View, mode: Mode) -> Raster:
        """Fill and stroke everything that touches the view."""
        down, across = DOTS[mode]
        shape = (view.rows * down, view.columns * across)
        owner = np.full(shape, -1, dtype=np.int32)
        line = np.zeros(shape, dtype=np.int32)
        x0, y0, x1, y1 = outlines.board_box
        edge = view.dots(np.array([(x0, y0), (x1, y0), (x1, y1), (x0, y1)]), mode)
        fill(owner, edge, 0)
        left, top, right, bottom = view.box_mm
        b = outlines.boxes
        near = (b[:, 0] <= right) & (b[:, 2] >= left) & (b[:, 1] <= bottom) & (b[:, 3] >= top)
        for at in outlines.order:
            if near[at]:
                fill(owner, view.dots(outlines.lines[at], mode), outlines.plan.cuts[at].number)
        # an edge on the border of a dot belongs to the dot inside
        middle = edge.mean(axis=0)
        rim = middle + (edge - middle) * (1.0 - 1e-6)
        stroke(line, rim, np.roll(rim, -1, axis=0), np.full(4, -1, dtype=np.int32))
        stroke(
            line, view.dots(outlines.starts, mode), view.dots(outlines.ends, mode), outlines.owners
        )
        return cls(view, mode, owner, line)

    def areas(self, cuts: tuple[Cut, ...], done: Collection[int]) -> Ints:
        """:class:`Area` per dot when some cuts are made."""
        table = np.empty(len(cuts) + 2, dtype=np.int32)
        table[0], table[-1] = Area.WASTE, Area.BARE
        taken = _taken(cuts, done)
        for cut in cuts:
            if cut.number in taken:
                state = Area.AWAY if cut.side == "inside" else Area.FREED
            else:
                state = Area.WASTE if cut.side == "inside" else Area.KEEP
            table[cut.number] = state
        return table[self.owner]

    def inks(self, count: int, moment: Moment) -> Ints:
        """:class:`Ink` per dot: the current line, lines to come, lines made."""
        table = np.full(count + 2, Ink.LATER, dtype=np.int32)
        table[0], table[-1] = Ink.NONE, Ink.FRAME
        table[[n for n in moment.done if 0 < n <= count]] = Ink.DONE
        if moment.current is not None:
            table[moment.current] = Ink.NOW
        return table[self.line]


def _taken(cuts: tuple[Cut, ...], done: Collection[int]) -> set[int]:
    """Cuts whose inside is gone: made, or lying within one that is made."""
    taken = set(done)
    by_number = {c.number: c for c in cuts}
    for cut in cuts:
        above = cut.within
        hops = 0
        while above is not None and above in by_number and hops <= len(cuts):
            if above in done:
                taken.add(cut.number)
                break
            above = by_number[above].within
            hops += 1
    return taken


def board_frame(outlines: Outlines, view: View, mode: Mode, moment: Moment) -> Frame:
    """Paint the board as it stands at a moment.

    Args:
        outlines: the plan's lines.
        view: what part, on how many cells.
        mode: which canvas.
        moment: what is done and current.
    """
    cuts = outlines.plan.cuts
    raster = outlines.raster(view, mode)
    inks = raster.inks(len(cuts), moment)
    if moment.current is not None and moment.stretch is not None:
        _divide(inks, outlines, view, mode, moment.current, moment.stretch)
    frame = paint(raster.areas(cuts, moment.done), inks, mode)
    _mark(frame, outlines, view, mode, moment)
    return frame


def _divide(
    inks: Ints, outlines: Outlines, view: View, mode: Mode, cut: int, part: tuple[float, float]
) -> None:
    """Show only the part in hand as current, what lies before it as made, in place."""
    inks[inks == Ink.NOW] = Ink.LATER
    behind = outlines.stretch(cut, (0.0, min(part)))
    for line, ink in ((behind, Ink.DONE), (outlines.stretch(cut, part), Ink.NOW)):
        dots = view.dots(line, mode)
        stroke(inks, dots[:-1], dots[1:], np.full(len(dots) - 1, ink, dtype=np.int32))


def _mark(frame: Frame, outlines: Outlines, view: View, mode: Mode, moment: Moment) -> None:
    """Put the signs on the picture, the most important last."""
    pick, plan = (1 if mode == "ascii" else 0), outlines.plan

    def put(at: Point, sign: str, ink: Ink, label: str = "") -> None:
        column, row = view.cell(at)
        for offset, character in enumerate(sign + label):
            if 0 <= row < view.rows and 0 <= column + offset < view.columns:
                frame.signs[row, column + offset] = character
                frame.ink[row, column + offset] = ink

    if moment.holding:
        for neck in plan.necks[:20]:
            put(neck.at_mm, SIGNS["neck"][pick], Ink.NECK)
    if moment.drilled is not None:
        for hole in plan.holes:
            kind = "drilled" if hole.number in moment.drilled else "hole"
            put(hole.at_mm, SIGNS[kind][pick], Ink.MARK)
    if moment.current is None:
        return
    cut = plan.cuts[moment.current - 1]
    if moment.holding:
        line = outlines.stretch(cut.number, moment.stretch)
        for at, heading in arrows(line, 8.0 / view.columns_per_mm):
            put(at, (_PLAIN_ARROWS if pick else _ARROWS)[heading], Ink.MARK)
        for turn in cut.turns:
            put(turn.at_mm, SIGNS[turn.technique][pick], Ink.MARK)
        for at in cut.hold_mm:
            put(at, SIGNS["hold"][pick], Ink.HOLD)
    hole_at = cut.lead_mm[0] if cut.lead_mm else _hole_at(plan, cut)
    put(cut.start_mm, SIGNS["start"][pick], Ink.MARK)
    put(hole_at, SIGNS["hole"][pick], Ink.MARK, str(cut.number))


def _hole_at(plan: Plan, cut: Cut) -> Point:
    return next((h.at_mm for h in plan.holes if h.number == cut.hole), cut.start_mm)


def arrows(line: Floats, every_mm: float) -> list[tuple[Point, int]]:
    """Places along a line with the heading there in eighths of a turn (0 right, 2 down).

    The first stands a little after the start, so that the direction shows at once.

    Args:
        line: (n, 2) mm in travel order.
        every_mm: wanted distance between two; at most 24 are given.

    >>> square = np.array([(0.0, 0.0), (9.0, 0.0), (9.0, 9.0), (0.0, 9.0), (0.0, 0.0)])
    >>> [heading for _, heading in arrows(square, 9.0)]
    [0, 2, 4, 6]
    """
    if len(line) < 2:
        return []
    steps = np.hypot(*np.diff(line, axis=0).T)
    along = np.concatenate([[0.0], np.cumsum(steps)])
    total = float(along[-1])
    count = max(1, min(24, int(total / max(every_mm, 1e-6))))
    found: list[tuple[Point, int]] = []
    for n in range(count):
        s = (n + 0.4) * total / count
        at = min(int(np.searchsorted(along, s, side="right")) - 1, len(steps) - 1)
        share = (s - along[at]) / max(float(steps[at]), 1e-9)
        x, y = line[at] + (line[at + 1] - line[at]) * share
        dx, dy = line[at + 1] - line[at]
        found.append(((float(x), float(y)), round(math.atan2(dy, dx) / (math.pi / 4)) % 8))
    return found
