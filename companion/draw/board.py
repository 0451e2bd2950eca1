"""The map of the board as it stands now, from the plan alone.

One raster per view (which cut owns each dot, which line passes it) is made once;
a new step only looks its owners up in a small table. So a redraw costs the same
for three openings as for a thousand.
"""

from __future__ import annotations

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
from companion.draw.marks import edge as edge_of
from companion.draw.marks import inner_place, thin_necks
from companion.draw.signs import Sign, apart, arrows, draw_large, put_characters
from companion.findings import Point
from companion.planner.plan import Cut, Plan, SizedHole, Turn

Box = tuple[float, float, float, float]

ROOM = 0.12
"""Share of the longer side that a close-up leaves free on each side."""
CLOSEST_MM = 30.0
KEPT_RASTERS = 6
"""Views remembered: the whole board, and the last few close-ups."""
LARGE_COLUMNS = 24
"""A cut shown at least this wide has its signs drawn in dots."""
NUMBERED_HOLES = 24
"""In a drill round gone as a whole, up to so many holes bear their numbers."""
NEARLY = 1e-4
"""Shares of a line that are the same place: minutes, and so the ends of legs, are rounded."""
ARROWS_APART = 8.0
"""Columns between two arrows of one character; drawn ones stand twice as far apart."""


@dataclass(frozen=True, slots=True)
class Moment:
    """What of the plan is done, and what is shown now."""

    done: frozenset[int] = frozenset()
    """Numbers of the cuts that are made."""
    current: int | None = None
    """Number of the cut that is being made or prepared."""
    all_holes: bool = False
    """Every hole shows: the drill round."""
    hole: int | None = None
    """Number of the hole that is drilled now; None: the round is gone as a whole."""
    drilled: frozenset[int] = frozenset()
    """Numbers of the holes that are drilled: of rounds before this one, or of this one."""
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
        around a short leg tells where it is. Places to hold are in it when they are held.
        """
        line = self.stretch(cut, part)
        whole = part is None or abs(part[1] - part[0]) > 0.5
        entry = self.plan.cuts[cut - 1]
        lead, held = (entry.lead_mm if whole else ()), (entry.hold_mm if _ends_cut(part) else ())
        points = [line, np.array((*lead, *held)).reshape(-1, 2)]
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
    """Innermost cut whose line encloses the dot, or the opening drilled to size there, by its
    number; 0: the frame; -1: outside the board."""
    line: Ints
    """Cut or drilled opening whose line passes the dot; 0: none; -1: the board's edge."""

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
        sized = [(h.number, view.dots(np.array(edge_of(h)), mode))
                 for h in outlines.plan.to_size if _touches(h, view.box_mm)]  # fmt: skip
        for number, dots in sized:
            fill(owner, dots, number)
        # an edge on the border of a dot belongs to the dot inside
        middle = edge.mean(axis=0)
        rim = middle + (edge - middle) * (1.0 - 1e-6)
        stroke(line, rim, np.roll(rim, -1, axis=0), np.full(4, -1, dtype=np.int32))
        stroke(
            line, view.dots(outlines.starts, mode), view.dots(outlines.ends, mode), outlines.owners
        )
        for number, dots in sized:
            stroke(line, dots[:-1], dots[1:], np.full(len(dots) - 1, number, dtype=np.int32))
        return cls(view, mode, owner, line)

    def areas(self, plan: Plan, moment: Moment) -> Ints:
        """:class:`Area` per dot when some cuts are made."""
        cuts, done = plan.cuts, moment.done
        table = np.empty(len(cuts) + len(plan.to_size) + 2, dtype=np.int32)
        table[0], table[-1] = Area.WASTE, Area.BARE
        taken = _taken(cuts, done)
        for cut in cuts:
            if cut.number in taken:
                state = Area.AWAY if cut.side == "inside" else Area.FREED
            else:
                state = Area.WASTE if cut.side == "inside" else Area.KEEP
            table[cut.number] = state
        for hole in plan.to_size:
            table[hole.number] = Area.AWAY if is_drilled(hole, moment) else Area.WASTE
        return table[self.owner]

    def inks(self, plan: Plan, moment: Moment) -> Ints:
        """:class:`Ink` per dot: the current line, lines to come, lines made."""
        count = len(plan.cuts)
        table = np.full(count + len(plan.to_size) + 2, Ink.LATER, dtype=np.int32)
        for hole in plan.to_size:
            if is_drilled(hole, moment):
                table[hole.number] = Ink.DONE
        table[0], table[-1] = Ink.NONE, Ink.FRAME
        table[[n for n in moment.done if 0 < n <= count]] = Ink.DONE
        if moment.current is not None:
            table[moment.current] = Ink.NOW
        return table[self.line]


def _touches(hole: SizedHole, box: Box) -> bool:
    """Whether an opening that is drilled to size lies in a view, or reaches into it."""
    (x, y), r = hole.at_mm, hole.drill_mm / 2
    return box[0] - r <= x <= box[2] + r and box[1] - r <= y <= box[3] + r


