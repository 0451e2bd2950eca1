"""Which ways the saw's frame lets a contour be run, and whether a lead-in to it clears.

The rule kept (design 5.4): a direction that brings the board against the frame costs more
than any other wish; where both do, two runs from one hole serve if any place does; and the
work must clear on its way from the hole to the line as well.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from companion.planner.linework import Bools, Floats, Indices, Line, unit
from companion.planner.reach import Reach, lead_behind, leads_behind, two_runs, worst

OUT_OF_REACH_COST = 10.0


@dataclass(frozen=True, slots=True, eq=False)
class Ways:
    """The two directions of one contour: 0 clockwise, 1 anticlockwise."""

    line: Line
    """The contour's, walked clockwise."""
    cost: Floats
    """Extra cost of each (2,): out of the saw's reach."""
    reach: Reach | None = None
    """Of the saw with the board; None: the frame is nowhere near this line."""
    worst: tuple[float, tuple[float, float]] = (0.0, (0.0, 0.0))
    """Furthest reach behind the blade in the better direction, mm, and where."""
    start: tuple[float, float] | None = None
    """Arc lengths between which two runs may start; None: one run."""
    meet: tuple[float, float] | None = None
    """Arc lengths between which they may meet."""

    @property
    def stuck(self) -> bool:
        """Whether neither direction clears as a single run."""
        return self.start is not None or bool(self.cost.all())

    def only(self, way: int) -> Ways:
        """The same, with the other direction out of the question."""
        return replace(self, cost=self.cost + (np.arange(2) != way) * 2 * OUT_OF_REACH_COST)

    def allow(self, arc: Floats) -> Floats:
        """Extra cost of starts where two runs do not serve: (k,)."""
        if self.start is None:
            return np.zeros(len(arc))
        inside = np.mod(arc - self.start[0], self.line.length)
        return np.where(inside <= self.start[1] - self.start[0] + 1e-6, 0.0, OUT_OF_REACH_COST)

    def lead_behind(self, lead: Floats, arc: float, way: int) -> float:
        """Furthest reach behind the blade on a lead-in and into the line, mm.

        Args:
            lead: from the hole to the start (n, 2).
            arc: arc length of the start.
            way: direction of the run; with two runs, of the first.

        Returns:
            0 where the frame is nowhere near.
        """
        return lead_behind(self.reach, lead, self._onward(arc, way)) if self.reach else 0.0

    def lead_clears(self, lead: Floats, arc: float, way: int) -> bool:
        """Whether the work clears the frame from the hole to the line.

        Always so when the line itself does not clear: that is told, not the lead.
        """
        if self._lead_is_free(lead):
            return True
        assert self.reach is not None
        return self.lead_behind(lead, arc, way) <= self.reach.throat_mm

    def leads_clear(self, leads: Floats, arc: Floats, way: Indices) -> Bools:
        """The same for many straight lead-ins: (m,).

        Args:
            leads: hole and start of each (m, 2, 2).
            arc: arc length of each start (m,).
            way: direction of each run (m,).
        """
        if self.reach is None or self._lead_is_free(leads.reshape(-1, 2)):
            return np.ones(len(leads), dtype=np.bool_)
        pairs = list(zip(arc.tolist(), way.tolist(), strict=True))
        known = {pair: self._onward(*pair) for pair in set(pairs)}
        behind = leads_behind(self.reach, leads, np.array([known[pair] for pair in pairs]))
        return np.asarray(behind <= self.reach.throat_mm)

    def _lead_is_free(self, places: Floats) -> bool:
        """Whether nothing has to be asked about leads through these places (n, 2)."""
        if self.reach is None or (self.start is None and self.cost.all()):
            return True
        # where no heading meets the frame, none has to be looked at
        return self.reach.never_meets(places)

    def _onward(self, arc: float, way: int) -> Floats:
        """Unit headings from a start: of the run, or of both (1 or 2, 2)."""
        at, before, after = self.line.around(arc)
        first, second = (after, before) if way == 0 else (before, after)
        return unit(np.stack([first - at, second - at])[: 2 if self.start else 1])


def ways_of(reach: Reach | None, line: Line) -> Ways:
    """Which directions the saw allows, and where two runs may start."""
    if reach is None or reach.never_meets(line.xy):
        return Ways(line, np.zeros(2))
    found = [worst(reach, path, closed=True) for path in (line.xy, line.xy[::-1])]
    over = np.array([behind for behind, _ in found]) - reach.throat_mm
    cost = np.where(over > 0.0, OUT_OF_REACH_COST + over / 1000.0, 0.0)
    if (over > 0.0).all():
        split = two_runs(reach, line)
        if split is not None:
            return Ways(line, np.array([0.0, OUT_OF_REACH_COST]), reach, min(found), *split)
    return Ways(line, cost, reach, min(found))
