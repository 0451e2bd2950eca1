"""Places the cut numbers: no label covers a line, a hole, a mark or another label.

A raster of the sheet holds what must stay visible; its running sums tell in one
look-up whether a box is free, so the time grows with the length of the lines and
the number of labels, not with their product. Each number first seeks a place
beside its hole, in its own waste, then beside it across the line, then smaller,
and at last farther off with a leader line, outside the board if need be. The letter
of a finding is read from the list and sought on the board: it stands as large as the
others out of the crowd rather than small in it. A label without a leader always lies
nearer to its own hole than to any other.
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass
from typing import TYPE_CHECKING

from companion.draw import marks
from companion.draw.raster import Raster
from companion.draw.scene import Disc, Label, Line, Note, Role, Scene
from companion.findings import Point

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]
    Flags = NDArray[np.bool_]

SIZES_MM = (3.6, 3.0, 2.5, 2.1, 1.8)
"""Em sizes tried in turn, 10 pt down to 5 pt."""
LEADER_MOST_MM = 60.0
"""A longer leader line is no longer followed by the eye; the key pages take over."""
LEADER_SIZE_MM = 2.1
NOTE_LEAST_MM = 3.0
"""A finding's letter is smaller only where not even a leader finds it room."""
NOTE_LEADER_MM = 30.0
"""Longest leader for the sake of a letter's size."""
PAD_MM = 0.2
"""Clear room around the letters."""
DIGIT_EM = 0.556
"""Advance of a digit in Helvetica and the faces made to its measure (its AFM file)."""
CAPITAL_EM = 0.722
"""Widest advance counted for a capital letter (Helvetica A, C, D, N, U...)."""
HEIGHT_EM = 0.74
"""Height of digits and capitals with their overshoot (Helvetica AFM: 0.703 to 0.737)."""
BESIDE_MM = (0.15, 0.6, 1.1, 1.6, 2.2, 3.0)
"""Gaps between a hole's cross and a label beside it."""
CLEARER = 1.15
"""A label without a leader is at least so many times nearer to its own hole than to another."""
ANGLES = 16
MOST_LEADERS = 60
"""Leader lines weighed in one ring of places."""
NOTE_CLEAR_MM = 0.4
OUTSIDE_MM = 18.0
"""How far beyond the board a number may go, on paper only."""


@dataclass(frozen=True, slots=True)
class Wanted:
    """A label that seeks its place."""

    role: Role
    text: str
    at_mm: Point
    clear_mm: float
    """Radius around ``at_mm`` that is taken: the hole with its cross."""
    cut: int | None
    centred: bool = False
    """Whether the label may stand on the place itself."""


def box_mm(text: str, size_mm: float) -> tuple[float, float]:
    """Room a label needs, with its padding.

    >>> [round(v, 2) for v in box_mm("12", 3.0)]
    [3.74, 2.62]
    """
    em = sum(DIGIT_EM if c.isdigit() else CAPITAL_EM for c in text)
    return em * size_mm + 2 * PAD_MM, HEIGHT_EM * size_mm + 2 * PAD_MM


def with_numbers(scene: Scene) -> tuple[Scene, tuple[str, ...]]:
    """Place all cut numbers and note letters.

    Args:
        scene: as built, without numbers and without hatch.

    Returns:
        The scene with labels and leader lines, and the words that found no place:
        the sheet shows those on its enlarged key pages.
    """
    wanted = [
        Wanted("number", str(d.cut), d.at_mm, d.radius_mm + marks.CROSS_BEYOND_MM, d.cut)
        for d in scene.discs
        if d.role in ("hole", "to-size") and d.cut is not None
    ]
    holed = {w.cut for w in wanted}
    # a cut for which no hole was found bears its number at its start
    wanted += [
        Wanted("number", str(line.cut), line.points_mm[0], NOTE_CLEAR_MM, line.cut)
        for line in scene.of("piece-line")
        if line.cut is not None and line.cut not in holed
    ]
    wanted += [_wanted_note(n, scene.discs) for n in scene.notes]
    wanted += [
        Wanted(n.role, n.text, n.at_mm, n.clear_mm, n.cut, centred=n.clear_mm == 0.0)
        for n in scene.names
    ]
    return place_labels(scene, wanted)


def _wanted_note(note: Note, holes: tuple[Disc, ...]) -> Wanted:
    """A note's letter; beside the hole when the note's place is that hole."""
    for hole in holes:
        if math.dist(hole.at_mm, note.at_mm) < hole.radius_mm + NOTE_CLEAR_MM:
            clear = hole.radius_mm + marks.CROSS_BEYOND_MM
            return Wanted("note", note.letter, hole.at_mm, clear, None)
    return Wanted("note", note.letter, note.at_mm, NOTE_CLEAR_MM, None)


def place_labels(scene: Scene, wanted: list[Wanted]) -> tuple[Scene, tuple[str, ...]]:
    """Place any labels on a scene; see :func:`with_numbers`."""
    if not wanted:
        return scene, ()
    return _Placer(scene, wanted).run()


