"""In which order the cuts are made, so that the board stays stiff under the blade.

The rule kept here (design 5.2): weakness_j(S) is how far the board gives under a push
anywhere along cut j at the end of that cut, when the waste of S and of j itself is
gone. It never falls as more is cut, so Lawler's rule for the least largest cost under
precedence (1|prec|f_max; Lawler, Management Science 19, 1973) is exact: fill the LAST
place first, each time with the allowed cut that is least weak when all others are
gone too.

Freedom that costs nothing is used for the sawyer. The least weakness at any place is
a worst moment that no order avoids, so any allowed cut that is no weaker may take a
place without making the worst moment worse. Among such cuts outlines of pieces go late;
near-ties go as the trade has it, the small before the large and the middle before the
edges, and then to the shorter move between holes. A piece clearly smaller than another
always comes out first.

Beyond SINGLE cuts several places are filled from one state of the board. A cut allowed
in that state only gets stiffer when others are put back, so its weakness there is an
upper bound; as long as that is no more than is unavoidable anyway, the worst moment
stays the least there is. Only the near-ties and the shown weaknesses get coarser.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
import shapely
from shapely.geometry.base import BaseGeometry

from companion.errors import PlanError
from companion.findings import Point
from companion.planner.lawler import Progress, fill_from_last
from companion.planner.moves import distances_mm, short_path
from companion.planner.plan import Side
from companion.planner.plate import FLOOR, Floats, Grid, Ints, Plate
from companion.words import Words

SINGLE = 150
"""Up to this many cuts each place has its own state of the board."""
STATES = 150
"""About how many states of the board are solved beyond that."""
CLEARLY = 2.0
"""A piece counts as the larger one from this ratio of areas on (own choice, no source)."""
RINGS = 4
"""Rings from the middle to the edge in which openings lie equally far out."""
TOLD = 1.15
"""From this ratio of later to now on, the difference is worth telling."""

ShouldStop = Callable[[], bool]


@dataclass(frozen=True, eq=False)
class OrderItem:
    """One cut as far as its place in the order is concerned."""

    index: int
    """Its place in the sequence handed over, from 0."""
    frees: BaseGeometry
    """What is gone after this cut, board mm; empty for a line that frees nothing."""
    line: npt.NDArray[np.float64]
    """Points along the cut, (n, 2), board mm."""
    before: frozenset[int]
    """Indices of the cuts that must be made earlier."""
    at: Point
    """The hole it starts from, board mm."""
    side: Side
    """Whether it frees waste or a piece."""
    piece: int
    """Number of the piece it belongs to."""
    area_mm2: float
    """Of what it frees; 0 when it frees nothing."""


@dataclass(frozen=True)
class Placed:
    """A cut with its place, in the order in which cuts are made."""

    index: int
    """Of the :class:`OrderItem`."""
    weakness: float
    """Give of the board at its weakest point along this cut when the cut ends; 1 is the
    give of the whole uncut board at its own weakest point. Large where a tongue of waste
    is left standing between the arms of a piece."""
    reason: str
    """Why it stands here, one sentence for the sawyer."""


class BoardModel:
    """The board as a held plate, with the wood of any set of cuts taken away.

    Args:
        items: the cuts; ``items[i].index == i``.
        width_mm: of the board.
        height_mm: of the board.
        cells: about how many cells the grid has; None: by the number of cuts.
        gone: wood that is drilled out before the first cut; None: none.
    """

    def __init__(
        self,
        items: Sequence[OrderItem],
        width_mm: float,
        height_mm: float,
        cells: int | None = None,
        gone: BaseGeometry | None = None,
    ) -> None:
        self.grid = Grid(width_mm, height_mm, cells or cells_for(len(items)))
        self._shares = [self.grid.share(item.frees) for item in items]
        self._wood = np.ones((self.grid.columns, self.grid.rows))
        if gone is not None and not gone.is_empty:
            c, r, share = self.grid.share(gone)
            self._wood[c, r] -= share
        self._whole = self._wood.copy()
        self._gone: frozenset[int] = frozenset()
        size = self.grid.size_mm
        self._plate = Plate(
            self.grid.columns, self.grid.rows, (float(size[0]), float(size[1])),
            np.clip(self._wood, FLOOR, 1.0),
        )  # fmt: skip
        self._inner = _all_before([item.before for item in items])
        self._nodes = [self._along(item) for item in items]
        self.whole_give = float(self._gives([self._middle()])[0])
        """Give of the uncut board at its middle, its weakest point, per unit D."""

    def _middle(self) -> Ints:
        c, r = self.grid.columns, self.grid.rows
        middle = [(i, j) for i in {c // 2, (c + 1) // 2} for j in {r // 2, (r + 1) // 2}]
        return np.array([i * (r + 1) + j for i, j in sorted(middle)])

    def _along(self, item: OrderItem) -> Ints:
        """The grid's nodes along a cut, on the side where wood stays.

        For each point of the line that corner of its cell with half a cell of wood or
        more around it that is nearest; the one with most wood when there is none such.
        Chosen once, so that the give of a node can be compared between states.
        """
        columns, rows = self.grid.columns, self.grid.rows
        wood = np.ones((columns + 2, rows + 2))
        wood[1:-1, 1:-1] = self._whole
        for i in (item.index, *sorted(self._inner[item.index])):
            c, r, share = self._shares[i]
            wood[c.start + 1 : c.stop + 1, r.start + 1 : r.stop + 1] -= share
        around = (wood[1:, 1:] + wood[:-1, 1:] + wood[1:, :-1] + wood[:-1, :-1]) / 4
        xy = np.clip(self.grid.inside(item.line), 0.0, (columns, rows))
        cell = np.minimum(np.floor(xy).astype(np.intp), (columns - 1, rows - 1))
        corners = cell[:, None] + np.array([(0, 0), (0, 1), (1, 0), (1, 1)])
        left = around[corners[..., 0], corners[..., 1]]
        far = np.hypot(*(corners - xy[:, None]).transpose(2, 0, 1))
        badness = np.where(left >= 0.5, far, 10.0 - left)
        pick = corners[np.arange(len(xy)), np.argmin(np.round(badness, 6), axis=1)]
        return np.unique(pick[:, 0] * (rows + 1) + pick[:, 1])

    def _gives(self, groups: Sequence[Ints]) -> Floats:
        """The largest give in each group of nodes."""
        rows = self.grid.rows + 1
        wanted = np.unique(np.concatenate(groups)) if groups else np.zeros(0, dtype=np.intp)
        column = wanted // rows
        split = np.searchsorted(column, np.arange(self.grid.columns + 2))
        per_column = [wanted[split[i] : split[i + 1]] % rows for i in range(self.grid.columns + 1)]
        values = np.concatenate(self._plate.gives(per_column))
        return np.array([values[np.searchsorted(wanted, group)].max() for group in groups])

    def cost(self, gone: Sequence[int], asked: Sequence[int]) -> Floats:
        """Weakness of the asked cuts when all of ``gone`` has been cut.

        Returns:
            (len(asked),), 1 = the whole board's weakest point.
        """
        now = frozenset(gone)
        changed = sorted(self._gone ^ now)
        if changed:
            touched = [self._shares[i][0] for i in changed]
            touched = [t for t in touched if t.stop > t.start]
            for i in changed:
                c, r, share = self._shares[i]
                self._wood[c, r] += share if i in self._gone else -share
            self._gone = now
            if touched:
                span = slice(min(t.start for t in touched), max(t.stop for t in touched))
                self._plate.change(span, np.clip(self._wood[span], FLOOR, 1.0))
        return self._gives([self._nodes[i] for i in asked]) / self.whole_give


def _all_before(before: Sequence[frozenset[int]]) -> list[frozenset[int]]:
    """Everything that comes earlier, directly or through others."""
    found: dict[int, frozenset[int]] = {}
    waiting = list(range(len(before)))
    while waiting:
        ready = [i for i in waiting if before[i] <= found.keys()]
        if not ready:
            raise PlanError("cuts enclose each other in a circle", "", "Check the drawing.")
        for i in ready:
            found[i] = before[i].union(*(found[j] for j in before[i]))
        waiting = [i for i in waiting if i not in found]
    return [found[i] for i in range(len(before))]


def cells_for(count: int) -> int:
    """Cells of the grid: a few to an opening, as many as the time allows.

    Measured on one core of 2.x GHz: a state of 28 x 28 cells takes 7 ms, 34 x 34 13 ms,
    40 x 40 20 ms, 48 x 48 40 ms, 56 x 56 70 ms. An order found with 28 x 28 cells was up
    to 2 % worse than the best one when judged with 64 x 64 (10, 25 and 49 openings).
    """
    for most, cells in ((16, 784), (40, 1156), (SINGLE, 1600), (400, 2304)):
        if count <= most:
            return cells
    return 3136


def best_order(
    items: Sequence[OrderItem],
    board_width_mm: float,
    board_height_mm: float,
    words: Words,
    progress: Progress | None = None,
    should_stop: ShouldStop | None = None,
    gone: BaseGeometry | None = None,
) -> tuple[Placed, ...]:
    """Order the cuts so that the board's weakest moment is as stiff as it can be.

    Args:
        items: the cuts; ``items[i].index == i``.
        board_width_mm: of the board, its border held.
        board_height_mm: of the board.
        words: in which the reasons are told.
        progress: told the share done, 0 to 1.
        should_stop: asked between states of the board.
        gone: wood that is drilled out before the first cut; None: none.

    Returns:
        Every cut once, in the order in which they are made.

    Raises:
        PlanError: stopped, or the cuts wait for each other in a circle.
    """
    if not items:
        return ()

    def tell(share: float) -> None:
        if should_stop and should_stop():
            raise PlanError("planning was stopped", "", "Start it again when you like.")
        if progress:
            progress(share)

    model = BoardModel(items, board_width_mm, board_height_mm, gone=gone)
    most = 1 if len(items) <= SINGLE else -(-len(items) // STATES)
    outside = frozenset(i.index for i in items if i.side == "outside")
    sizes = small_first(items)
    late = late_by_trade(items, (board_width_mm, board_height_mm))
    filled = fill_from_last(sizes, model.cost, late, outside, most, tell)
    found = dict(zip(filled.order, zip(filled.cost, filled.if_last, strict=True), strict=True))
    order = veins_first(items, filled.order)
    return tuple(
        Placed(
            i,
            found[i][0],
            _reason(items, order, place, found[i], sizes, (board_width_mm, board_height_mm), words),
        )
        for place, i in enumerate(order)
    )


def _extents(items: Sequence[OrderItem]) -> dict[int, float]:
    """Area of the hull of each piece, mm2; a piece inside another has the lesser one."""
    return {i.index: float(shapely.convex_hull(i.frees).area) for i in items if i.side == "outside"}


def small_first(items: Sequence[OrderItem]) -> list[frozenset[int]]:
    """What comes earlier, with pieces clearly smaller than a neighbour added before it.

    Neighbours lie in the same opening, or both directly in the board. The trade's advice
    (common practice, no published source): the large pieces carry the small ones.
    """
    extents = _extents(items)
    around = {j: item.index for item in items for j in item.before if items[j].side == "outside"}
    out = [item.before for item in items]
    for i, area in extents.items():
        smaller = (j for j, a in extents.items() if a * CLEARLY <= area)
        out[i] |= {j for j in smaller if around.get(j) == around.get(i)}
    return out


def out_of_middle(item: OrderItem, board_mm: tuple[float, float]) -> float:
    """How far out what a cut frees lies: 0 in the board's middle, 1 at its edge."""
    if item.frees.is_empty:
        return 0.0
    at = item.frees.centroid
    return max(abs(2 * at.x / board_mm[0] - 1), abs(2 * at.y / board_mm[1] - 1))