def is_drilled(hole: SizedHole, moment: Moment) -> bool:
    """Whether an opening is drilled to size: all drilling comes before the first cut."""
    return hole.number in moment.drilled or moment.current is not None or bool(moment.done)


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
    raster = outlines.raster(view, mode)
    inks = raster.inks(outlines.plan, moment)
    if moment.current is not None and moment.stretch is not None:
        _divide(inks, outlines, view, mode, moment.current, moment.stretch)
    large = mode == "braille" and _is_large(outlines, view, moment)
    signs = _signs(outlines, moment, ARROWS_APART * (2.0 if large else 1.0) / view.columns_per_mm)
    if large:
        signs = draw_large(inks, signs, view)
    elif mode == "braille" and moment.hole is not None and signs:
        # the hole in hand alone is drawn large, and bears its number: no neighbour over either
        column, row = view.cell(signs[0].at_mm)
        clear = [s for s in signs[1:] if not _beside(view.cell(s.at_mm), column, row)]
        signs = [*draw_large(inks, signs[:1], view), *clear]
        large = True
    elif moment.all_holes and moment.hole is None:
        signs = apart(signs, view)
    frame = paint(raster.areas(outlines.plan, moment), inks, mode)
    put_characters(frame, signs, view, mode, large)
    return frame


def _beside(cell: tuple[int, int], column: int, row: int) -> bool:
    """Whether a cell lies under the ring round another, or under the number beside it."""
    return abs(cell[1] - row) <= 1 and -2 <= cell[0] - column <= (6 if cell[1] == row else 2)


def _is_large(outlines: Outlines, view: View, moment: Moment) -> bool:
    """Whether the current cut, or its part in hand, is wide or high enough on the screen."""
    if moment.current is None:
        return False
    spread = np.ptp(outlines.stretch(moment.current, moment.stretch), axis=0)
    return bool(spread.max() * view.columns_per_mm >= LARGE_COLUMNS)


def _divide(
    inks: Ints, outlines: Outlines, view: View, mode: Mode, cut: int, part: tuple[float, float]
) -> None:
    """Show only the part in hand as current, what lies before it as made, in place."""
    inks[inks == Ink.NOW] = Ink.LATER
    behind = outlines.stretch(cut, (0.0, min(part)))
    for line, ink in ((behind, Ink.DONE), (outlines.stretch(cut, part), Ink.NOW)):
        dots = view.dots(line, mode)
        stroke(inks, dots[:-1], dots[1:], np.full(len(dots) - 1, ink, dtype=np.int32))


def _signs(outlines: Outlines, moment: Moment, every_mm: float) -> list[Sign]:
    """What is to be shown, the most important first."""
    plan = outlines.plan
    found: list[Sign] = []
    if moment.current is not None:
        cut = plan.cuts[moment.current - 1]
        found.append(Sign("start", cut.start_mm))
        hole_at = cut.lead_mm[0] if cut.lead_mm else _hole_at(plan, cut)
        found.insert(0, Sign("hole", hole_at, label=str(cut.number)))
        if moment.holding:
            if holds_now(moment):
                found += [Sign("hold", at) for at in cut.hold_mm]
            found += [Sign(t.technique, t.at_mm) for t in cut.turns if _in_hand(cut, t, moment)]
            found += arrows(outlines.stretch(cut.number, moment.stretch), every_mm)
    if moment.all_holes:
        found += _holes(plan, moment)
    if moment.holding:
        found += [Sign("neck", neck.at_mm) for neck in thin_necks(plan)]
    if moment.current is not None and plan.pieces > 1:
        found += _pieces(plan, plan.cuts[moment.current - 1])
    return found


def holds_now(moment: Moment) -> bool:
    """Whether what is in hand ends with the cut's end, the only time at which it is held.

    Holding places keep away from the last stretch of the line; its others may pass near.
    """
    return _ends_cut(moment.stretch)


def _in_hand(cut: Cut, turn: Turn, moment: Moment) -> bool:
    """Whether a turn lies on what is in hand; its ends belong to it."""
    if moment.stretch is None or cut.length_mm <= 0.0:
        return True
    low, high = sorted(moment.stretch)
    return low - NEARLY <= turn.along_mm / cut.length_mm <= high + NEARLY


def _ends_cut(part: tuple[float, float] | None) -> bool:
    """Whether a part of a cut's line is its last; None: it is all of it."""
    return part is None or part[1] < part[0] or part[1] >= 1.0 - 1e-6


def _pieces(plan: Plan, cut: Cut) -> list[Sign]:
    """The name of the piece that a cut frees, of those its waste lies around too."""
    inside = [c for c in plan.cuts if c.within == cut.number and c.side == "outside"]
    named = [cut] if cut.side == "outside" else inside
    return [
        Sign("piece", inner_place(
            c, [o for o in plan.cuts if o.within == c.number],
            [h for h in plan.to_size if h.within == c.number],
        ), str(c.piece))
        for c in named
    ]  # fmt: skip


def _holes(plan: Plan, moment: Moment) -> list[Sign]:
    """The drill round: the hole in hand first, then those to come, then those drilled."""
    numbered = moment.hole is None and len(plan.drilled) <= NUMBERED_HOLES
    signs = [
        (
            h.number != moment.hole, h.number in moment.drilled,
            Sign("drilled" if h.number in moment.drilled
                 else "to-size" if isinstance(h, SizedHole) else "hole", h.at_mm,
                 str(h.number) if numbered or h.number == moment.hole else ""),
        )
        for h in plan.drilled
    ]  # fmt: skip
    return [sign for *_, sign in sorted(signs, key=lambda s: s[:2])]


def _hole_at(plan: Plan, cut: Cut) -> Point:
    return next((h.at_mm for h in plan.holes if h.number == cut.hole), cut.start_mm)