class _Placer:
    """One run of the placing; its rasters fill as labels find their places."""

    def __init__(self, scene: Scene, wanted: list[Wanted]) -> None:
        self.scene = scene
        self.wanted = wanted
        self.labels: dict[int, Label] = {}
        self.leaders: list[Line] = []
        size = (scene.width_mm, scene.height_mm)
        self.seen = Raster(size, OUTSIDE_MM)
        """All that a label must not cover."""
        self.lines = Raster(size, OUTSIDE_MM)
        """Pattern lines alone: to tell a hole's own region, and to spare leaders crossings."""
        self.shut = Raster(size, OUTSIDE_MM)
        """What a leader must not cross: holes and labels."""
        rings = [marks.ring(d.at_mm, d.radius_mm) for d in scene.discs]
        self.seen.draw(*(ln.points_mm for ln in scene.lines if ln.role != "hatch"), *rings)
        self.lines.draw(*(line.points_mm for line in scene.of("piece-line")))
        for disc in scene.discs:
            self.shut.fill(disc.at_mm, (2 * disc.radius_mm, 2 * disc.radius_mm))
        self.near = _neighbours([w.at_mm for w in wanted])

    def run(self) -> tuple[Scene, tuple[str, ...]]:
        every = range(len(self.wanted))
        # taken once: what later labels take is asked of the raster itself
        sums = self.seen.sums()
        names = [i for i in every if self.wanted[i].role == "piece"]
        # the names of pieces come last: they may stand anywhere in their wood
        left = self._sized([i for i in every if self.wanted[i].role != "piece"], sums)
        left += self._sized(names, sums)
        lost = [i for i in sorted(left) if not self._out_of_the_crowd(i, sums)]
        labels = [self.labels[i] for i in sorted(self.labels)]
        return self.scene.add(self.leaders, labels), tuple(self.wanted[i].text for i in lost)

    def _sized(self, left: list[int], sums: NDArray[np.int32]) -> list[int]:
        """Place labels beside what they name, large before small; those without room."""
        for own_region in (True, False):
            for k, size in enumerate(SIZES_MM):
                # a piece's name rather stands small in its wood than large beside it
                some = [i for i in left if own_region and self.wanted[i].role == "piece"]
                todo = left if k < 3 or not own_region else some
                if size < NOTE_LEAST_MM:
                    todo = [i for i in todo if self.wanted[i].role != "note"]
                missed = self._beside(todo, size, own_region, sums)
                left = sorted({*left} - {*todo} | {*missed})
        return left

    def _beside(
        self, todo: list[int], size: float, own_region: bool, sums: NDArray[np.int32]
    ) -> list[int]:
        """Try to place labels of one size without a leader; those with least choice first."""
        choice: list[tuple[int, int, Floats]] = []
        missed: list[int] = []
        for i in todo:
            box = box_mm(self.wanted[i].text, size)
            centres = self._around(i, box)
            free = self._clear(i, centres[self.seen.free(sums, centres, box)], box, own_region)
            if len(free):
                choice.append((len(free), i, free))
            else:
                missed.append(i)
        for _, i, centres in sorted(choice, key=lambda c: (c[0], c[1])):
            box = box_mm(self.wanted[i].text, size)
            for x, y in centres.tolist():
                if self.seen.box_is_free((x, y), box):
                    self._put(i, (x, y), size, box)
                    break
            else:
                missed.append(i)
        return sorted(missed)

    def _around(self, i: int, box: tuple[float, float]) -> Floats:
        """Box centres around a hole, nearest first."""
        import numpy as np

        want = self.wanted[i]
        angle = (np.arange(ANGLES) * (2 * math.pi / ANGLES))[None, :]
        gap = np.array(BESIDE_MM)[:, None]
        cos, sin = np.cos(angle), np.sin(angle)
        # distance from the centre of the box to its edge along the angle
        with np.errstate(divide="ignore"):
            edge = np.minimum(box[0] / 2 / np.abs(cos), box[1] / 2 / np.abs(sin))
        reach = want.clear_mm + gap + edge
        around = np.column_stack(
            [(want.at_mm[0] + reach * cos).ravel(), (want.at_mm[1] + reach * sin).ravel()]
        )
        return np.vstack([np.array([want.at_mm]), around]) if want.centred else around

    def _clear(self, i: int, centres: Floats, box: tuple[float, float], own_region: bool) -> Floats:
        """Those centres that leave no doubt which hole is meant."""
        if len(centres):
            centres = centres[self._nearest_is_own(i, centres, box)]
        if own_region and len(centres):
            hits = self.lines.hits_along(self.wanted[i].at_mm, centres)
            centres = centres[hits == 0]
        return centres

    def _nearest_is_own(self, i: int, centres: Floats, box: tuple[float, float]) -> Flags:
        """Whether a box at each centre lies nearer to its own hole than to others."""
        import numpy as np

        rivals = [
            self.wanted[j].at_mm for j in self.near[i] if self.wanted[j].role == self.wanted[i].role
        ]
        holes = np.array([self.wanted[i].at_mm, *rivals])
        dx = np.abs(centres[:, 0, None] - holes[:, 0]) - box[0] / 2
        dy = np.abs(centres[:, 1, None] - holes[:, 1]) - box[1] / 2
        away = np.hypot(np.maximum(dx, 0.0), np.maximum(dy, 0.0))
        fine: Flags = (away[:, 1:] > CLEARER * away[:, :1] + 0.3).all(axis=1)
        return fine

    def _out_of_the_crowd(self, i: int, sums: NDArray[np.int32]) -> bool:
        """Place what found no room beside its place."""
        if self.wanted[i].role == "note":
            if self._far(i, sums, NOTE_LEAST_MM, NOTE_LEADER_MM):
                return True
            for size in SIZES_MM:
                if size < NOTE_LEAST_MM and not self._beside([i], size, False, sums):
                    return True
        return self._far(i, sums, LEADER_SIZE_MM, LEADER_MOST_MM)

    def _far(self, i: int, sums: NDArray[np.int32], size: float, most_mm: float) -> bool:
        """Place a label away from its hole, with a leader line; rings of growing distance."""
        import numpy as np

        want = self.wanted[i]
        box = box_mm(want.text, size)
        reach = want.clear_mm + 2.5
        while reach * 1.32 < most_mm:
            count = max(24, min(240, int(2 * math.pi * reach / 1.5)))
            angle = np.arange(count) * (2 * math.pi / count)
            rings = reach * np.array([1.0, 1.15, 1.32])[:, None]
            centres = np.column_stack(
                [
                    (want.at_mm[0] + rings * np.cos(angle)).ravel(),
                    (want.at_mm[1] + rings * np.sin(angle)).ravel(),
                ]
            )
            centres = centres[self.seen.free(sums, centres, box)]
            centres = centres[:: max(1, math.ceil(len(centres) / MOST_LEADERS))]
            place = self._best_leader(want, centres, box)
            if place is not None:
                end = _box_edge(place, box, want.at_mm)
                start = _towards(want.at_mm, end, want.clear_mm)
                self._put(i, place, size, box)
                self.leaders.append(Line("leader", (start, end), want.cut))
                self.seen.draw((start, end))
                return True
            reach *= 1.5
        return False

    def _best_leader(self, want: Wanted, centres: Floats, box: tuple[float, float]) -> Point | None:
        """The nearest centre whose leader crosses few lines and no hole or label."""
        import numpy as np

        if not len(centres):
            return None
        way = centres - np.array(want.at_mm)
        away = np.hypot(way[:, 0], way[:, 1])
        from_mm = np.array(want.at_mm) + way * ((want.clear_mm) / away)[:, None]
        crossings = self.lines.runs_between(from_mm, centres)
        shut = self.shut.runs_between(from_mm, centres)
        cost = away + 3.0 * crossings
        for k in np.argsort(cost, kind="stable").tolist():
            place = (float(centres[k, 0]), float(centres[k, 1]))
            if not shut[k] and self.seen.box_is_free(place, box):
                return place
        return None

    def _put(self, i: int, at: Point, size: float, box: tuple[float, float]) -> None:
        want = self.wanted[i]
        self.labels[i] = Label(want.role, at, want.text, size, box, want.cut, want.at_mm)
        self.seen.fill(at, box)
        self.shut.fill(at, box)