def late_by_trade(
    items: Sequence[OrderItem], board_mm: tuple[float, float]
) -> Callable[[int, int | None], tuple[float, ...]]:
    """Which of several cuts takes a late place, as the trade has it where that costs nothing.

    Outlines; then the clearly larger; of like openings those farther out; then the near.
    Common practice, no published source.
    """
    sizes, rings = [], []
    for item in items:
        # outlines by a twentieth, openings by doublings: less is no clear difference
        steps = 20 if item.side == "outside" else 1 / float(np.log(CLEARLY))
        sizes.append(-round(steps * float(np.log(max(item.area_mm2, 1e-9)))))
        outward = 0 if item.side == "outside" else round(RINGS * out_of_middle(item, board_mm))
        rings.append(-outward)

    def key(i: int, following: int | None) -> tuple[float, ...]:
        item = items[i]
        move = 0.0
        if following is not None:
            to = items[following].at
            move = round(float(np.hypot(item.at[0] - to[0], item.at[1] - to[1])), 3)
        return (item.frees.is_empty, item.side != "outside", sizes[i], rings[i], move)

    return key


def veins_first(items: Sequence[OrderItem], order: Sequence[int]) -> tuple[int, ...]:
    """Move cuts that free nothing as early as their predecessors allow.

    They do not weaken the board, so nobody else's weakness changes, and their own can
    only fall. Those that wait for nothing come first, along a short path.
    """
    veins = {i.index for i in items if i.frees.is_empty}
    if not veins:
        return tuple(order)
    inner = _all_before([i.before for i in items])
    ready = sorted(v for v in veins if inner[v] <= veins)
    place = {v: n for n, v in enumerate(ready)}
    needs = [frozenset(place[b] for b in items[v].before if b in place) for v in ready]
    way = short_path(distances_mm([items[v].at for v in ready]), needs)
    out = [ready[k] for k in way]
    held = [v for v in order if v in veins and v not in place]
    done = set(out)

    def release() -> None:
        for v in list(held):
            if items[v].before <= done:
                held.remove(v)
                out.append(v)
                done.add(v)

    for i in order:
        if i not in veins:
            release()
            out.append(i)
            done.add(i)
    release()
    return tuple(out)


