"""What is said at a cut: the way round, the one thing to watch, and why.

A prompt starts with its verb, names the hole, and then the one thing to watch, the
gravest first: a piece no finger may hold, a thin place, a board that gives, turns.
"""

from __future__ import annotations

import math
from bisect import bisect_left
from collections import Counter
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from itertools import accumulate, groupby

from companion.findings import Point
from companion.planner.plan import Blade, Board, Cut, Hole, Neck, SizedHole, Technique
from companion.planner.resorts import Resort, Toward
from companion.planner.timing import Features
from companion.shop import tables
from companion.shop.finishing import PLAIN, Finish
from companion.shop.model import Material, Settings
from companion.words import Words

MOST_NAMED = 3
"""Kinds of turn named in one prompt; more would not be kept in mind, and are counted."""


@dataclass(frozen=True, slots=True)
class Work:
    """All that the steps tell about."""

    board: Board
    blade: Blade
    material: Material
    cuts: tuple[Cut, ...]
    features: tuple[Features, ...]
    """Of the cuts, in their order."""
    holes: tuple[Hole, ...]
    pins: int
    """Pins through the stack; 0: tape."""
    necks: tuple[Neck, ...]
    settings: Settings
    blade_life_min: float
    blade_why: str
    """Why this size was taken."""
    finish: Finish = PLAIN
    """What is done after the last cut."""
    resorts: Mapping[int, Resort] = field(default_factory=dict)
    """What is done about cuts at which the board meets the saw's frame, by cut number."""
    to_size: tuple[SizedHole, ...] = ()
    """Round openings that are drilled to size."""


def nested(cut: Cut) -> bool:
    """Whether a piece lies in an opening of another: its hole is in that waste."""
    return cut.side == "outside" and cut.within is not None


def tape_needed(cut: Cut) -> bool:
    """Whether a cut frees a piece that no finger may hold: tape over its line does."""
    return cut.side == "outside" and not cut.hold_mm


def way_prompt(cut: Cut, words: Words, watch: str) -> str:
    """The prompt of a run: direction, hole, and the one thing to watch."""
    if cut.direction == "clockwise":
        return words.say("Cut clockwise from hole {n}; {watch}.", n=cut.hole, watch=watch)
    return words.say("Cut anticlockwise from hole {n}; {watch}.", n=cut.hole, watch=watch)


def _no_hold(words: Words) -> str:
    """For a piece that no finger may hold: nearer than their distance to the blade."""
    return words.say("tape holds it, fingers clear")


def watch(work: Work, cut: Cut, words: Words) -> str:
    """The one thing to watch on this cut, gravest first."""
    grave = grave_watch(work, cut, words, thin=_neck_near(work, cut))
    if grave:
        return grave
    if cut.turns:
        return _turns_ahead(cut, words)
    if cut.side == "outside":
        if work.board.stack > 1:
            return words.say("hold the boards together to the end")
        return words.say("hold the piece to the end")
    return words.say("keep to the waste side")


def grave_watch(work: Work, cut: Cut, words: Words, *, thin: bool) -> str:
    """What is graver than any turn, and is told before all; empty when nothing is.

    Args:
        work: all that is told about.
        cut: to be told about.
        words: the language.
        thin: a thin place lies on the way.
    """
    held = work.resorts.get(cut.number)
    if cut.blade == "spiral" and held is not None and held.toward is not None:
        return words.say("{edge} to you, never turned", edge=_toward(held.toward, words))
    if cut.blade:
        return words.say("feed sideways, against its teeth")
    if tape_needed(cut):
        return _no_hold(words)
    if thin:
        return words.say("go gently past the thin place")
    if cut.side == "outside" and cut.weakness >= tables.number("timing", "rhythm.tongue_from"):
        # the frame about a piece never gives that much: a tongue of waste between its arms does
        return words.say("a tongue of waste waves, feed lightly")
    if cut.weakness >= tables.number("timing", "rhythm.gentle_from", 0, 10):
        return words.say("the board gives, feed lightly")
    return ""


def _toward(part: Toward, words: Words) -> str:
    """What of the board points to the sawyer."""
    say = words.say
    names: dict[Toward, str] = {
        "bottom edge": say("bottom edge"), "right edge": say("right edge"),
        "top edge": say("top edge"), "left edge": say("left edge"),
        "bottom right corner": say("bottom right corner"),
        "top right corner": say("top right corner"), "top left corner": say("top left corner"),
        "bottom left corner": say("bottom left corner"),
    }  # fmt: skip
    return names[part]


def _turns_ahead(cut: Cut, words: Words) -> str:
    kinds = Counter(t.technique for t in cut.turns)
    if len(kinds) > 1:
        return words.count("{n} turn ahead", "{n} turns ahead", len(cut.turns))
    kind, n = next(iter(kinds.items()))
    if kind == "spin":
        return words.count("{n} spin ahead", "{n} spins ahead", n)
    if kind == "back-out":
        return words.count("{n} back-out ahead", "{n} back-outs ahead", n)
    return words.count("{n} loop ahead", "{n} loops ahead", n)


