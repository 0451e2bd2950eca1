"""One scene in millimetres, painted by many: terminal cells, PDF, SVG.

The scene is made of a plan alone and says what stands where, never how thick or
which colour: that is the painters' affair (companion.draw.pens for paper). It
holds no text but the letters of notes; cut numbers are added by
companion.draw.labels, hatching by companion.draw.hatch, since both cost time
that the saw screen does not have. Nothing heavy is imported here.

Places are board millimetres, origin at the board's top left, y down.
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass, replace
from typing import Literal

from companion.draw import marks
from companion.draw.trimmed import trim_cuts
from companion.findings import Point, lettered
from companion.planner.plan import Cut, Plan

Role = Literal[
    "board", "trim", "corner", "piece-line", "lead", "waste", "kept", "hatch", "hole",
    "hole-cross", "to-size", "number", "leader", "start", "meet", "arrow", "turn-spin",
    "turn-back-out", "turn-loop", "neck", "hold", "fastener", "note", "bar", "piece",
]  # fmt: skip
"""What a primitive stands for."""

MOST_NOTES = 26


@dataclass(frozen=True, slots=True)
class Line:
    """A polyline."""

    role: Role
    points_mm: tuple[Point, ...]
    """At least two; a closed line repeats its first point at the end."""
    cut: int | None = None
    """Number of the cut it belongs to; None when it belongs to none."""

    @property
    def closed(self) -> bool:
        """Whether it ends where it starts."""
        return self.points_mm[0] == self.points_mm[-1]


@dataclass(frozen=True, slots=True)
class Disc:
    """A circle."""

    role: Role
    at_mm: Point
    """Centre."""
    radius_mm: float
    cut: int | None = None
    """Its cut's number, or that of the opening it makes to size."""


@dataclass(frozen=True, slots=True)
class Area:
    """A region by the even-odd rule over its rings."""

    role: Role
    rings_mm: tuple[tuple[Point, ...], ...]
    """Closed rings, outermost first."""
    cut: int | None = None
    """The cut that frees it; None for the frame of the board."""


@dataclass(frozen=True, slots=True)
class Label:
    """A word on the sheet, upright, centred."""

    role: Role
    at_mm: Point
    """Centre of its box."""
    text: str
    size_mm: float
    """Em size of the letters."""
    box_mm: tuple[float, float]
    """Width and height of the box that must stay free."""
    cut: int | None = None
    anchor_mm: Point | None = None
    """What it names: the hole's centre; None when it names its own place."""


@dataclass(frozen=True, slots=True)
class Note:
    """A place to mind, told by a letter on the sheet and a sentence in the list."""

    letter: str
    at_mm: Point
    text: str
    """What was found there."""
    remedies: tuple[str, ...] = ()
    """What to do about it."""


@dataclass(frozen=True, slots=True)
class Name:
    """A word that seeks its place, beside what it names or on it."""

    role: Role
    text: str
    at_mm: Point
    clear_mm: float = 0.0
    """Radius around the place that is taken; 0: the word may stand on it."""
    cut: int | None = None


@dataclass(frozen=True, slots=True)
class Scene:
    """All that is drawn of one plan."""

    width_mm: float
    """Of the board."""
    height_mm: float
    areas: tuple[Area, ...] = ()
    """Waste by cut, the frame first."""
    lines: tuple[Line, ...] = ()
    discs: tuple[Disc, ...] = ()
    labels: tuple[Label, ...] = ()
    notes: tuple[Note, ...] = ()
    names: tuple[Name, ...] = ()
    """Of pieces and holding places, where there are several."""
    mirrored: bool = False
    """Left and right exchanged, for a sheet glued to the board's back."""

    def of(self, *roles: Role) -> list[Line]:
        """The lines that bear one of these roles, in drawing order."""
        return [line for line in self.lines if line.role in roles]

    def add(
        self, lines: Iterable[Line] = (), labels: Iterable[Label] = (), areas: Iterable[Area] = ()
    ) -> Scene:
        """The scene with more in it."""
        return replace(
            self,
            lines=(*self.lines, *lines),
            labels=(*self.labels, *labels),
            areas=(*self.areas, *areas),
        )

    @property
    def bounds_mm(self) -> tuple[float, float, float, float]:
        """Least box of the board, its lines and its labels: x min, y min, x max, y max."""
        return self._box([0.0, self.width_mm], [0.0, self.height_mm], self.lines)

    @property
    def work_mm(self) -> tuple[float, float, float, float]:
        """The same without the board's own edges: all that has to lie in its place on the wood."""
        return self._box([], [], [x for x in self.lines if x.role not in ("board", "corner")])

    def _box(
        self, xs: list[float], ys: list[float], lines: Iterable[Line]
    ) -> tuple[float, float, float, float]:
        for line in lines:
            xs += [p[0] for p in line.points_mm]
            ys += [p[1] for p in line.points_mm]
        for label in self.labels:
            (x, y), (w, h) = label.at_mm, label.box_mm
            xs += [x - w / 2, x + w / 2]
            ys += [y - h / 2, y + h / 2]
        return min(xs), min(ys), max(xs), max(ys)


