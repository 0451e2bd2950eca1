"""Parts that come free, and whether board and saw have room for the pattern."""

from __future__ import annotations

import shapely
from shapely.geometry import Polygon

from companion.findings import Finding, Point
from companion.pattern.model import Pattern, Piece
from companion.pattern.options import Shaded
from companion.planner.numbers import cut_of_opening
from companion.shop import tables
from companion.shop.model import BladeSize, SawProfile
from companion.words import Words


def _place(piece: Piece) -> Point:
    at = piece.shape.representative_point()
    return (at.x, at.y)


def width_mm(shape: Polygon) -> float:
    """Short side of the least rectangle around a shape, mm.

    >>> round(width_mm(shapely.box(0, 0, 30, 12)), 6)
    12.0
    """
    frame = shapely.minimum_rotated_rectangle(shape)
    if not isinstance(frame, Polygon):
        return 0.0
    a, b, c = shapely.get_coordinates(frame)[:3]
    return float(min(((b - a) ** 2).sum(), ((c - b) ** 2).sum()) ** 0.5)


def findings(pattern: Pattern, shaded: Shaded, words: Words) -> list[Finding]:
    """Islands, separate small parts, and pieces too small to hold.

    Args:
        pattern: what was read.
        shaded: how it was read: with ``waste`` an enclosed piece is a counter that drops out.
        words: the language.
    """
    found = []
    largest = max((p.shape.area for p in pattern.pieces), default=0.0)
    small_share = tables.number("weak", "part.share")
    island, part = tables.limit("island-drops"), tables.limit("part-comes-free")
    for piece in pattern.pieces:
        if piece.within is not None:
            kind = (
                words.say("Island {number} is held by nothing: once cut {cut} is made it drops "
                          "out.", number=piece.number, cut=cut_of_opening(piece.within))
                if shaded == "waste" else
                words.say("Piece {number} lies in the waste of cut {cut} and comes out as a "
                          "part of its own.", number=piece.number,
                          cut=cut_of_opening(piece.within))
            )  # fmt: skip
            row = island if shaded == "waste" else part
            found.append(Finding(
                row.code, row.severity, _place(piece), kind,
                words.say("Tie it with bridges (check with --bridge and a width), or keep it and "
                          "glue it in place."),
                piece.shape.area**0.5,
            ))  # fmt: skip
        elif len(pattern.pieces) > 1 and piece.shape.area < small_share * largest:
            found.append(Finding(
                part.code, part.severity, _place(piece),
                words.say("Piece {number} is a small part of {area} mm2 that comes free of the "
                          "rest, like the dot of an i.", number=piece.number,
                          area=f"{piece.shape.area:.0f}"),
                words.say("Join it to the rest, or have a box ready for it."),
                piece.shape.area**0.5,
            ))  # fmt: skip
    return found + _small(pattern, words)


def _small(pattern: Pattern, words: Words) -> list[Finding]:
    row = tables.limit("piece-small")
    sizes = [(width_mm(p.shape), p) for p in pattern.pieces]
    small = [(size, p) for size, p in sizes if size < row.value]
    return [
        Finding(
            row.code, row.severity, _place(p),
            words.say("Piece {number} is only {size} mm across: fingers that hold it come within "
                      "reach of the blade.", number=p.number, size=f"{size:.1f}"),
            words.say("Hold it with a push stick or a carrier board taped under it, or draw it "
                      "larger."),
            size,
        )
        for size, p in small
    ]  # fmt: skip


