"""Where a cut starts and ends, which way it goes, and how the blade gets there.

The rules kept (design 5.4): a start lies on a straight stretch or at a corner, where
its lip can be cleaned or does not show, with the piece thick behind it; the travel
takes delicate stretches early, while their waste is still firmly held, and ends where
the piece is sturdy; the board clears the throat. The sawyer's pins come first,
and one that cannot be kept is refused with its reason.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray

from companion.findings import Finding, Point
from companion.planner.contours import Contour, Rooms
from companion.planner.corners import Corner, corners
from companion.planner.holes import HolePlaces, fitting_drills, no_drill, no_room, widest_spot
from companion.planner.linework import Floats, Line, Linework
from companion.planner.plan import Direction
from companion.planner.reach import Reach, worst
from companion.planner.rules import Rules
from companion.shop.model import BladeSize, Drill
from companion.words.catalogue import ENGLISH, Words

PIN_REACH_MM = 2.0
"""A pin further than this from its line is a slip, not a wish."""
PIN_SNAP_MM = 1.0
"""A pin this near to a corner means the corner."""
TRIES = 32
"""Best starts, each with its direction, for which holes are sought."""

Places = NDArray[np.intp]

# What a start costs, relative to each other; a judgement, no source. The whole cost of a
# start on a tight curve (2) outweighs any gain by order (1.2) or thickness (1).
CURVE_COST, THIN_COST, EARLY_COST = 2.0, 1.0, 1.2
WASTE_CORNER_COST, TIP_CORNER_COST, SHARP_TIP_COST = -0.3, -0.1, 0.6
SMALL_DRILL_COST, SQUARE_LEAD_COST, LEAD_COST_PER_MM = 0.15, 0.1, 0.01
OUT_OF_REACH_COST = 10.0


@dataclass(frozen=True, slots=True)
class Pin:
    """What the sawyer decided about one cut."""

    start_mm: Point
    """On or near the line, board mm."""
    opening: int | None = None
    """Number of the opening; None pins a piece's outside cut."""
    piece: int | None = None
    """Number of the piece; only read when ``opening`` is None."""
    direction: Direction | None = None
    """None leaves it to the planner."""


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
    direction: Direction
    line_mm: tuple[Point, ...]
    """Closed, first = last = start, in travel order."""
    start_arc_mm: float
    """Arc length of the start on the contour's clockwise line."""


@dataclass(frozen=True, slots=True, eq=False)
class _Places:
    """Candidate starts on one line, (k,) and (k, 2) arrays, clockwise travel."""

    arc: Floats
    xy: Floats
    arriving: Floats
    leaving: Floats
    waste: Floats
    """Unit direction into the waste; at a corner its bisector."""
    waste_deg: Floats
    """180 on a straight stretch."""
    cost: Floats
    """Without direction and hole."""
    early: Floats
    """Share of the way at which delicate stretches are cut, clockwise, 0 to 1."""

    def only(self, j: int) -> _Places:
        """The candidate at one index alone."""
        return _Places(**{name: getattr(self, name)[j : j + 1] for name in _Places.__slots__})


def enter_all(
    work: Linework,
    rooms: Rooms,
    size_mm: tuple[float, float],
    blade: BladeSize,
    drills: Sequence[Drill],
    rules: Rules,
    thickness_mm: float,
    reach: Reach | None = None,
    pins: Sequence[Pin] = (),
    blades: Sequence[BladeSize] = (),
    words: Words = ENGLISH,
) -> tuple[tuple[Entry, ...], tuple[Finding, ...]]:
    """Find hole, lead-in, start and direction of every contour.

    Args:
        work: all lines.
        rooms: their waste.
        size_mm: width and height of the board.
        blade: the chosen one.
        drills: the sawyer's set.
        rules: of the skill level.
        thickness_mm: of one board.
        reach: of the saw; None leaves it out of account.
        pins: what the sawyer decided.
        blades: all the shop knows, to name one that would fit.
        words: the language of the findings.

    Returns:
        One entry per contour, by index, and what was found on the way.
    """
    fits = fitting_drills(blade, drills, rules.hole)
    findings: list[Finding] = []
    if not fits:
        findings.append(no_drill(blade, drills, rules.hole, words))
    places = HolePlaces(work, *size_mm, rules.hole)
    maker = _Enterer(work, rooms, places, blade, fits, rules, thickness_mm, reach, words)
    entries = []
    for contour in work.contours:
        pin = _pin_for(contour, pins)
        entry, notes = maker.enter(contour, pin)
        findings += notes
        if entry.drill is None and fits:
            at, radius = widest_spot(rooms.of(contour))
            findings.append(no_room(contour, at, radius, blade, blades, drills, rules.hole, words))
        entries.append(entry)
    return tuple(entries), tuple(findings)