def _reason(
    items: Sequence[OrderItem],
    order: Sequence[int],
    place: int,
    cost: tuple[float, float],
    sizes: Sequence[frozenset[int]],
    board_mm: tuple[float, float],
    words: Words,
) -> str:
    """Why a cut stands at its place."""
    item = items[order[place]]
    now, later = cost
    times = later / now if now > 0 else 1.0
    following = [items[i] for i in order[place + 1 :]]
    if item.frees.is_empty:
        return words.say("Early: nothing falls out here, the board stays as stiff as it is.")
    if item.side == "outside":
        if not following:
            return words.say("Last: the board holds the piece until all else is done.")
        if any(item.index in f.before for f in following):
            return words.say("The piece comes out before the waste around it does.")
        if any(item.index in sizes[f.index] for f in following):
            return words.say("The small piece before the large one: the frame stays stiff.")
        return words.say("All inside this piece is done, so it may come out.")
    if times >= TOLD:
        middle = all(0.3 < p / size < 0.7 for p, size in zip(item.at, board_mm, strict=True))
        return _times(words, times, middle and place < len(order) / 3)
    if not any(f.side == "inside" for f in following):
        return words.say("Last of the openings: the board holds here even with all others gone.")
    if place and _is_nearest(items[order[place - 1]], item, following):
        return words.say("Early or late is much the same here; it is the nearest one left.")
    return words.say("Early or late is much the same here.")


def _is_nearest(last: OrderItem, item: OrderItem, others: Sequence[OrderItem]) -> bool:
    """Whether no other cut has its hole nearer to the last one's."""
    holes = np.array([item.at, *(o.at for o in others)])
    far = np.hypot(*(holes - last.at).T)
    return bool(far[0] <= far.min() + 0.01)


def _times(words: Words, times: float, middle: bool) -> str:
    """Tell a ratio as a round number of times, or as a percentage when it is below two."""
    if times >= 1.75:
        n = round(times)
        if middle:
            return words.say("Middle first: the board gives {times} times less here now than "
                             "later.", times=n)  # fmt: skip
        return words.say("The board gives {times} times less here now than later.", times=n)
    n = 5 * round(20 * (1 - 1 / times))
    if middle:
        return words.say("Middle first: the board gives {percent} percent less here now than "
                         "later.", percent=n)  # fmt: skip
    return words.say("The board gives {percent} percent less here now than later.", percent=n)