def board_findings(
    pattern: Pattern, board_mm: tuple[float, float], place_mm: Point, words: Words
) -> list[Finding]:
    """Whether the pattern fits the board and keeps off its edges.

    Args:
        pattern: what was read.
        board_mm: width and height of the board.
        place_mm: where the pattern's origin lies on the board.
        words: the language.
    """
    near, small = tables.limit("edge-near"), tables.limit("board-too-small")
    found = []
    for piece in pattern.pieces:
        if piece.within is not None:
            continue
        x0, y0, x1, y1 = piece.shape.bounds
        xs, ys = shapely.get_coordinates(piece.shape.exterior).T
        gaps = {
            (x0, float(ys[xs.argmin()])): x0 + place_mm[0],
            (float(xs[ys.argmin()]), y0): y0 + place_mm[1],
            (x1, float(ys[xs.argmax()])): board_mm[0] - x1 - place_mm[0],
            (float(xs[ys.argmax()]), y1): board_mm[1] - y1 - place_mm[1],
        }
        at, gap = min(gaps.items(), key=lambda item: (item[1], item[0]))
        if gap < small.value:
            found.append(Finding(
                small.code, small.severity, at,
                words.say("Piece {number} reaches {over} mm beyond the board's edge.",
                          number=piece.number, over=f"{-gap:.1f}"),
                words.say("Use a larger board, or a smaller width."), gap,
            ))  # fmt: skip
        elif gap < near.value:
            found.append(Finding(
                near.code, near.severity, at,
                words.say("Piece {number} comes within {gap} mm of the board's edge: the frame "
                          "that holds everything while you cut may break there.",
                          number=piece.number, gap=f"{gap:.1f}"),
                words.say("Leave at least {least} mm: a larger board or a smaller pattern.",
                          least=f"{near.value:g}"),
                gap,
            ))  # fmt: skip
    return found


def saw_findings(
    pattern: Pattern,
    stack_mm: float,
    saw: SawProfile,
    board_mm: tuple[float, float] | None,
    place_mm: Point,
    blade: BladeSize,
    words: Words,
) -> list[Finding]:
    """Whether the saw takes the stack and lets the board swing.

    Args:
        pattern: what was read.
        stack_mm: thickness of all boards together.
        saw: what the saw can do.
        board_mm: width and height of the board; None leaves the swing out.
        place_mm: where the pattern's origin lies on the board.
        blade: the chosen one.
        words: the language.
    """
    found = []
    tall, over = tables.limit("stack-tall"), tables.limit("stack-over-saw")
    if stack_mm > saw.max_thickness_mm + over.value:
        found.append(Finding(
            over.code, over.severity, None,
            words.say("The stack is {stack} mm thick; the saw takes {most} mm.",
                      stack=f"{stack_mm:g}", most=f"{saw.max_thickness_mm:g}"),
            words.say("Cut fewer boards at once, or thinner ones."), stack_mm,
        ))  # fmt: skip
    elif stack_mm > tall.value:
        found.append(Finding(
            tall.code, tall.severity, None,
            words.say("The stack is {stack} mm thick: the blade bends, and the lowest board "
                      "differs from the topmost.", stack=f"{stack_mm:g}"),
            words.say("Feed slowly with a coarser blade, or cut fewer boards at once.")
            if blade.number != tables.blades()[-1].number
            else words.say("Feed slowly, or cut fewer boards at once."),
            stack_mm,
        ))  # fmt: skip
    return found + (_swing(pattern, saw, board_mm, place_mm, words) if board_mm else [])


def _swing(
    pattern: Pattern, saw: SawProfile, board_mm: tuple[float, float], place_mm: Point, words: Words
) -> list[Finding]:
    """The farthest board corner from any cut, against the throat."""
    over_mm = tables.number("weak", "swing.mm")
    throat = saw.throat_mm - saw.margin_mm
    worst, at = 0.0, (0.0, 0.0)
    corners = [(x, y) for x in (0.0, board_mm[0]) for y in (0.0, board_mm[1])]
    for piece in pattern.pieces:
        xy = shapely.get_coordinates(piece.shape)
        for cx, cy in corners:
            far = ((xy[:, 0] + place_mm[0] - cx) ** 2 + (xy[:, 1] + place_mm[1] - cy) ** 2) ** 0.5
            if far.max() > worst:
                worst = float(far.max())
                at = (float(xy[far.argmax(), 0]), float(xy[far.argmax(), 1]))
    if worst <= throat + over_mm:
        return []
    return [
        Finding(
            "board-over-throat", tables.severity("weak", "swing.mm"), at,
            words.say("From here a corner of the board reaches {far} mm back; the throat leaves "
                      "{throat} mm: the board cannot swing freely.", far=f"{worst:.0f}",
                      throat=f"{throat:.0f}"),
            words.say("The plan turns each cut so that it clears; where it cannot, another "
                      "finding tells what to do."),
            worst,
        )
    ]  # fmt: skip