def _neck_near(work: Work, cut: Cut) -> bool:
    """Whether the cut passes a neck thinner than the board, seen by its own line."""
    return any(True for _ in _necks_near(work, work.necks, cut.line_mm))


def thin_legs(work: Work, cut: Cut, ends_mm: Sequence[float]) -> list[bool]:
    """Which legs of a cut pass a neck that is found fragile or weak.

    In a thin script every place is thinner than the board; told at each leg it is not heard.

    Args:
        work: holds the necks.
        cut: cut in legs.
        ends_mm: where each leg ends along the line, rising.
    """
    thin_mm = tables.limit("neck-fragile").value * work.board.thickness_mm
    weak_n = tables.limit("neck-weak").value
    frail = (
        n for n in work.necks
        if n.thickness_mm < thin_mm or (n.force_n is not None and n.force_n < weak_n)
    )  # fmt: skip
    necks = tuple(_necks_near(work, frail, cut.line_mm))
    if not necks:
        return [False] * len(ends_mm)
    steps = (math.dist(a, b) for a, b in zip(cut.line_mm, cut.line_mm[1:], strict=False))
    along = list(accumulate(steps, initial=0.0))
    found, begun = [], cut.line_mm[:1]
    at = 0
    for end in ends_mm:
        to = max(at, bisect_left(along, end))
        here = _between(cut.line_mm, along, to, end)
        stretch = (*begun, *cut.line_mm[at:to], here)
        found.append(any(True for _ in _necks_near(work, necks, stretch)))
        at, begun = to, (here,)
    return found


def _between(line: Sequence[Point], along: Sequence[float], to: int, end: float) -> Point:
    """The place at ``end`` along a line, between its points ``to - 1`` and ``to``."""
    if not 0 < to < len(line):
        return line[0] if to <= 0 else line[-1]
    (ax, ay), (bx, by) = line[to - 1], line[to]
    t = (end - along[to - 1]) / ((along[to] - along[to - 1]) or 1.0)
    return ax + t * (bx - ax), ay + t * (by - ay)


def _necks_near(work: Work, necks: Iterable[Neck], line: Sequence[Point]) -> Iterator[Neck]:
    """Those of some necks that are thinner than the board and seen by a stretch of line."""
    if len(line) < 2:
        return
    near = tables.number("timing", "rhythm.neck_near", 0, 100)
    xs, ys = [p[0] for p in line], [p[1] for p in line]
    x0, y0, x1, y1 = min(xs), min(ys), max(xs), max(ys)
    for neck in necks:
        reach = max(neck.thickness_mm * near, 1.0)
        x, y = neck.at_mm
        # the box first: a panel has thousands of necks and cuts
        if not (x0 - reach <= x <= x1 + reach and y0 - reach <= y <= y1 + reach):
            continue
        if neck.thickness_mm <= work.board.thickness_mm and _within(line, neck.at_mm, reach):
            yield neck


def _within(line: Sequence[Point], at: Point, reach: float) -> bool:
    x, y = at
    for (ax, ay), (bx, by) in zip(line, line[1:], strict=False):
        if min(ax, bx) - reach > x or max(ax, bx) + reach < x:
            continue
        if min(ay, by) - reach > y or max(ay, by) + reach < y:
            continue
        dx, dy = bx - ax, by - ay
        size = dx * dx + dy * dy
        t = 0.0 if size == 0.0 else min(1.0, max(0.0, ((x - ax) * dx + (y - ay) * dy) / size))
        if math.hypot(ax + t * dx - x, ay + t * dy - y) <= reach:
            return True
    return False


def cut_why(work: Work, cut: Cut, words: Words) -> str:
    """Speed and its reason; of a piece too small to hold, the tape."""
    speed = words.say("Speed {dial} of {of}.", dial=f"{cut.speed.dial:g}", of=f"{cut.speed.of:g}")
    if cut.is_vein:
        reason = words.say(
            "A vein is one kerf, seen from both sides; nothing falls out, and the blade comes "
            "back the way it went."
        )
    elif cut.side == "inside":
        reason = words.say("Inside cuts run slower: the line is near, the waste small.")
    elif tape_needed(cut):
        reason = words.say(
            "The piece is too small to hold {finger} mm from the blade: the tape over its line"
            " holds it.",
            finger=f"{work.settings.finger_distance_mm:.0f}",
        )
    else:
        reason = words.say("Outside lines run faster and smoother.")
    return f"{speed} {reason}"