def mirror_plan(plan: Plan) -> Plan:
    """The plan as seen from the board's back: x runs the other way.

    >>> from companion.planner.plan import EMPTY
    >>> mirror_plan(EMPTY) == EMPTY
    True
    """
    width = plan.board.width_mm

    def flip(p: Point) -> Point:
        return (width - p[0], p[1])

    def flips(points: tuple[Point, ...]) -> tuple[Point, ...]:
        return tuple(flip(p) for p in points)

    return replace(
        plan,
        holes=tuple(replace(h, at_mm=flip(h.at_mm)) for h in plan.holes),
        to_size=tuple(replace(h, at_mm=flip(h.at_mm)) for h in plan.to_size),
        cuts=tuple(
            replace(
                c,
                start_mm=flip(c.start_mm),
                direction="anticlockwise" if c.direction == "clockwise" else "clockwise",
                line_mm=flips(c.line_mm),
                lead_mm=flips(c.lead_mm),
                hold_mm=flips(c.hold_mm),
                turns=tuple(replace(t, at_mm=flip(t.at_mm)) for t in c.turns),
            )
            for c in plan.cuts
        ),
        findings=tuple(
            replace(f, at_mm=None if f.at_mm is None else flip(f.at_mm)) for f in plan.findings
        ),
        necks=tuple(replace(n, at_mm=flip(n.at_mm)) for n in plan.necks),
        fasteners_mm=flips(plan.fasteners_mm),
        trim_mm=flips(plan.trim_mm),
    )


def build_scene(plan: Plan, mirror: bool = False) -> Scene:
    """Draw a plan: board, waste, lines, holes and marks; numbers and hatch come later.

    Args:
        plan: what to draw.
        mirror: exchange left and right, for gluing to the back.

    Returns:
        The scene; equal plans give equal scenes.
    """
    seen = mirror_plan(plan) if mirror else plan
    width, height = seen.board.width_mm, seen.board.height_mm
    lines: list[Line] = [
        Line("board", marks.box(0.0, 0.0, width, height)),
        Line("corner", marks.corner(width if mirror else 0.0, mirror)),
    ]
    lines += [Line("trim", cut) for cut in trim_cuts(width, height, seen.trim_mm)]
    for cut in seen.cuts:
        lines += _cut_lines(cut)
    for hole in seen.holes:
        lines += [
            Line("hole-cross", p, hole.cut) for p in marks.cross(hole.at_mm, hole.drill_mm / 2)
        ]
    for sized in seen.to_size:
        lines += [Line("hole-cross", p, sized.number) for p in marks.cross_of(sized)]
        lines.append(Line("to-size", marks.ring_around(sized), sized.number))
    contours = [*(c.line_mm for c in seen.cuts), *map(marks.edge, seen.to_size)]
    necks = [(n.at_mm, n.thickness_mm) for n in marks.thin_necks(seen)]
    lines += [Line("neck", p) for mark in marks.pinches(necks, contours) for p in mark]
    for place in seen.fasteners_mm:
        lines += [Line("fastener", p) for p in marks.screw(place)]
    notes = notes_of(seen)[:MOST_NOTES]
    return Scene(
        width_mm=width,
        height_mm=height,
        areas=_waste(seen),
        lines=tuple(lines),
        discs=(
            *(Disc("hole", h.at_mm, h.drill_mm / 2, h.cut) for h in seen.holes),
            *(Disc("to-size", h.at_mm, h.drill_mm / 2, h.number) for h in seen.to_size),
        ),
        notes=notes,
        names=_names(seen),
        mirrored=mirror,
    )


