"""Where a cut starts and ends, which way it goes, and how the blade gets there.

The rules kept (design 5.4): of the candidate starts the cheapest is taken that has
room for a hole beside it, with a lead-in through waste alone; the travel takes
delicate stretches early and the board clears the throat. The sawyer's pins come first,
and one that cannot be kept is refused with its reason. A contour that clears in
neither direction starts where two runs from its hole serve, if any place does.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from itertools import product

import numpy as np
import shapely

from companion.findings import Finding, Point
from companion.planner.contours import Contour, Rooms
from companion.planner.detours import Detours
from companion.planner.holes import HolePlaces, fitting_drills, no_drill, no_room, widest_spot
from companion.planner.linework import Floats, Indices, Line, Linework
from companion.planner.pins import fan, pin_for, refused
from companion.planner.places import EARLY_COST, Places, candidates, plain_place
from companion.planner.plan import Direction
from companion.planner.project import Pin
from companion.planner.reach import Reach
from companion.planner.resorts import Resort, Stuck, in_one_trim, lead_blocked, resort, told
from companion.planner.rules import Rules
from companion.planner.ways import OUT_OF_REACH_COST, Ways, ways_of
from companion.shop.model import BladeSize, Drill
from companion.words.catalogue import ENGLISH, Words

PIN_REACH_MM = 2.0
"""A pin further than this from its line is a slip, not a wish."""
PIN_SNAP_MM = 1.0
"""A pin this near to a corner means the corner."""
TRIES = 32
"""Best starts, each with its direction, for which holes are sought."""
SMALL_DRILL_COST, NEAR_HOLE_COST, LEAD_COST_PER_MM = 0.15, 0.12, 0.04
SQUARE_LEAD_COST, SHALLOW_LEAD_COST = 0.1, 0.2
"""Relative to the costs of places: thin drill, hole near the line, length of the lead, lead
square to the line or nearly along it."""
FAR_COST_PER_MM = 0.05
"""The same for each mm of a lead from the widest spot."""
AT_ONCE = 16
"""Lead-ins looked at together: beside the frame many are, elsewhere the first serves."""
LEADS_TRIED = 200
"""Leads that meet the frame before the best of them is taken all the same, and told."""

DIRECTIONS: tuple[Direction, Direction] = ("clockwise", "anticlockwise")


@dataclass(frozen=True, slots=True)
class Entry:
    """How one contour is entered and run."""

    contour: int
    """Index of the contour."""
    hole_mm: Point
    """Centre of the hole; the widest spot when nothing fits."""
    drill: Drill | None
    """None when no drill fits: then the contour cannot be cut with this blade."""
    lead_mm: tuple[Point, ...]
    """From the hole's centre to the start, both included, through waste alone."""
    start_mm: Point
    """Where the line is met and left: the place of the lip."""
    direction: Direction
    """As seen on the board; with two runs that of the first."""
    line_mm: tuple[Point, ...]
    """Closed, first = last = start, in travel order."""
    start_arc_mm: float
    """Arc length of the start on the contour's clockwise line."""
    meet_along_mm: float | None = None
    """None: one run. Else the first run stops this far along the line, and a second
    goes from the start the other way until it meets it."""
    shares: int | None = None
    """Index of the contour whose hole it uses, in the same waste; None: its own."""
    resort: Resort | None = None
    """How it is made all the same when the board meets the saw's frame; None: it clears."""


@dataclass(frozen=True, slots=True)
class Task:
    """What all contours of a plan have in common."""

    work: Linework
    """All lines."""
    rooms: Rooms
    """Their waste."""
    size_mm: tuple[float, float]
    """Width and height of the board."""
    blade: BladeSize
    """The chosen one."""
    drills: tuple[Drill, ...]
    """The sawyer's set."""
    rules: Rules
    """Of the skill level."""
    thickness_mm: float
    """Of one board."""
    reach: Reach | None = None
    """Of the saw; None leaves it out of account."""
    pins: tuple[Pin, ...] = ()
    """What the sawyer decided."""
    blades: tuple[BladeSize, ...] = ()
    """All the shop knows, to name one that would fit."""
    words: Words = ENGLISH
    """The language of the findings."""
    drilled: frozenset[int] = frozenset()
    """Indices of contours that are drilled to size: nothing is threaded there."""