def _neighbours(places: list[Point], within_mm: float = 16.0) -> list[list[int]]:
    """For each place the others within a distance, by buckets."""
    buckets: dict[tuple[int, int], list[int]] = {}
    for i, (x, y) in enumerate(places):
        buckets.setdefault((int(x // within_mm), int(y // within_mm)), []).append(i)
    found = []
    for i, (x, y) in enumerate(places):
        bx, by = int(x // within_mm), int(y // within_mm)
        around: Iterable[int] = (
            j
            for gx in (bx - 1, bx, bx + 1)
            for gy in (by - 1, by, by + 1)
            for j in buckets.get((gx, gy), ())
        )
        found.append([j for j in around if j != i and math.dist(places[j], (x, y)) < within_mm])
    return found


def _box_edge(centre: Point, box: tuple[float, float], towards: Point) -> Point:
    """Where the way from a box's centre to a place leaves the box."""
    dx, dy = towards[0] - centre[0], towards[1] - centre[1]
    t = min(
        box[0] / 2 / abs(dx) if dx else math.inf,
        box[1] / 2 / abs(dy) if dy else math.inf,
    )
    return centre[0] + t * dx, centre[1] + t * dy


def _towards(start: Point, end: Point, by_mm: float) -> Point:
    """The point ``by_mm`` on the way from start to end."""
    d = math.dist(start, end) or 1.0
    t = min(1.0, by_mm / d)
    return start[0] + t * (end[0] - start[0]), start[1] + t * (end[1] - start[1])