def runs_of(cut: Cut) -> tuple[Cut, Cut]:
    """The two runs of a cut that is made from both sides, each with its turns in its own order.

    Args:
        cut: with a meeting place.
    """
    meet = cut.meet_along_mm or 0.0
    first = replace(cut, turns=tuple(t for t in cut.turns if t.along_mm <= meet))
    later = [replace(t, along_mm=cut.length_mm - t.along_mm) for t in cut.turns[len(first.turns) :]]
    second = replace(
        cut,
        direction="anticlockwise" if cut.direction == "clockwise" else "clockwise",
        line_mm=cut.line_mm[::-1],
        turns=tuple(reversed(later)),
        meet_along_mm=cut.length_mm - meet,
    )
    return first, second


def turns_in_order(run: Cut, words: Words) -> str:
    """The turns of a run as they come; empty when it has none."""
    names = _named([t.technique for t in run.turns], words)
    return words.say("Turns on this run, in order: {list}.", list=", ".join(names)) if names else ""


def _named(techniques: Sequence[Technique], words: Words) -> list[str]:
    """Turns in their order, those of one kind that follow each other counted together."""
    names = []
    for kind, same in groupby(techniques):
        n = len(list(same))
        if kind == "spin":
            names.append(words.count("{n} spin", "{n} spins", n))
        elif kind == "back-out":
            names.append(words.count("{n} back-out", "{n} back-outs", n))
        else:
            names.append(words.count("{n} loop", "{n} loops", n))
    return names


def legs_of(cut: Cut) -> tuple[tuple[int, ...], ...]:
    """Turns grouped into legs: each leg ends with its last turn, the closing leg with none.

    A leg shorter than the table's least is told together with the next one.
    """
    least = tables.number("timing", "rhythm.leg_least_mm", 0, 1000)
    legs: list[tuple[int, ...]] = []
    open_leg: list[int] = []
    begun = 0.0
    for i, turn in enumerate(cut.turns):
        open_leg.append(i)
        if turn.along_mm - begun >= least:
            legs.append(tuple(open_leg))
            open_leg, begun = [], turn.along_mm
    if open_leg and legs and cut.length_mm - begun < least:
        legs[-1] += tuple(open_leg)
        open_leg = []
    if open_leg:
        legs.append(tuple(open_leg))
    return (*legs, ())


def leg_end(cut: Cut, leg: tuple[int, ...], words: Words) -> str:
    """What happens at the end of a leg that has a turn; of several, each in its order."""
    if len(leg) > 1:
        names = _named([cut.turns[i].technique for i in leg], words)
        if len(names) <= MOST_NAMED:
            return ", ".join(names)
        return words.count("{n} turn on this leg", "{n} turns on this leg", len(leg))
    kinds = {cut.turns[i].technique for i in leg}
    if kinds == {"spin"}:
        return words.say("spin at the corner")
    if kinds == {"back-out"}:
        return words.say("back out of the corner")
    return words.say("loop around the point")


def turns_why(cut: Cut, leg: tuple[int, ...], words: Words) -> str:
    """How each kind of turn of a leg is made, in the order in which they come."""
    how = {
        "spin": words.say("Stop feeding, turn the work on the spot, teeth to the waste."),
        "back-out": words.say("Cut into the corner, draw back, come at it from the other side."),
        "loop": words.say("Run past the point into open waste, come round, keep the point sharp."),
    }
    return " ".join(how[kind] for kind in dict.fromkeys(cut.turns[i].technique for i in leg))


def leg_words(
    work: Work, cut: Cut, leg: tuple[int, ...], words: Words, *, thin: bool
) -> tuple[str, str]:
    """Prompt and reason of a leg that is not the first.

    Args:
        work: all that is told about.
        cut: the leg's.
        leg: its turns; none: it closes the cut.
        words: the language.
        thin: it passes a thin place.
    """
    say, why = _leg_words(work, cut, leg, words, thin)
    return say, words.say("A thin place lies on this leg.") + " " + why if thin else why


def _leg_words(
    work: Work, cut: Cut, leg: tuple[int, ...], words: Words, thin: bool
) -> tuple[str, str]:
    n = cut.hole
    if not leg:
        if tape_needed(cut):
            return (
                words.say("Feed on to the start at hole {n}; fingers clear.", n=n),
                words.say("It comes free here, and no finger may be that near to the blade."),
            )
        if cut.side == "outside" and work.board.stack > 1:
            return (
                words.say("Feed on to the start at hole {n}; press the boards together.", n=n),
                words.say("The pieces come free here, and nothing but your hand keeps them on "
                          "each other: pins and tape stay in the frame."),
            )  # fmt: skip
        if cut.side == "outside":
            return (
                words.say("Feed on to the start at hole {n}; hold the piece.", n=n),
                words.say("The piece comes free here; held, it neither drops nor tears."),
            )
        return (
            words.say("Feed on to the start at hole {n}; leave no lip.", n=n),
            words.say("Meet the start on the line, and the waste comes out clean."),
        )
    end = leg_end(cut, leg, words)
    if thin:
        say = words.say("Feed gently in cut {n}; {watch}.", n=n, watch=end)
    else:
        say = words.say("Feed on in cut {n}; {watch}.", n=n, watch=end)
    return say, turns_why(cut, leg, words)