def enter_all(
    task: Task, tick: Callable[[float], None] | None = None
) -> tuple[tuple[Entry, ...], tuple[Finding, ...]]:
    """Find hole, lead-in, start and direction of every contour.

    Args:
        task: what to enter, with what.
        tick: told the share done, 0 to 1; it may raise to stop the work.

    Returns:
        One entry per contour that is sawn, by index, and what was found on the way.
    """
    enterer = _Enterer(task)
    entries = []
    sawn = [c for c in task.work.contours if c.index not in task.drilled]
    for contour in sawn:
        entries.append(enterer.enter(contour))
        if tick is not None:
            tick(len(entries) / len(sawn))
    findings = list(enterer.findings)
    if task.reach is not None:
        resorts = enterer.resorts(entries)
        findings += told(list(resorts.values()), task.reach, task.words)
        entries = [replace(e, resort=resorts.get(e.contour)) for e in entries]
    return tuple(entries), tuple(findings)


class _Enterer:
    """Enters contours one after another; holes already placed are kept clear of."""

    def __init__(self, task: Task) -> None:
        self._task, self._work, self._rules = task, task.work, task.rules
        self._fits = fitting_drills(task.blade, task.drills, task.rules.hole)
        self._places = HolePlaces(task.work, *task.size_mm, task.rules.hole)
        self._stuck: list[Stuck] = []
        self._detours: Detours | None = None
        self.findings: list[Finding] = []
        if not self._fits:
            self.findings.append(no_drill(task.blade, task.drills, task.rules.hole, task.words))

    def enter(self, contour: Contour) -> Entry:
        """One contour; whatever cannot be as wished is added to the findings."""
        line = self._work.lines[contour.index]
        ways = ways_of(self._task.reach, line)
        task = self._task
        spots = candidates(self._work, contour, task.blade, self._rules, task.thickness_mm)
        entry = self._pinned(contour, line, spots, ways) if self._fits else None
        if entry is None and self._fits:
            entry = self._beside(contour, line, spots, ways)
        if entry is None:
            entry = self._widest(contour, line, spots, ways)
        if entry.drill is not None and entry.shares is None:
            self._places.take(contour, entry.hole_mm, entry.drill.diameter_mm / 2)
        return self._with_reach(contour, line, spots, ways, entry)

    # ------------------------------------------------------------- reach

    def _with_reach(
        self, contour: Contour, line: Line, spots: Places, ways: Ways, entry: Entry
    ) -> Entry:
        """The entry with its meeting place, and the finding when nothing clears."""
        reach = self._task.reach
        if reach is None:
            return entry
        if not _clears(entry, ways):
            behind = ways.lead_behind(*_lead_of(entry))
            self.findings.append(
                lead_blocked(contour, entry.hole_mm, behind, reach, self._task.words)
            )
        if not ways.stuck:
            return entry
        split: Point | None = None
        allowed = ways.allow(np.array([entry.start_arc_mm]))[0] == 0.0
        if ways.meet is not None and allowed:
            lo, hi = ways.meet
            gap = np.mod(spots.arc - lo, line.length) <= hi - lo
            price = np.where(gap, np.round(spots.cost, 9), np.inf)
            arc = float(spots.arc[int(np.argmin(price))]) if gap.any() else (lo + hi) / 2
            x, y = line.at(np.array([arc]))[0]
            split = (float(x), float(y))
            ahead = arc - entry.start_arc_mm
            # either run may come first
            along = ahead if entry.direction == "clockwise" else -ahead
            entry = replace(entry, meet_along_mm=along % line.length)
        self._stuck.append(
            Stuck(
                contour, line, np.array(entry.line_mm), np.array(entry.lead_mm),
                entry.drill.diameter_mm if entry.drill else 0.0, split, ways.worst,
            )
        )  # fmt: skip
        return entry

    def resorts(self, entries: Sequence[Entry]) -> dict[int, Resort]:
        """What is done about the cuts that do not clear, by contour, when all are entered."""
        reach, words = self._task.reach, self._task.words
        if reach is None or not self._stuck:
            return {}
        frame = self._rules.hole.frame_mm
        kept = [c.ring.buffer(frame) for c in self._work.contours if c.parent is None]
        kept += [
            shapely.Point(e.hole_mm).buffer(e.drill.diameter_mm / 2 + frame)
            for e in entries
            if e.drill is not None
        ]
        # a trimmed board is convex: it keeps a part if it keeps that part's hull
        keep = shapely.convex_hull(shapely.geometrycollections(kept))
        found = [resort(reach, stuck, keep, words) for stuck in self._stuck]
        found = in_one_trim(reach, self._stuck, found, words)
        return {s.contour.index: r for s, r in zip(self._stuck, found, strict=True)}

    # ------------------------------------------------------- holes by starts

    def _beside(self, contour: Contour, line: Line, spots: Places, ways: Ways) -> Entry | None:
        """The best start with a hole near it; of the best TRIES, else of all, squarely."""
        own = spots.cost + ways.allow(spots.arc)
        late = np.stack([spots.early, 1.0 - spots.early], axis=1)
        cost = own[:, None] + EARLY_COST * late + ways.cost
        best = np.argsort(np.round(cost.ravel(), 9), kind="stable")[:TRIES]
        for shallow in (False, True):
            found = self._first_fit(
                contour, line, spots, ways, best // 2, best % 2, cost.ravel()[best],
                shallow=shallow,
            )  # fmt: skip
            if found is None:
                break
            if shallow or _clears(found, ways):
                return found
        way, price = np.argmin(cost, axis=1), cost.min(axis=1)
        every = np.argsort(np.round(price, 9), kind="stable")
        deep = [spots.waste[every] * far for far in (1.0, 1.5)]
        return self._first_fit(contour, line, spots, ways, every, way[every], price[every], deep)

    def _first_fit(
        self, contour: Contour, line: Line, spots: Places, ways: Ways, index: Indices,
        way: Indices, cost: Floats, offsets: Sequence[Floats] = (), shallow: bool = False,
    ) -> Entry | None:  # fmt: skip
        """Try a thick and a thin drill beside each start, cheapest first.

        Args:
            contour: whose hole it is.
            line: its line.
            spots: candidate starts.
            ways: what the saw allows.
            index: which of them (m,).
            way: 0 clockwise, 1 anticlockwise for each (m,).
            cost: of each (m,).
            offsets: where to look from each, in units of the least distance (m, 2)
                each; empty: as a lead-in should be, and with either drill.
            shallow: whether leads nearly along the line are tried as well.
        """
        hole = self._rules.hole
        thin, thick = self._fits[0], self._fits[-1]
        drills = [thin] if offsets or thin == thick else [thick, thin]
        margins = [(hole.margin_mm, NEAR_HOLE_COST)]
        if not offsets:
            margins.insert(0, (hole.roomy_margin_mm, 0.0))
        centres, price, tried, kind = [], [], [], []
        for (k, drill), (margin, near) in product(enumerate(drills), margins):
            # a little to spare, so that rounding does not refuse what fits
            away = (drill.diameter_mm / 2 + margin) * 1.02 + 0.02
            given = [(away * o, SQUARE_LEAD_COST) for o in offsets]
            for offset, extra in given or self._leads(spots, index, way, away, shallow):
                centres.append(spots.xy[index] + offset)
                lead = LEAD_COST_PER_MM * np.hypot(offset[:, 0], offset[:, 1])
                small = SMALL_DRILL_COST * (drill is not thick)
                price.append(cost + lead + extra + near + small)
                tried.append(np.arange(len(index)))
                kind.append(np.full(len(index), k))
        at, total = np.concatenate(centres), np.concatenate(price)
        which, size = np.concatenate(tried), np.concatenate(kind)
        radius = np.array([d.diameter_mm / 2 for d in drills])[size]
        good = np.flatnonzero(self._places.free_mm(contour, at) >= radius)
        blocked: tuple[int, int, int] | None = None
        left = LEADS_TRIED
        order = good[np.argsort(np.round(total[good], 9), kind="stable")]
        start, turn = index[which], way[which]
        leads = np.stack([at, spots.xy[start]], axis=1)
        for n, k in enumerate(order):
            if blocked is not None and total[k] >= OUT_OF_REACH_COST:
                break  # a line that clears weighs more than a lead that does
            if n % AT_ONCE == 0:
                some = order[n : n + AT_ONCE]
                clear = ways.leads_clear(leads[some], spots.arc[start[some]], turn[some])
            if self._places.free_mm(contour, at[k : k + 1], exact=True)[0] < radius[k]:
                continue
            j, w = int(start[k]), int(turn[k])
            if self._places.reaches(contour, spots.xy[j], spots.waste[j], at[k]):
                if clear[n % AT_ONCE]:
                    return _entry(contour, line, spots, j, w, at[k], drills[int(size[k])])
                blocked, left = blocked or (int(k), j, w), left - 1
                if not left:
                    break
        if blocked is None:
            return None
        k, j, w = blocked
        return _entry(contour, line, spots, j, w, at[k], drills[int(size[k])])

    def _leads(
        self, spots: Places, index: Indices, way: Indices, away: float, shallow: bool
    ) -> list[tuple[Floats, float]]:
        """Where a hole may lie from each start, (m, 2) each, with its extra cost.

        On a straight stretch behind the start, so that the blade merges into the line;
        at a point of the piece on the leaving line drawn backwards; in a corner of the
        waste on its bisector. Failing that square before the line; with ``shallow`` far
        behind the start as well, for boards that barely clear the frame.
        """
        waste, angle = spots.waste[index], spots.waste_deg[index]
        half = np.radians(np.minimum(angle, 180.0)) / 2
        square = waste * (away / np.maximum(np.sin(half), 0.05))[:, None]
        along = np.where((way == 0)[:, None], spots.leaving[index], -spots.arriving[index])
        slope = away / np.tan(np.radians(self._rules.start.merge_deg))
        merging = waste * away - along * slope
        smooth = np.where((angle == 180.0)[:, None], merging, square)
        smooth = np.where((angle > 225.0)[:, None], -along * away, smooth)
        leads = [(smooth, 0.0), (square, SQUARE_LEAD_COST)]
        if shallow:
            # nearly along the line: what clears on the line clears here as well
            slope = away / np.tan(np.radians(self._rules.start.merge_deg / 3))
            leads.append((waste * away - along * slope, SHALLOW_LEAD_COST))
        return leads

    # ------------------------------------------------------ the widest spot

    def _widest(self, contour: Contour, line: Line, spots: Places, ways: Ways) -> Entry:
        """A hole at the widest spot of tight waste, or one shared, or none that fits."""
        task, hole = self._task, self._rules.hole
        at, _ = widest_spot(task.rooms.of(contour))
        centre = np.array(at)
        spare = hole.margin_mm - hole.tight_margin_mm
        free = float(self._places.free_mm(contour, centre[None, :], exact=True)[0]) + spare
        drill = next((d for d in self._fits if d.diameter_mm / 2 <= free), None)
        if drill is not None:
            entry = self._from(contour, line, spots, ways, centre, drill)
            if entry is not None:
                return entry
        entry = self._round(contour, line, spots, ways) if self._fits else None
        if entry is not None:
            return entry
        if self._fits:
            self.findings.append(
                no_room(
                    contour, at, 2 * free, task.blade, task.blades, task.drills, hole, task.words
                )
            )
        j = int(np.argmin(np.hypot(*(spots.xy - centre).T)))
        return _entry(contour, line, spots, j, self._way(spots, j, ways), centre, None)

    def _round(self, contour: Contour, line: Line, spots: Places, ways: Ways) -> Entry | None:
        """A lead-in along the middle of narrow waste, from whichever hole is nearest."""
        radius = self._fits[0].diameter_mm / 2
        if self._detours is None:
            half_kerf, margin = self._task.blade.kerf_mm / 2, self._rules.hole.margin_mm
            self._detours = Detours(self._work, half_kerf, radius + margin + 0.03)
        cost = spots.cost + ways.allow(spots.arc)
        way = self._detours.way(contour, replace(spots, cost=cost), self._places, radius)
        if way is None:
            return None
        drill = min(self._fits, key=lambda d: abs(d.diameter_mm / 2 - way.radius_mm))
        way_there = self._way(spots, way.start, ways)
        entry = _entry(contour, line, spots, way.start, way_there, way.path[0], drill)
        lead = (*((float(x), float(y)) for x, y in way.path[:-1]), entry.start_mm)
        return replace(entry, lead_mm=lead, shares=way.shares)

    def _from(
        self, contour: Contour, line: Line, spots: Places, ways: Ways, centre: Floats,
        drill: Drill | None,
    ) -> Entry | None:  # fmt: skip
        """The best start that a given hole sees straight through waste."""
        apart = np.hypot(*(spots.xy - centre).T)
        cost = spots.cost + ways.allow(spots.arc) + FAR_COST_PER_MM * apart
        order = np.argsort(np.round(cost, 9), kind="stable")
        blocked: Entry | None = None
        for j in [*(int(k) for k in order[: 2 * TRIES]), int(np.argmin(apart))]:
            if blocked is not None and cost[j] >= OUT_OF_REACH_COST:
                break
            if self._places.reaches(contour, spots.xy[j], spots.waste[j], centre):
                way = self._way(spots, j, ways)
                entry = _entry(contour, line, spots, j, way, centre, drill)
                if _clears(entry, ways):
                    return entry
                blocked = blocked or entry
        return blocked

    def _way(self, spots: Places, j: int, ways: Ways) -> int:
        """The better direction from a start: 0 clockwise, 1 anticlockwise."""
        early = float(spots.early[j])
        return int(np.argmin(EARLY_COST * np.array([early, 1.0 - early]) + ways.cost))

    # ---------------------------------------------------------------- pins

    def _pinned(self, contour: Contour, line: Line, spots: Places, ways: Ways) -> Entry | None:
        """Start and go as the sawyer wants, or say why not."""
        pin = pin_for(contour, self._task.pins)
        if pin is None:
            return None
        say = self._task.words.say
        wished = None if pin.direction is None else DIRECTIONS.index(pin.direction)
        if wished is not None:
            if ways.cost[wished] > 0.0 and ways.cost[1 - wished] == 0.0:
                why = say(
                    "going {way} the board meets the saw's frame", way=say(DIRECTIONS[wished])
                )
                self._refuse(contour, pin, why)
                wished = None
            else:
                ways = ways.only(wished)
        if pin.start_mm is None:
            return self._beside(contour, line, spots, ways)
        arc = float(contour.ring.exterior.project(shapely.Point(pin.start_mm)))
        off = float(np.hypot(*(line.at(np.array([arc]))[0] - pin.start_mm)))
        if off > PIN_REACH_MM:
            self._refuse(contour, pin, say("it lies {off:.1f} mm from the line", off=off))
            return self._beside(contour, line, spots, ways)
        near = np.abs(np.mod(spots.arc - arc + line.length / 2, line.length) - line.length / 2)
        corner = (spots.waste_deg != 180.0) & (near <= PIN_SNAP_MM)
        nearest = int(np.argmin(np.where(corner, near, np.inf)))
        one = spots.only(nearest) if corner.any() else plain_place(line, contour, arc)
        if ways.allow(one.arc)[0] > 0.0:
            self._refuse(contour, pin, say("from there the two runs that the saw needs fail"))
            return self._beside(contour, line, spots, ways)
        index = np.zeros(1, dtype=np.intp)
        way = np.full(1, self._way(one, 0, ways), dtype=np.intp)
        zero = np.zeros(1)
        for offsets in ((), fan(one)):
            entry = self._first_fit(contour, line, one, ways, index, way, zero, offsets)
            if entry is not None:
                return entry
        self._refuse(contour, pin, say("no hole fits in the waste beside it"))
        return self._beside(contour, line, spots, ways)

    def _refuse(self, contour: Contour, pin: Pin, why: str) -> None:
        self.findings.append(refused(contour, pin, why, self._task.words))


def _lead_of(entry: Entry) -> tuple[Floats, float, int]:
    """Its lead-in, arc length of its start, and way, as :class:`Ways` asks for them."""
    return np.array(entry.lead_mm), entry.start_arc_mm, DIRECTIONS.index(entry.direction)


def _clears(entry: Entry, ways: Ways) -> bool:
    """Whether the board clears the frame from its hole to its line."""
    return ways.lead_clears(*_lead_of(entry))


def _entry(
    contour: Contour, line: Line, spots: Places, j: int, way: int, centre: Floats,
    drill: Drill | None,
) -> Entry:  # fmt: skip
    """One entry from candidate j, way 0 clockwise or 1 anticlockwise."""
    start = float(spots.arc[j])
    path = line.part(start, start + line.length)
    path[-1] = path[0]
    points = tuple((x, y) for x, y in (path if way == 0 else path[::-1]).tolist())
    hole = (float(centre[0]), float(centre[1]))
    return Entry(
        contour.index, hole, drill, (hole, points[0]), points[0], DIRECTIONS[way], points, start
    )
