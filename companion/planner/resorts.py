"""What to do about a cut whose board meets the saw's frame in both directions.

The order kept (design 5.4): two runs from one hole first, for they ask nothing of
board or blade; then a trim of the board's corners or edges that leaves every piece
its frame; then a blade turned by 90 degrees for the stretches that do not clear; then
a spiral blade, which needs no turning of the board at all. When nothing helps, that
is said, and the cut must not be begun on this saw.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from typing import Literal, cast

import numpy as np
import shapely
from shapely.geometry import Polygon
from shapely.geometry.base import BaseGeometry

from companion.findings import Finding, Point, Severity
from companion.pattern.overlay import intersection
from companion.planner.contours import Contour
from companion.planner.linework import Floats, Line, unit
from companion.planner.numbers import cut_of
from companion.planner.plan import BladeWay, Cut
from companion.planner.reach import Reach, back_out_behind, lead_behind, stretches, worst
from companion.planner.trims import Trim, described, trim, trim_words
from companion.shop.tables import spiral_blade
from companion.words.catalogue import Words

MOST_NAMED = 6
"""Cuts named in one finding; the rest are counted."""

Kind = Literal["two-runs", "trim", "turned-blade", "spiral", "none"]
Sideways = Literal["left", "right"]
"""Where the teeth of a turned blade point, seen from the stool."""
Toward = Literal[
    "bottom edge", "right edge", "top edge", "left edge", "bottom right corner",
    "top right corner", "top left corner", "bottom left corner",
]  # fmt: skip
"""What of the board, as the sheet lies, points to the sawyer."""


def turned_blade(reach: Reach, path: Floats) -> float | None:
    """Length to be cut with the blade turned by 90 degrees, so that all clears; mm.

    Swings do not count: the blade is turned where the heading changes, the board stays.
    None when some stretch clears neither straight nor turned to one and the same side.
    """
    plain = stretches(reach, path, closed=True, swings=False)
    stuck = plain.behind_mm > reach.throat_mm
    for side in (90.0, -90.0):
        turned = stretches(reach, path, closed=True, turned_deg=side, swings=False)
        if (turned.behind_mm[stuck] <= reach.throat_mm).all():
            size = np.hypot(*(plain.end[stuck] - plain.start[stuck]).T)
            return float(size.sum())
    return None


def turned_throughout(reach: Reach, path: Floats) -> Sideways | None:
    """The side to which the teeth point when a whole path clears with the blade turned.

    Args:
        reach: of the saw with the board.
        path: lead-in and line in travel order, swings and all (n, 2).
    """
    # turned by +90 degrees the cut runs to the sawyer's right
    sides: tuple[tuple[float, Sideways], ...] = ((90.0, "right"), (-90.0, "left"))
    for angle, side in sides:
        turned = stretches(reach, path, closed=False, turned_deg=angle)
        if (turned.behind_mm <= reach.throat_mm).all():
            return side
    return None


def spiral(reach: Reach, path: Floats) -> Toward | None:
    """What of the board points to the sawyer when a path clears without turning it.

    Edges are tried before corners. None when the board meets the frame in all eight.

    Args:
        reach: of the saw with the board.
        path: lead-in and line (n, 2).
    """
    for turn, name in ((0, "bottom edge"), (2, "right edge"), (4, "top edge"), (6, "left edge"),
                       (1, "bottom right corner"), (3, "top right corner"),
                       (5, "top left corner"), (7, "bottom left corner")):  # fmt: skip
        angle = np.pi / 2 - turn * np.pi / 4
        heading = np.repeat(np.array([[np.cos(angle), np.sin(angle)]]), len(path), axis=0)
        if (reach.behind(path, heading) <= reach.throat_mm).all():
            return cast("Toward", name)
    return None


@dataclass(frozen=True, slots=True)
class Resort:
    """How one cut that clears in neither direction is made all the same."""

    kind: Kind
    name: str
    """Of the contour, in words."""
    behind_mm: float
    """How far the board reaches behind the blade in the better direction."""
    at_mm: Point
    """Where it does, or where two runs meet."""
    remedy: str
    trim: Trim | None = None
    """What is sawn off the board beforehand."""
    teeth: Sideways | None = None
    """Where the teeth of the turned blade point."""
    toward: Toward | None = None
    """How the board is held throughout, with a spiral blade."""


@dataclass(frozen=True, slots=True, eq=False)
class Stuck:
    """A cut that clears in neither direction."""

    contour: Contour
    line: Line
    way: Floats
    """Its line in the direction that is planned (n, 2)."""
    lead: Floats
    """From its hole to its start (m, 2)."""
    drill_mm: float
    """Diameter of its hole."""
    split_at: Point | None
    """Where two runs from one hole meet; None when they do not serve."""
    worst: tuple[float, Point]
    """Furthest reach behind the blade in the better direction, mm, and where."""


def resort(reach: Reach, stuck: Stuck, keep: BaseGeometry, words: Words) -> Resort:
    """The gentlest way to make a cut that clears in neither direction.

    Args:
        reach: of the saw with the board.
        stuck: the cut.
        keep: pieces and holes with their frame, which no trim may touch.
        words: the language.
    """
    plain = Resort("none", name_of(stuck.contour, words), *stuck.worst, "")
    return _with_remedy(plain, reach, stuck, keep, words)


def vein_resort(
    reach: Reach, lead: Floats, out: Floats, drill_mm: float, name: str, words: Words
) -> Resort | None:
    """What is done about a vein whose way out meets the frame; None when it clears.

    Args:
        reach: of the saw with the board.
        lead: from the hole to its first place (m, 2).
        out: its line, one way (n, 2); the blade comes back in its own kerf.
        drill_mm: diameter of its hole.
        name: of its cut, in words.
        words: the language.
    """
    behind, at = worst(reach, out, closed=False)
    if behind <= reach.throat_mm:
        return None
    plain = Resort("none", name, behind, at, "")
    deeper = words.say("Use a saw with a deeper throat, a smaller board or a smaller pattern.")
    path = np.concatenate([lead, out[1:]])
    return _turned_or_spiral(plain, reach, path, drill_mm, words) or replace(plain, remedy=deeper)


def trimmed(reach: Reach, resorts: Iterable[Resort | None]) -> Polygon | None:
    """The board after all trims; None when there is none."""
    boards = [r.trim.board for r in resorts if r is not None and r.trim is not None]
    if not boards:
        return None
    left = Polygon(reach.corners_mm)
    for board in boards:
        both = intersection(left, board)
        # each keeps the pieces, so they meet in one convex board
        left = both if isinstance(both, Polygon) else left
    return left


def reach_after(reach: Reach, board: Polygon | None) -> Reach:
    """The reach with a trimmed board."""
    if board is None:
        return reach
    return Reach(shapely.get_coordinates(board.exterior)[:-1], reach.throat_mm)


def in_one_trim(
    reach: Reach, stuck: Sequence[Stuck], resorts: Sequence[Resort], words: Words
) -> list[Resort]:
    """The same, with the trims of all cuts put together: a board is trimmed once.

    A cut that the trims of others let clear needs nothing else.
    """
    board = trimmed(reach, resorts)
    if board is None:
        return list(resorts)
    whole = described(Polygon(reach.corners_mm), board)
    remedy = words.say("Before cutting, trim {what}.", what=trim_words(whole, words))
    after = reach_after(reach, board)
    return [
        replace(r, kind="trim", trim=whole, remedy=remedy, teeth=None, toward=None)
        if r.trim is not None or (r.kind != "two-runs" and _clears(after, s))
        else r
        for r, s in zip(resorts, stuck, strict=True)
    ]


def _clears(reach: Reach, stuck: Stuck) -> bool:
    """Whether a cut clears in the planned direction, its lead-in too."""
    most = reach.throat_mm + 1e-6
    onward = unit(stuck.way[1:2] - stuck.way[:1])
    line = worst(reach, stuck.way, closed=True)[0]
    return line <= most and lead_behind(reach, stuck.lead, onward) <= most


def blade_way(found: Resort | None) -> BladeWay:
    """How the blade is set for a cut."""
    if found is None:
        return ""
    return "spiral" if found.kind == "spiral" else found.teeth or ""


def told(resorts: Sequence[Resort], reach: Reach, words: Words) -> list[Finding]:
    """One finding for each remedy, naming the cuts it serves, the worst first."""
    groups: dict[tuple[Kind, str], list[Resort]] = defaultdict(list)
    for r in resorts:
        groups[r.kind, r.remedy].append(r)
    findings = []
    for (kind, remedy), group in groups.items():
        group.sort(key=lambda r: -r.behind_mm)
        names = ", ".join(r.name for r in group[:MOST_NAMED])
        if len(group) > MOST_NAMED:
            names += words.count(" and {n} more", " and {n} more", len(group) - MOST_NAMED)
        text = words.say(
            "The board reaches {behind:.0f} mm behind the blade, the saw allows {throat:.0f}:"
            " {names}.",
            names=names, behind=group[0].behind_mm, throat=reach.throat_mm,
        )  # fmt: skip
        severity: Severity = "stop" if kind == "none" else "warn"
        code = "reach" if kind == "none" else f"reach-{kind}"
        over = group[0].behind_mm - reach.throat_mm
        findings.append(Finding(code, severity, group[0].at_mm, text, remedy, over))
    return findings


def name_of(contour: Contour, words: Words) -> str:
    """A contour in words, as findings name it."""
    return words.say("cut {n}", n=cut_of(contour))


def lead_blocked(
    contour: Contour, hole: Point, behind_mm: float, reach: Reach, words: Words
) -> Finding:
    """The finding for a line that clears, but not the way to it from any hole."""
    return Finding(
        "reach-lead", "stop", hole,
        words.say(
            "From the hole to the line the board reaches {behind:.0f} mm behind the blade, the"
            " saw allows {throat:.0f}: {names}.",
            behind=behind_mm, throat=reach.throat_mm, names=name_of(contour, words),
        ),
        words.say("Trim the board, make it smaller, or use a saw with a deeper throat."),
        behind_mm - reach.throat_mm,
    )  # fmt: skip


def back_outs_blocked(cut: Cut, reach: Reach, far_mm: float, words: Words) -> list[Finding]:
    """The finding for corners that the frame lets nobody take from their other side.

    Args:
        cut: with its turns.
        reach: of the saw with the board.
        far_mm: how far beyond a corner its second approach begins.
        words: the language.
    """
    turns = [t for t in cut.turns if t.technique == "back-out"]
    path = np.array(cut.line_mm)
    if not turns or reach.never_meets(path):
        return []
    step = np.hypot(*np.diff(path, axis=0).T)
    along = np.concatenate([[0.0], np.cumsum(step)])
    arc = np.array([t.along_mm for t in turns])

    def place(at: Floats) -> Floats:
        return np.stack([np.interp(at, along, path[:, k]) for k in (0, 1)], axis=1)

    at = place(arc)
    before, after = unit(at - place(arc - far_mm)), unit(place(arc + far_mm) - at)
    if cut.meet_along_mm is not None:
        # the second run comes to these from the other end
        later = (arc > cut.meet_along_mm)[:, None]
        before, after = np.where(later, -after, before), np.where(later, -before, after)
    turned = {"right": 90.0, "left": -90.0}.get(cut.blade, 0.0)
    behind = back_out_behind(reach, at, before, after, far_mm, turned)
    over = np.flatnonzero(behind > reach.throat_mm)
    if not len(over):
        return []
    k = int(over[np.argmax(behind[over])])
    return [Finding(
        "reach-back-out", "warn", turns[k].at_mm,
        words.count(
            "In cut {cut} the board meets the frame when {n} corner is taken from its other side.",
            "In cut {cut} the board meets the frame when {n} corners are taken from their other"
            " side.",
            len(over), cut=cut.number,
        ),
        words.say("Draw back there, widen the kerf in the waste, and turn the work on the spot."),
        float(behind[k]) - reach.throat_mm,
    )]  # fmt: skip


def _with_remedy(
    plain: Resort, reach: Reach, stuck: Stuck, keep: BaseGeometry, words: Words
) -> Resort:
    """The first remedy of the order that serves."""
    say = words.say
    if stuck.split_at is not None:
        return replace(
            plain, kind="two-runs", at_mm=stuck.split_at,
            remedy=say(
                "Cut it in two runs from the same hole: first the planned way to the marked place,"
                " then from the start the other way until the kerfs meet."
            ),
        )  # fmt: skip
    cut_off = trim(reach, stuck.way, keep)
    if cut_off is not None:
        onward = unit(stuck.way[1:2] - stuck.way[:1])
        after = reach_after(reach, cut_off.board)
        if lead_behind(after, stuck.lead, onward) <= reach.throat_mm + 1e-6:
            remedy = say("Before cutting, trim {what}.", what=trim_words(cut_off, words))
            return replace(plain, kind="trim", remedy=remedy, trim=cut_off)
    path = np.concatenate([stuck.lead, stuck.way[1:]])
    other = _turned_or_spiral(plain, reach, path, stuck.drill_mm, words)
    return other or replace(plain, remedy=_beyond(reach, stuck, words))


def _turned_or_spiral(
    plain: Resort, reach: Reach, path: Floats, drill_mm: float, words: Words
) -> Resort | None:
    """A blade turned throughout, else a spiral; None when neither serves."""
    say = words.say
    teeth = turned_throughout(reach, path)
    if teeth is not None:
        return replace(
            plain, kind="turned-blade", teeth=teeth,
            remedy=say("Steps turn the blade by 90 degrees for it, if your saw's clamps can."),
        )  # fmt: skip
    toward = spiral(reach, path)
    if toward is not None and drill_mm >= spiral_blade().passes_mm:
        return replace(
            plain, kind="spiral", toward=toward,
            remedy=say("Steps fit a spiral blade for it; the edge is rougher."),
        )  # fmt: skip
    return None


def _beyond(reach: Reach, stuck: Stuck, words: Words) -> str:
    """What is left when no steps can be written."""
    lengths = [turned_blade(reach, p) for p in (stuck.line.xy, stuck.line.xy[::-1])]
    some = [length for length in lengths if length is not None]
    if some:
        return words.say(
            "Use a saw with a deeper throat, a smaller board or a smaller pattern; with the blade"
            " turned by 90 degrees for {length:.0f} mm of it the saw would do, but no step can"
            " tell where.",
            length=min(some),
        )
    return words.say("Use a saw with a deeper throat, a smaller board or a smaller pattern.")