def piece_name(piece: int) -> str:
    """The mark of a piece, on the sheet and on the screen; the number is the plan's."""
    return f"P{piece}"


def _names(plan: Plan) -> tuple[Name, ...]:
    """Names of the pieces, and the cuts to whose end a place is held, if there are several."""
    found = []
    if plan.pieces > 1:
        for cut in plan.cuts:
            if cut.side == "outside":
                inside = [c for c in plan.cuts if c.within == cut.number]
                drilled = [h for h in plan.to_size if h.within == cut.number]
                at = marks.inner_place(cut, inside, drilled)
                found.append(Name("piece", piece_name(cut.piece), at, cut=cut.number))
    holding = [cut for cut in plan.cuts if cut.hold_mm]
    if len(holding) > 1:
        for cut in holding:
            half = marks.HOLD_HALF_MM * max(marks.mark_scale(cut), 0.35)
            found += [
                Name("hold", str(cut.number), at, half * math.sqrt(2), cut.number)
                for at in cut.hold_mm
            ]
    return tuple(found)


def _cut_lines(cut: Cut) -> list[Line]:
    """The pattern line of one cut and the marks that belong to it."""
    n = cut.number
    found = [Line("piece-line", cut.line_mm, n)]
    if len(cut.lead_mm) > 1:
        found.append(Line("lead", cut.lead_mm, n))
    scale = marks.mark_scale(cut)
    waste_right = marks.waste_on_right(cut)
    found.append(Line("start", marks.start_bar(cut, waste_right, scale), n))
    found += [Line("arrow", p, n) for p in marks.travel_arrow(cut, waste_right, scale)]
    if cut.meet_along_mm is not None:
        back = replace(cut, line_mm=cut.line_mm[::-1])
        found += [Line("arrow", p, n) for p in marks.travel_arrow(back, not waste_right, scale)]
        found += [Line("meet", p, n) for p in marks.meet_bars(cut, waste_right, scale)]
    for turn, radius in zip(cut.turns, marks.turn_radii(cut, scale), strict=True):
        role = marks.TURN_ROLES[turn.technique]
        found += [Line(role, p, n) for p in marks.TURN_SHAPES[turn.technique](turn.at_mm, radius)]
    for place in cut.hold_mm:
        found += [Line("hold", p, n) for p in marks.brackets(place, scale)]
    return found


def _waste(plan: Plan) -> tuple[Area, ...]:
    """The frame and every opening, each as an even-odd area.

    An area ends at the lines directly inside it: what those enclose is not its waste.
    """
    if not plan.cuts:
        return ()
    line = {c.number: c.line_mm for c in plan.cuts}
    inside: dict[int | None, list[int]] = {}
    for c in plan.cuts:
        inside.setdefault(c.within, []).append(c.number)
    frame = marks.box(0.0, 0.0, plan.board.width_mm, plan.board.height_mm)
    areas = [Area("waste", (frame, *(line[n] for n in inside.get(None, []))))]
    for c in plan.cuts:
        if c.side == "inside":
            rings = (c.line_mm, *(line[n] for n in inside.get(c.number, [])))
            areas.append(Area("waste", rings, c.number))
    return tuple(areas)


def notes_of(plan: Plan) -> tuple[Note, ...]:
    """Findings with a place that the sawyer must mind at the board; the first are drawn.

    Notes come last, so that the letters here are those of the lists and of the picture.
    """
    minded = [f for f in plan.findings if f.severity != "note"]
    return tuple(
        Note(
            name,
            at,
            " ".join(dict.fromkeys(f.text for f in found)),
            tuple(dict.fromkeys(f.remedy for f in found if f.remedy)),
        )
        for name, at, found in lettered(minded)
    )