def _pin_for(contour: Contour, pins: Sequence[Pin]) -> Pin | None:
    """The last pin that names this contour."""
    for pin in reversed(pins):
        if contour.opening is not None and pin.opening == contour.opening:
            return pin
        if contour.opening is None and pin.opening is None and pin.piece == contour.piece:
            return pin
    return None


class _Enterer:
    """Enters contours one after another; holes already placed are kept clear of."""

    def __init__(
        self, work: Linework, rooms: Rooms, places: HolePlaces, blade: BladeSize,
        fits: tuple[Drill, ...], rules: Rules, thickness_mm: float, reach: Reach | None,
        words: Words,
    ) -> None:  # fmt: skip
        self._work, self._rooms, self._places = work, rooms, places
        self._blade, self._fits, self._rules = blade, fits, rules
        self._thickness_mm, self._reach, self._words = thickness_mm, reach, words

    def enter(self, contour: Contour, pin: Pin | None) -> tuple[Entry, list[Finding]]:
        """One contour; the findings tell about a pin that was refused."""
        line = self._work.lines[contour.index]
        ways = self._ways(line)
        spots = self._candidates(contour, line)
        if pin is not None:
            entry, notes = self._pinned(contour, line, ways, pin)
            if entry is not None:
                return self._settle(contour, entry), notes
        else:
            notes = []
        entry = (
            self._beside(contour, line, spots, ways)
            or self._anywhere(contour, line, spots, ways)
            or self._widest(contour, line, spots, ways)
        )
        return self._settle(contour, entry), notes

    def _settle(self, contour: Contour, entry: Entry) -> Entry:
        if entry.drill is not None:
            self._places.take(contour, entry.hole_mm, entry.drill.diameter_mm / 2)
        return entry

    def _ways(self, line: Line) -> Floats:
        """Extra cost of going clockwise and anticlockwise: out of the saw's reach."""
        if self._reach is None:
            return np.zeros(2)
        limit = self._reach.throat_mm
        over = np.array(
            [worst(self._reach, line.xy)[0] - limit, worst(self._reach, line.xy[::-1])[0] - limit]
        )
        return np.where(over > 0.0, OUT_OF_REACH_COST + over / 1000.0, 0.0)

    def _candidates(self, contour: Contour, line: Line) -> _Places:
        """Evenly spaced places and corners, with what each costs by itself."""
        s = self._work.samples[contour.index]
        rules = self._rules
        chord = self._blade.width_mm * rules.turn.chord_widths
        found = corners(line, contour.side, chord, rules.turn.follow_deg)
        wanted = rules.start.thick_times * self._thickness_mm
        window = min(rules.start.window_mm, line.length / 10)
        bend = np.degrees(np.abs(line.bend(s.arc, window)))
        curve = CURVE_COST * np.clip((bend - rules.start.straight_deg) / 40.0, 0.0, 1.0)
        thick = np.minimum.reduce([np.roll(s.thick_mm, k) for k in (-2, -1, 0, 1, 2)])
        cost = curve + THIN_COST * np.clip(1.0 - thick / wanted, 0.0, 1.0)
        weight = np.clip(wanted / np.maximum(thick, 0.1) - 0.5, 0.0, 4.0)
        even = _Places(
            s.arc, s.xy, s.heading, s.heading, s.waste, np.full(len(s.arc), 180.0), cost,
            _lateness(s.arc, s.arc, weight, line.length),
        )  # fmt: skip
        if not found:
            return even
        sharp = self._corner_places(contour, line, found, wanted)
        early = _lateness(sharp.arc, s.arc, weight, line.length)
        columns = {
            name: np.concatenate([getattr(even, name), getattr(sharp, name)])
            for name in _Places.__slots__
            if name != "early"
        }
        return _Places(early=np.concatenate([even.early, early]), **columns)

    def _corner_places(
        self, contour: Contour, line: Line, found: Sequence[Corner], wanted_mm: float
    ) -> _Places:
        """The corners as starts."""
        s = self._work.samples[contour.index]
        arc = np.array([c.arc_mm for c in found])
        waste_deg = np.array([c.waste_deg for c in found])
        step = min(self._rules.start.window_mm / 2, line.length / 12)
        here, back, ahead = line.at(arc), line.at(arc - step), line.at(arc + step)
        arriving, leaving = _unit(here - back), _unit(ahead - here)
        inward = 1.0 if contour.side == "inside" else -1.0
        normal = arriving + leaving
        waste = _unit(np.stack([-normal[:, 1], normal[:, 0]], axis=1) * inward)
        thick = np.minimum.reduce(
            [
                np.interp(np.mod(arc + d, line.length), s.arc, s.thick_mm, period=line.length)
                for d in (-2 * step, 2 * step)
            ]
        )
        kind = np.where(
            waste_deg < 180.0, WASTE_CORNER_COST,
            np.where(waste_deg <= 300.0, TIP_CORNER_COST, SHARP_TIP_COST),
        )  # fmt: skip
        cost = kind + THIN_COST * np.clip(1.0 - thick / wanted_mm, 0.0, 1.0)
        return _Places(arc, here, arriving, leaving, waste, waste_deg, cost, np.zeros(len(arc)))

    def _beside(self, contour: Contour, line: Line, spots: _Places, ways: Floats) -> Entry | None:
        """The best start with a hole near it, of the TRIES best starts."""
        if not self._fits:
            return None
        cost = np.stack(
            [
                spots.cost + EARLY_COST * spots.early + ways[0],
                spots.cost + EARLY_COST * (1.0 - spots.early) + ways[1],
            ],
            axis=1,
        ).ravel()
        best = np.argsort(np.round(cost, 9), kind="stable")[:TRIES]
        return self._first_fit(contour, line, spots, best // 2, best % 2, cost[best])

    def _anywhere(self, contour: Contour, line: Line, spots: _Places, ways: Floats) -> Entry | None:
        """Any start that has a hole square before it."""
        if not self._fits:
            return None
        way = np.argmin(
            np.stack(
                [EARLY_COST * spots.early + ways[0], EARLY_COST * (1 - spots.early) + ways[1]]
            ),
            axis=0,
        )
        index = np.argsort(np.round(spots.cost, 9), kind="stable")
        return self._first_fit(
            contour, line, spots, index, way[index], spots.cost[index], square=True
        )

    def _first_fit(
        self,
        contour: Contour,
        line: Line,
        spots: _Places,
        index: Places,
        way: Places,
        cost: Floats,
        square: bool = False,
        offsets: Sequence[Floats] = (),
    ) -> Entry | None:
        """Try holes of each size beside each start, cheapest first."""
        drills = (
            [self._fits[0]]
            if square
            else list(dict.fromkeys(self._fits[::-1][:1] + self._fits[:1]))
        )
        centres, price, which, size = [], [], [], []
        for k, drill in enumerate(drills):
            away = (drill.diameter_mm / 2 + self._rules.hole.margin_mm) * 1.02 + 0.02
            given = [(away * o, SQUARE_LEAD_COST) for o in offsets]
            for offset, extra in given or self._offsets(spots, index, way, away, square):
                lead = np.hypot(offset[:, 0], offset[:, 1])
                centres.append(spots.xy[index] + offset)
                small = SMALL_DRILL_COST * (drill is not self._fits[-1])
                price.append(cost + small + extra + LEAD_COST_PER_MM * lead)
                which.append(np.arange(len(index)))
                size.append(np.full(len(index), k))
        at, total = np.concatenate(centres), np.concatenate(price)
        tried, kind = np.concatenate(which), np.concatenate(size)
        radius = np.array([d.diameter_mm / 2 for d in drills])[kind]
        good = np.flatnonzero(self._places.free_mm(contour, at) >= radius)
        for k in good[np.argsort(np.round(total[good], 9), kind="stable")]:
            j = int(index[tried[k]])
            if self._places.free_mm(contour, at[k : k + 1], exact=True)[0] < radius[k]:
                continue
            if self._places.reaches(spots.xy[j], spots.waste[j], at[k]):
                clockwise = int(way[tried[k]]) == 0
                return _entry(contour, line, spots, j, clockwise, at[k], drills[int(kind[k])])
        return None

    def _offsets(
        self,
        spots: _Places,
        index: Places,
        way: Places,
        away: float,
        square: bool,
    ) -> list[tuple[Floats, float]]:
        """Where a hole may lie from each start, (k, 2) each, with its extra cost."""
        waste = spots.waste[index]
        half = np.radians(np.minimum(spots.waste_deg[index], 180.0)) / 2
        deep = away / np.maximum(np.sin(half), 0.05)
        straight_in = waste * deep[:, None]
        if square:
            return [(straight_in, SQUARE_LEAD_COST), (straight_in * 1.5, SQUARE_LEAD_COST)]
        along = np.where((way == 0)[:, None], spots.leaving[index], -spots.arriving[index])
        merge = np.radians(self._rules.start.merge_deg)
        slope = waste * away - along * (away / np.tan(merge))
        plain = spots.waste_deg[index] == 180.0
        tip = spots.waste_deg[index] > 225.0
        smooth = np.where(plain[:, None], slope, straight_in)
        smooth = np.where(tip[:, None], -along * away, smooth)
        return [(smooth, 0.0), (smooth * 1.6, 0.0), (straight_in, SQUARE_LEAD_COST)]

    def _widest(self, contour: Contour, line: Line, spots: _Places, ways: Floats) -> Entry:
        """A hole at the widest spot, from where a straight lead comes to the line."""
        at, radius = widest_spot(self._rooms.of(contour))
        centre = np.array(at)
        free = float(self._places.free_mm(contour, centre[None, :], exact=True)[0])
        drill = next((d for d in self._fits if d.diameter_mm / 2 <= free), None)
        apart = np.hypot(*(spots.xy - centre).T)
        order = np.argsort(np.round(spots.cost + 0.05 * apart, 9), kind="stable")
        nearest = int(np.argmin(apart))
        for j in [*(int(k) for k in order[:TRIES]), nearest]:
            if self._places.reaches(spots.xy[j], spots.waste[j], centre):
                break
        else:
            j, drill = nearest, None
        early = float(spots.early[j])
        clockwise = EARLY_COST * early + ways[0] <= EARLY_COST * (1 - early) + ways[1]
        return _entry(contour, line, spots, j, bool(clockwise), centre, drill)

    def _pinned(
        self, contour: Contour, line: Line, ways: Floats, pin: Pin
    ) -> tuple[Entry | None, list[Finding]]:
        """Start where the sawyer wants it, or say why not."""
        say, notes = self._words.say, []
        arc = contour.ring.exterior.project(shapely.Point(pin.start_mm))
        spot = line.at(np.array([arc]))
        off = float(np.hypot(*(spot[0] - pin.start_mm)))
        if off > PIN_REACH_MM:
            why = say("it lies {off:.1f} mm from the line", off=off)
            return None, [self._refused(contour, pin, why)]
        spots = self._candidates(contour, line)
        near = np.abs(np.mod(spots.arc - arc + line.length / 2, line.length) - line.length / 2)
        corner = (spots.waste_deg != 180.0) & (near <= PIN_SNAP_MM)
        if corner.any():
            j = int(np.argmin(np.where(corner, near, np.inf)))
            one = spots.only(j)
        else:
            one = self._plain_place(contour, line, float(arc))
        cost = EARLY_COST * np.array([one.early[0], 1.0 - one.early[0]]) + ways
        way = int(np.argmin(cost))
        if pin.direction is not None:
            wished = 0 if pin.direction == "clockwise" else 1
            if ways[wished] > 0.0 and ways[1 - wished] == 0.0:
                why = say("going {way} the board meets the saw's frame", way=say(pin.direction))
                notes.append(self._refused(contour, pin, why))
            else:
                way = wished
        index, zero = np.zeros(1, dtype=np.intp), np.zeros(1)
        ways_ = np.full(1, way, dtype=np.intp)
        if self._fits:
            entry = self._first_fit(contour, line, one, index, ways_, zero) or self._first_fit(
                contour, line, one, index, ways_, zero, offsets=_fan(one)
            )
            if entry is not None:
                return entry, notes
        why = say("no hole fits in the waste beside it")
        return None, [self._refused(contour, pin, why)]

    def _plain_place(self, contour: Contour, line: Line, arc: float) -> _Places:
        """One place of the line as a start, taken as straight."""
        at = np.array([arc])
        heading = line.tangent(at, min(0.4, line.length / 12))
        inward = 1.0 if contour.side == "inside" else -1.0
        waste = np.stack([-heading[:, 1], heading[:, 0]], axis=1) * inward
        zero = np.zeros(1)
        return _Places(
            at, line.at(at), heading, heading, waste, np.array([180.0]), zero, zero + 0.5
        )

    def _refused(self, contour: Contour, pin: Pin, why: str) -> Finding:
        say = self._words.say
        what = (
            say("the start of opening {n}", n=contour.opening)
            if contour.opening is not None
            else say("the start of piece {n}", n=contour.piece)
        )
        return Finding(
            "pin-refused", "warn", pin.start_mm,
            say("Your pin for {what} is not kept: {why}.", what=what, why=why),
            say("Move the pin or take it out of project.toml."),
        )  # fmt: skip


def _fan(one: _Places) -> list[Floats]:
    """Directions and distances at which a pinned start looks for a hole, in steps of 1."""
    n, t = one.waste, np.stack([-one.waste[:, 1], one.waste[:, 0]], axis=1)
    turned = [n * np.cos(b) + t * np.sin(b) for b in np.radians(range(-75, 76, 15))]
    return [d * far for far in (1.0, 1.5, 2.0, 3.0, 4.0, 6.0, 8.0) for d in turned]


def _unit(v: Floats) -> Floats:
    size = np.hypot(v[:, 0], v[:, 1])[:, None]
    return np.asarray(v / np.where(size > 1e-12, size, 1.0), dtype=np.float64)


def _lateness(starts: Floats, arc: Floats, weight: Floats, length: float) -> Floats:
    """How late delicate stretches come when the cut runs clockwise from each start.

    Args:
        starts: arc lengths of the starts (k,).
        arc: ascending places on the line (n,).
        weight: how delicate each is (n,).
        length: of the line.

    Returns:
        Weighted mean share of the way, 0 at once to 1 at the very end (k,); 0.5 when
        nothing is delicate. Anticlockwise it is one minus this.
    """
    total = float(weight.sum())
    if total <= 0.0:
        return np.full(len(starts), 0.5)
    before = np.concatenate([[0.0], np.cumsum(weight)])[np.searchsorted(arc, starts - 1e-9)]
    mean = float((weight * arc).sum()) / total
    return np.asarray((mean - starts) / length + before / total, dtype=np.float64)


def _entry(
    contour: Contour, line: Line, spots: _Places, j: int, clockwise: bool, centre: Floats,
    drill: Drill | None,
) -> Entry:  # fmt: skip
    start = float(spots.arc[j])
    path = line.part(start, start + line.length)
    path[-1] = path[0]
    if not clockwise:
        path = path[::-1]
    points = tuple((float(x), float(y)) for x, y in path)
    hole = (float(centre[0]), float(centre[1]))
    return Entry(
        contour.index, hole, drill, (hole, points[0]), points[0],
        "clockwise" if clockwise else "anticlockwise", points, start,
    )  # fmt: skip
