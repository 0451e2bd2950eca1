"""Where a pattern is weak, told before the first hole is drilled.

Puts together what the geometry modules find: necks with thickness and snap force,
slots and corners the blade cannot follow, parts that come free, board and saw.
Thresholds and severities come from the shop's tables, never from here.
All places are in pattern mm; whoever makes the plan shifts them onto the board.
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Collection, Iterable
from dataclasses import dataclass

import numpy as np

from companion.findings import SAME_PLACE_MM, SEVERITY_ORDER, Finding, Point, in_order
from companion.pattern.model import Pattern, Piece
from companion.pattern.options import Shaded
from companion.planner import parts, slots
from companion.planner.axis import Axis, medial_axis
from companion.planner.necks import valleys
from companion.planner.network import network
from companion.planner.outline import Floats
from companion.planner.plan import Neck, neck_name
from companion.planner.section import Board
from companion.planner.snap import RINGS_SOLVED, Snap, bridge_snaps, ring_snaps
from companion.shop import tables
from companion.shop.model import BladeSize, Limit, Material, SawProfile
from companion.units import inch
from companion.words import ENGLISH, Words

A_TOUCH_N = 0.01
"""Below the weight of a gram no figure helps."""
FULL = 0.98
"""From this share of the most that a mend makes, a neck counts as being that thick already."""


@dataclass(frozen=True, slots=True)
class ThicknessMap:
    """Thickness of a piece, stroke by stroke along its middle."""

    piece: int
    strokes_mm: tuple[Floats, ...]
    """Places along each branch of the axis, shape (n, 2), mm."""
    thickness_mm: tuple[Floats, ...]
    """Thickness at each of them, mm."""
    middle_mm: Point
    """Where the piece is thickest."""
    most_mm: float
    """Thickness there."""


@dataclass(frozen=True, slots=True)
class WeakResult:
    """What was found."""

    necks: tuple[Neck, ...]
    """Weakest first: by force, those without a force after them by thickness; pattern mm."""
    findings: tuple[Finding, ...]
    """In order of severity; pattern mm."""
    maps: tuple[ThicknessMap, ...]
    """One for each piece, for the picture."""
    corners: tuple[slots.Narrow, ...] = ()
    """Inside corners tighter than the blade is steered; pattern mm."""
    told: tuple[int, ...] = ()
    """Numbers of the necks that have a finding of their own, ascending."""

    def weakest(self, most: int) -> list[tuple[int, Neck]]:
        """The weakest necks with their numbers, one a place, as the findings tell them.

        Of those told first; sturdy ones follow only where fewer are told.

        Args:
            most: so many at most.
        """
        numbered = {n: (n, neck) for n, neck in enumerate(self.necks, 1)}
        chosen = [numbered[n] for n in self.told][:most]
        for one in numbered.values():
            if len(chosen) < most and _apart(one[1], [neck for _, neck in chosen]):
                chosen.append(one)
        return sorted(chosen)


def _apart(neck: Neck, others: Iterable[Neck]) -> bool:
    return all(math.dist(neck.at_mm, other.at_mm) >= SAME_PLACE_MM for other in others)


def _setting(key: str) -> float:
    return tables.number("weak", key)


def thickness_map(piece: Piece, axis: Axis | None = None) -> ThicknessMap:
    """Thickness everywhere in a piece.

    Args:
        piece: the piece.
        axis: its medial axis if it is known already.
    """
    axis = axis or medial_axis(piece.shape)
    thickest = int(np.argmax(axis.thickness))
    return ThicknessMap(
        piece.number,
        tuple(axis.xy[b.nodes] for b in axis.branches),
        tuple(axis.thickness[b.nodes] for b in axis.branches),
        (float(axis.xy[thickest, 0]), float(axis.xy[thickest, 1])),
        float(axis.thickness[thickest]),
    )


def piece_necks(
    piece: Piece, axis: Axis, material: Material, thickness_mm: float
) -> tuple[Neck, ...]:
    """Necks of one piece, weakest first.

    Args:
        piece: the piece.
        axis: its medial axis.
        material: of the board.
        thickness_mm: of one board.
    """
    return in_weakness(neck for neck, _ in _piece_necks(piece, axis, material, thickness_mm))


def _piece_necks(
    piece: Piece, axis: Axis, material: Material, thickness_mm: float
) -> list[tuple[Neck, bool]]:
    """The necks of one piece, each with whether it breaks across the board."""
    if not axis.branches:
        return []
    net = network(axis)
    board = Board(material, thickness_mm, _setting("beam.shear_ratio"))
    found = valleys(net, _setting("neck.tip_mm"))
    snaps: list[Snap] = [
        snap for v in found if v.span.bridge for snap in bridge_snaps(net, v, board)
    ]
    snaps += ring_snaps(net, [v for v in found if not v.span.bridge], board)
    return [
        (
            Neck(
                (float(axis.xy[s.node, 0]), float(axis.xy[s.node, 1])),
                float(axis.thickness[s.node]),
                s.force_n,
                piece.number,
            ),
            s.across_board,
        )
        for s in snaps
    ]


def in_weakness(necks: Iterable[Neck]) -> tuple[Neck, ...]:
    """Weakest first; those without a force follow, thinnest first."""
    return tuple(
        sorted(
            necks,
            key=lambda n: (
                math.inf if n.force_n is None else n.force_n, n.thickness_mm, n.piece, n.at_mm,
            ),
        )
    )  # fmt: skip


def _between_cuts(axis: Axis, at: Point) -> bool:
    """Whether the two walls beside a neck belong to different cuts."""
    away = axis.outline.xy - np.array(at)
    gap = np.hypot(away[:, 0], away[:, 1])
    near = int(np.argmin(gap))
    opposite = away @ away[near] < 0.0
    if not opposite.any():
        return False
    far = int(np.argmin(np.where(opposite, gap, np.inf)))
    return bool(axis.outline.ring[near] != axis.outline.ring[far])


def _verdict(neck: Neck, board_mm: float, between: bool) -> Limit | None:
    """The gravest table row that a neck falls under; None if it is sturdy."""
    lost = tables.limit("cuts-merge" if between else "neck-lost")
    rules: list[tuple[str, float | None, float]] = [
        (lost.code, neck.thickness_mm, 1.0),
        ("neck-very-weak", neck.force_n, 1.0),
        ("neck-fragile", neck.thickness_mm, board_mm),
        ("neck-weak", neck.force_n, 1.0),
        ("neck-thin", neck.thickness_mm, board_mm),
    ]
    hit = [
        tables.limit(code) for code, value, scale in rules
        if value is not None and value < tables.limit(code).value * scale
    ]  # fmt: skip
    return min(hit, key=lambda row: SEVERITY_ORDER[row.severity]) if hit else None


def _neck_finding(
    number: int, neck: Neck, row: Limit, board_mm: float, words: Words, near: int, across: bool
) -> Finding:
    """What is told of a neck.

    Args:
        number: among all necks.
        neck: the neck.
        row: the limit it falls under.
        board_mm: thickness of the board.
        words: the language.
        near: weak necks at the same place that are not told one by one.
        across: whether it breaks across the board.
    """
    if neck.force_n is not None and neck.force_n < A_TOUCH_N:
        text = words.say(
            "Neck {name} is {thick} mm thick in {board} mm board: a touch breaks it.",
            name=neck_name(number), thick=f"{neck.thickness_mm:.2f}", board=f"{board_mm:g}",
        )  # fmt: skip
    elif neck.force_n is None:
        text = words.say(
            "Neck {name} is {thick} mm thick in {board} mm board; it is too short and stout to say "
            "which push breaks it, or stronger than the {n} weakest.",
            name=neck_name(number), thick=f"{neck.thickness_mm:.2f}", board=f"{board_mm:g}",
            n=RINGS_SOLVED,
        )  # fmt: skip
    else:
        text = words.say(
            "Neck {name} is {thick} mm thick in {board} mm board: a sideways push of {force} N, "
            "the weight of {weight}, breaks it.",
            name=neck_name(number), thick=f"{neck.thickness_mm:.2f}", board=f"{board_mm:g}",
            force=f"{neck.force_n:.2g}" if neck.force_n < 10 else f"{neck.force_n:.0f}",
            weight=words.weight(neck.force_n),
        )  # fmt: skip
    if near:
        text += " " + words.count(
            "And {n} more weak place within {near} mm of it.",
            "And {n} more weak places within {near} mm of it.", near, near=f"{SAME_PLACE_MM:g}",
        )  # fmt: skip
    if row.severity == "note":
        why = words.say("It is narrower than the board is thick, but holds.")
        remedy = words.say("Nothing needs doing: press beside it, not on it, and sand it last.")
    else:
        why = (
            words.say("It will not survive the saw.")
            if row.severity == "stop"
            else words.say("It may go at the saw, in sanding or in the hand.")
        )
        remedy = _thicken_remedy(row, neck, board_mm, words, across)
    return Finding(row.code, row.severity, neck.at_mm, f"{text} {why}", remedy, neck.thickness_mm)


def as_thick_as_may_be(neck: Neck, board_mm: float) -> bool:
    """Whether no mend makes a neck thicker than it is.

    >>> [as_thick_as_may_be(Neck((0.0, 0.0), t, 1.0, 1), 5.0) for t in (1.2, 5.03)]
    [False, True]
    """
    return neck.thickness_mm > FULL * board_mm * _setting("thicken.most_share")


def thickening_holds(neck: Neck, wanted_n: float, board_mm: float, across: bool) -> bool:
    """Whether a neck can bear a force without growing thicker than a mend makes it.

    In the plane strength grows with the square of the thickness, across the board with
    the thickness itself, as in `snap.needed_thickness`. On words of thin strokes, 236 necks,
    this was right about what the mend then reached but for 5 that need 1.02 to 1.12 boards.

    >>> weak = Neck((0.0, 0.0), 2.0, 2.0, 1)
    >>> [thickening_holds(weak, 5.0, 4.0, across) for across in (False, True)]
    [True, False]
    """
    if neck.force_n is None or neck.force_n <= 0.0:
        return True
    needed = neck.thickness_mm * math.pow(wanted_n / neck.force_n, 1.0 if across else 0.5)
    return FULL * needed <= board_mm * _setting("thicken.most_share")


def _thicken_remedy(
    row: Limit, neck: Neck, board_mm: float, words: Words, across: bool = False
) -> str:
    """What writes the pattern in which this is not found again; where nothing can, what helps.

    >>> thin, thick = (Neck((0.0, 0.0), t, 1.0, 1) for t in (1.2, 6.0))
    >>> _thicken_remedy(tables.limit("neck-weak"), thin, 6.0, ENGLISH)
    'Thicken it: check with --hold 5.5N, or more, writes the pattern that holds.'
    >>> _thicken_remedy(tables.limit("neck-fragile"), thin, 6.0, ENGLISH)
    'Thicken it: check with --thicken 2.2mm, or more, writes the pattern that holds.'
    >>> _thicken_remedy(tables.limit("neck-weak"), thick, 6.0, ENGLISH)[:19]
    'No mend helps here:'
    >>> _thicken_remedy(tables.limit("neck-weak"), thin, 6.0, ENGLISH, across=True)[:41]
    'Thickening alone does not do it here: it '
    """
    if as_thick_as_may_be(neck, board_mm):
        return words.say(
            "No mend helps here: it is as thick as the board already. Enlarge the drawing, take "
            "thicker or stronger board, shorten what hangs from there, or leave it off."
        )
    # a little over the limit, or a neck just at it is told again
    wanted_n = 1.1 * tables.limit("neck-weak").value
    # a neck that is too thin may be too weak besides: made as thick as is asked it is told again
    weak = neck.force_n is not None and neck.force_n < tables.limit("neck-weak").value
    if weak and not thickening_holds(neck, wanted_n, board_mm, across):
        return words.say(
            "Thickening alone does not do it here: it would have to be thicker than the board. "
            "Enlarge the drawing, take thicker or stronger board, shorten what hangs from "
            "there, or tie it to its neighbour."
        )
    if row.code in ("neck-weak", "neck-very-weak"):
        return words.say(
            "Thicken it: check with --hold {force}N, or more, writes the pattern that holds.",
            force=f"{wanted_n:g}",
        )
    least = max(tables.limit("neck-fragile").value * board_mm, tables.limit("neck-lost").value)
    # as it is typed, in the unit that the sawyer thinks in
    width = f"{math.ceil(10.0 * least + 0.5) / 10.0:g}mm"
    if words.inch:
        width = f"{math.ceil(100.0 * inch(least) + 0.2) / 100.0:g}in"
    return words.say(
        "Thicken it: check with --thicken {width}, or more, writes the pattern that holds.",
        width=width,
    )


def _neck_findings(
    necks: tuple[Neck, ...], across: Collection[Neck], axes: dict[int, Axis], board_mm: float,
    words: Words,
) -> tuple[list[Finding], tuple[int, ...]]:  # fmt: skip
    """One finding for each of the weakest places, one that counts the necks at others.

    Of necks at one place, as where two outlines all but meet, only the weakest is told,
    with how many are meant.

    Returns:
        The findings, and the numbers of the necks told one by one.
    """
    judged: list[tuple[int, Neck, Limit]] = []
    merge = max(tables.limit("cuts-merge").value, tables.limit("neck-lost").value)
    for number, neck in enumerate(necks, 1):
        close = neck.thickness_mm < merge
        row = _verdict(neck, board_mm, close and _between_cuts(axes[neck.piece], neck.at_mm))
        if row is not None:
            judged.append((number, neck, row))
    judged.sort(key=lambda found: SEVERITY_ORDER[found[2].severity])
    apart: list[tuple[int, Neck, Limit]] = []
    near: Counter[int] = Counter()
    for one in judged:
        at = next((n for n, other, _ in apart if not _apart(one[1], [other])), None)
        if at is None:
            apart.append(one)
        elif one[2].severity != "note":
            near[at] += 1
    told = int(_setting("neck.told"))
    found = [
        _neck_finding(n, neck, row, board_mm, words, near[n], neck in across)
        for n, neck, row in apart[:told]
    ]
    if rest := apart[told:]:
        found.append(_rest_finding(rest, across, board_mm, words))
    return found, tuple(sorted(number for number, _, _ in apart[:told]))


def _rest_finding(
    rest: list[tuple[int, Neck, Limit]], across: Collection[Neck], board_mm: float, words: Words
) -> Finding:
    """One finding for all necks beyond those told one by one, as grave as the gravest."""
    gravest = rest[0][2]
    thinnest = min((neck for _, neck, _ in rest), key=lambda neck: neck.thickness_mm)
    thick = f"{thinnest.thickness_mm:.2f}"
    if gravest.severity == "note":
        text = words.count(
            "{n} more neck is narrower than the board is thick, but holds; the thinnest is {thick} "
            "mm.",
            "{n} more necks are narrower than the board is thick, but hold; the thinnest is "
            "{thick} mm.",
            len(rest), thick=thick,
        )  # fmt: skip
        remedy = ""
    else:
        text = words.count(
            "{n} more neck is weak; the thinnest is {thick} mm.",
            "{n} more necks are weak; the thinnest is {thick} mm.", len(rest), thick=thick,
        )  # fmt: skip
        # the thinnest tells whether a mend can do anything for them
        remedy = _thicken_remedy(gravest, thinnest, board_mm, words, thinnest in across)
    return Finding(
        "necks-more", gravest.severity, thinnest.at_mm, text, remedy, thinnest.thickness_mm
    )


def weak_places(
    pattern: Pattern,
    material: Material,
    thickness_mm: float,
    blade: BladeSize,
    *,
    stack: int = 1,
    board_mm: tuple[float, float] | None = None,
    place_mm: Point = (0.0, 0.0),
    saw: SawProfile | None = None,
    shaded: Shaded = "piece",
    words: Words = ENGLISH,
    drilled: Collection[int] = (),
) -> WeakResult:
    """Look for everything that may break, jam, drop or not fit.

    Args:
        pattern: what was read.
        material: of the board.
        thickness_mm: of one board.
        blade: the chosen blade.
        stack: boards cut at once.
        board_mm: width and height of the board; None skips what depends on it.
        place_mm: where the pattern's origin lies on the board.
        saw: None skips what depends on it.
        shaded: how the pattern was read.
        words: the language of the findings.
        drilled: numbers of the openings that are drilled to size: no blade enters them.
    """
    axes = {piece.number: medial_axis(piece.shape) for piece in pattern.pieces}
    broken = [
        one
        for piece in pattern.pieces
        for one in _piece_necks(piece, axes[piece.number], material, thickness_mm)
    ]
    necks = in_weakness(neck for neck, _ in broken)
    across = {neck for neck, out_of_plane in broken if out_of_plane}
    found, named = _neck_findings(necks, across, axes, thickness_mm, words)
    narrow, corners = slots.findings(pattern, blade, words, drilled)
    found += narrow
    found += parts.findings(pattern, shaded, words)
    if board_mm is not None:
        found += parts.board_findings(pattern, board_mm, place_mm, words)
    if saw is not None:
        found += parts.saw_findings(
            pattern, thickness_mm * stack, saw, board_mm, place_mm, blade, words
        )
    maps = tuple(thickness_map(piece, axes[piece.number]) for piece in pattern.pieces)
    return WeakResult(necks, in_order(found), maps, corners, named)
