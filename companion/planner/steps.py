"""The steps: one thing to do at a time, told so that no screen is needed.

Order: sheet and stack, all holes (one drill after the other), then each cut as
thread, cut, lip, clear or free, and the finishing at the end. Blade changes,
re-clamping, vacuuming and rests stand between cuts, never within one. A prompt
starts with its verb, names the hole, and then the one thing to watch.
"""

from __future__ import annotations

import math
from collections import Counter
from dataclasses import dataclass, field, replace

from companion.planner.plan import Blade, Board, Cut, Hole, Minutes, Neck, Stage, Step
from companion.planner.timing import (
    Amount,
    Features,
    Rates,
    feed_amount,
    spread_amount,
    task,
    together,
)
from companion.shop import tables
from companion.shop.model import Material, Settings
from companion.words import ENGLISH, Words


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


@dataclass(slots=True)
class _Book:
    """Steps written so far, with their times."""

    rates: Rates
    steps: list[Step] = field(default_factory=list)
    amounts: list[Amount] = field(default_factory=list)

    def write(
        self, stage: Stage, cut: int | None, title: str, say: str, why: str, amount: Amount,
        wait_min: float = 0.0,
    ) -> None:  # fmt: skip
        minutes = amount.minutes(self.rates.common_spread)
        number = len(self.steps) + 1
        self.steps.append(Step(number, stage, cut, title, say, why, minutes, wait_min))
        self.amounts.append(amount)


def make_steps(
    work: Work, rates: Rates, words: Words = ENGLISH
) -> tuple[tuple[Step, ...], Minutes]:
    """Write all steps.

    Args:
        work: what was planned.
        rates: of the sawyer's hand.
        words: the language.

    Returns:
        The steps, numbered from 1, and the minutes of all together.
    """
    book = _Book(rates)
    _prepare(book, work, words)
    _drill(book, work, words)
    rhythm = _Rhythm(work, rates)
    for cut, features in zip(work.cuts, work.features, strict=True):
        rhythm.before(book, cut, features, words)
        _one_cut(book, work, cut, features, words)
    _finish(book, work, words)
    return tuple(book.steps), together(book.amounts, rates)


# ------------------------------------------------------------- preparation


def _prepare(book: _Book, work: Work, words: Words) -> None:
    needed = work.blade.blades_needed
    say = words.count(
        "Lay out {n} blade of size {size}.", "Lay out {n} blades of size {size}.", needed,
        size=work.blade.number,
    )  # fmt: skip
    book.write(
        "prepare", None, words.say("Blade {size}", size=work.blade.number), say,
        work.blade_why, task(book.rates, "clamp"),
    )  # fmt: skip
    book.write(
        "prepare", None, words.say("Sheet on the board"),
        words.say("Glue the sheet on the board, top left corners together."),
        words.say("Holes and lines are numbered on it; a crooked sheet wastes the margin."),
        task(book.rates, "glue"),
    )  # fmt: skip
    if work.board.stack > 1:
        if work.pins:
            say = words.count(
                "Pin the stack at the {n} mark in the margin.",
                "Pin the stack at the {n} marks in the margin.", work.pins,
            )  # fmt: skip
        else:
            say = words.say("Bind the stack with tape around all four edges.")
        book.write(
            "prepare", None, words.say("Stack of {n}", n=work.board.stack), say,
            words.say("The boards must not creep; the marks stand clear of every cut."),
            task(book.rates, "stack"),
        )  # fmt: skip


def _drill(book: _Book, work: Work, words: Words) -> None:
    """One step a drill, thin to thick: the fewest changes, and thin holes while eyes are fresh."""
    sizes = Counter((h.drill_mm, h.drill_name) for h in work.holes)
    for i, ((size, name), n) in enumerate(sorted(sizes.items())):
        drill = name or f"{size:g} mm"
        numbers = [h.number for h in work.holes if (h.drill_mm, h.drill_name) == (size, name)]
        if n <= 4:
            listed = ", ".join(str(k) for k in numbers)
            say = words.count("Drill hole {list} with {drill}, upright.",
                              "Drill holes {list} with {drill}, upright.", n,
                              list=listed, drill=drill)  # fmt: skip
        else:
            say = words.say("Drill {n} holes with {drill}, backing board under.", n=n, drill=drill)
        amount = task(book.rates, "drill_hole", n)
        if i:
            amount = amount + task(book.rates, "drill_change")
        book.write(
            "drill", None, words.say("Drill {drill}", drill=drill), say,
            words.say("All holes come first, while the board is whole and lies flat; "
                      "a backing board keeps the underside from tearing."),
            amount,
        )  # fmt: skip


# -------------------------------------------------------- what lies between


class _Rhythm:
    """Counts minutes of sawing, and writes what is due before the next cut."""

    def __init__(self, work: Work, rates: Rates) -> None:
        self.work = work
        self.rates = rates
        self.since = {"blade": 0.0, "clamp": 0.0, "vacuum": 0.0, "rest": 0.0}
        self.every = {
            "blade": work.blade_life_min,
            **{
                name: tables.number("timing", f"rhythm.{key}", 1, 600)
                for name, key in (
                    ("clamp", "clamp_check_min"),
                    ("vacuum", "vacuum_min"),
                    ("rest", "rest_min"),
                )
            },
        }

    def before(self, book: _Book, cut: Cut, features: Features, words: Words) -> None:
        """Write what is due; a blade is changed before the cut that would outlive it."""
        ahead = feed_amount(features, self.rates).seconds / 60.0
        due = {
            name: self.since[name] > 0.0
            and self.since[name] + (ahead if name == "blade" else 0.0) > every
            for name, every in self.every.items()
        }
        # a new blade is clamped and tensioned anyway
        due["clamp"] = due["clamp"] and not due["blade"]
        for name in ("rest", "vacuum", "blade", "clamp"):
            if due[name]:
                _between(book, name, cut, self.work, words)
                self.since[name] = 0.0
        if due["blade"]:
            self.since["clamp"] = 0.0
        for name in self.since:
            self.since[name] += ahead


def _between(book: _Book, name: str, cut: Cut, work: Work, words: Words) -> None:
    n = cut.hole
    if name == "rest":
        book.write(
            "rest", None, words.say("Rest"),
            words.say("Rest five minutes, saw off, eyes far away."),
            words.say("Tired hands push; most broken necks come late in a sitting."),
            task(book.rates, "rest"),
        )  # fmt: skip
    elif name == "vacuum":
        book.write(
            "vacuum", None, words.say("Vacuum"),
            words.say("Vacuum table and line, saw off; never blow."),
            words.say("Dust hides the line, and blown dust is breathed."),
            task(book.rates, "vacuum"),
        )  # fmt: skip
    elif name == "blade":
        book.write(
            "blade", None, words.say("New blade"),
            words.say("Change the blade before hole {n}: size {blade}, teeth down.", n=n,
                      blade=work.blade.number),
            words.say("A dull blade is pushed, wanders and burns; between cuts nothing is lost."),
            task(book.rates, "blade_change"),
        )  # fmt: skip
    else:
        book.write(
            "clamp", None, words.say("Check the clamps"),
            words.say("Check blade clamps and tension before hole {n}.", n=n),
            words.say("A blade creeps in its clamps and slackens as it warms."),
            task(book.rates, "clamp"),
        )  # fmt: skip


# ----------------------------------------------------------------- one cut


def _one_cut(book: _Book, work: Work, cut: Cut, features: Features, words: Words) -> None:
    n = cut.hole
    inside = cut.side == "inside"
    if inside:
        say = words.say("Thread the blade at hole {n}, saw off, teeth down.", n=n)
    else:
        say = words.say("Thread at hole {n} in the margin, saw off.", n=n)
    book.write(
        "thread", cut.number, words.say("Thread hole {n}", n=n), say,
        cut.reason or words.say("Inside before outside: the board is still whole around it."),
        task(book.rates, "thread"),
    )  # fmt: skip
    if cut.is_vein:
        book.write(
            "cut", cut.number, words.say("Vein {n}", n=n),
            words.say("Cut the vein from hole {n} to its end; back out.", n=n),
            _cut_why(work, cut, words), feed_amount(features, book.rates),
        )  # fmt: skip
        return
    if cut.meet_along_mm is not None:
        _two_runs(book, work, cut, features, words)
    elif tables.skill_rules(work.settings.skill).per_leg and cut.turns:
        _legs(book, work, cut, features, words)
    else:
        say = _way(cut, words, _watch(work, cut, words))
        title = words.say("Cut {n}", n=n)
        amount = feed_amount(features, book.rates)
        book.write("cut", cut.number, title, say, _cut_why(work, cut, words), amount)
    book.write(
        "lip", cut.number, words.say("Lip at {n}", n=n),
        words.say("Stop the saw; look for a lip at hole {n}.", n=n),
        words.say("Where the end meets the start a nub may stay; now it is easy to shave."),
        task(book.rates, "lip"),
    )  # fmt: skip
    _after(book, cut, words)


def _two_runs(book: _Book, work: Work, cut: Cut, features: Features, words: Words) -> None:
    """A cut that clears the saw only piecewise: out and back to the hole, then the other way."""
    share = min(max((cut.meet_along_mm or 0.0) / max(cut.length_mm, 1e-9), 0.0), 1.0)
    whole = feed_amount(features, book.rates)
    first = Amount(whole.seconds * share, whole.variance * share)
    rest = Amount(whole.seconds * (1 - share), whole.variance * (1 - share))
    why = words.say("In one run the board would meet the saw's frame; from both sides it clears.")
    other: Cut = replace(
        cut, direction="anticlockwise" if cut.direction == "clockwise" else "clockwise"
    )
    book.write(
        "cut", cut.number, words.say("Cut {n}, first run", n=cut.hole),
        _way(cut, words, words.say("stop at the meeting mark")),
        f"{why} {_cut_why(work, cut, words)}", first,
    )  # fmt: skip
    book.write(
        "thread", cut.number, words.say("Back to hole {n}", n=cut.hole),
        words.say("Draw back to hole {n}, saw off.", n=cut.hole), why,
        task(book.rates, "thread"),
    )  # fmt: skip
    book.write(
        "cut", cut.number, words.say("Cut {n}, second run", n=cut.hole),
        _way(other, words, words.say("until the kerfs meet")), why, rest,
    )  # fmt: skip


def _after(book: _Book, cut: Cut, words: Words) -> None:
    n = cut.hole
    if cut.side == "inside":
        book.write(
            "clear", cut.number, words.say("Clear {n}", n=n),
            words.say("Lift the waste of hole {n} out, saw off.", n=n),
            words.say("Loose waste jams between blade and work and snaps thin parts."),
            task(book.rates, "clear"),
        )  # fmt: skip
        return
    book.write(
        "free", cut.number, words.say("Free piece {n}", n=cut.piece),
        words.say("Slide piece {n} free, saw off; support its thin parts.", n=cut.piece),
        words.say("The frame pinches; lift the frame off the piece, not the piece out of it."),
        task(book.rates, "free"),
    )  # fmt: skip


def _way(cut: Cut, words: Words, watch: str) -> str:
    if cut.direction == "clockwise":
        return words.say("Cut clockwise from hole {n}; {watch}.", n=cut.hole, watch=watch)
    return words.say("Cut anticlockwise from hole {n}; {watch}.", n=cut.hole, watch=watch)


def _watch(work: Work, cut: Cut, words: Words) -> str:
    """The one thing to watch on this cut, gravest first."""
    if _neck_near(work, cut):
        return words.say("go gently past the thin place")
    if cut.weakness >= tables.number("timing", "rhythm.gentle_from", 0, 10):
        return words.say("the board gives, feed lightly")
    if cut.turns:
        return _turns_ahead(cut, words)
    if cut.side == "outside":
        return words.say("hold the piece to the end")
    return words.say("keep to the waste side")


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
    near = tables.number("timing", "rhythm.neck_near", 0, 100)
    xs, ys = [p[0] for p in cut.line_mm], [p[1] for p in cut.line_mm]
    x0, y0, x1, y1 = min(xs), min(ys), max(xs), max(ys)
    for neck in work.necks:
        reach = max(neck.thickness_mm * near, 1.0)
        x, y = neck.at_mm
        # the box first: a panel has thousands of necks and cuts
        if not (x0 - reach <= x <= x1 + reach and y0 - reach <= y <= y1 + reach):
            continue
        if neck.thickness_mm <= work.board.thickness_mm and _line_within(cut, neck.at_mm, reach):
            return True
    return False


def _line_within(cut: Cut, at: tuple[float, float], reach: float) -> bool:
    x, y = at
    for (ax, ay), (bx, by) in zip(cut.line_mm, cut.line_mm[1:], strict=False):
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


def _cut_why(work: Work, cut: Cut, words: Words) -> str:
    speed = words.say("Speed {dial} of {of}.", dial=f"{cut.speed.dial:g}", of=f"{cut.speed.of:g}")
    if cut.side == "inside":
        reason = words.say("Inside cuts run slower: the line is near, the waste small.")
    else:
        reason = words.say("The long outside line runs faster and smoother.")
    return f"{speed} {reason}"


# -------------------------------------------------------------------- legs


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


def _legs(book: _Book, work: Work, cut: Cut, features: Features, words: Words) -> None:
    """One step a leg; their times share the cut's by length and turns."""
    legs = legs_of(cut)
    whole = feed_amount(features, book.rates)
    ends = [cut.turns[leg[-1]].along_mm if leg else cut.length_mm for leg in legs]
    weights = [
        max(end - start, 0.0) / max(cut.length_mm, 1e-9)
        for start, end in zip([0.0, *ends], ends, strict=False)
    ]
    scale = sum(weights) or 1.0
    for k, (leg, weight) in enumerate(zip(legs, weights, strict=True), 1):
        share = weight / scale
        amount = Amount(whole.seconds * share, whole.variance * share)
        if k == 1:
            say = _way(cut, words, _leg_end(cut, leg, words))
            why = _cut_why(work, cut, words)
        else:
            say, why = _leg_words(cut, leg, words)
        title = words.say("Cut {n}, leg {k} of {legs}", n=cut.hole, k=k, legs=len(legs))
        book.write("cut", cut.number, title, say, why, amount)


def _leg_end(cut: Cut, leg: tuple[int, ...], words: Words) -> str:
    kinds = {cut.turns[i].technique for i in leg}
    if len(leg) > 1:
        return words.count("{n} turn on this leg", "{n} turns on this leg", len(leg))
    if kinds == {"spin"}:
        return words.say("spin at the corner")
    if kinds == {"back-out"}:
        return words.say("back out of the corner")
    return words.say("loop around the point")


def _leg_words(cut: Cut, leg: tuple[int, ...], words: Words) -> tuple[str, str]:
    n = cut.hole
    if not leg:
        if cut.side == "outside":
            return (
                words.say("Feed on to the start at hole {n}; hold the piece.", n=n),
                words.say("The piece comes free here; held, it neither drops nor tears."),
            )
        return (
            words.say("Feed on to the start at hole {n}; leave no lip.", n=n),
            words.say("Meet the start on the line, and the waste comes out clean."),
        )
    say = words.say("Feed on along {n}; {watch}.", n=n, watch=_leg_end(cut, leg, words))
    kind = cut.turns[leg[-1]].technique
    if kind == "spin":
        why = words.say("Stop feeding, turn the work on the spot, teeth to the waste.")
    elif kind == "back-out":
        why = words.say("Cut into the corner, draw back, come at it from the other side.")
    else:
        why = words.say("Run past the point into open waste, come round, keep the point sharp.")
    return say, why


# --------------------------------------------------------------- finishing


def _finish(book: _Book, work: Work, words: Words) -> None:
    for step in tables.finishing(work.material.family):
        if step.stacked and work.board.stack < 2:
            continue
        why = words.say(step.why)
        if step.wait_min:
            why += " " + words.say("Let it dry {n} min.", n=f"{step.wait_min:g}")
        book.write(
            "finish", None, words.say(step.title), words.say(step.say), why,
            spread_amount(step.minutes * 60.0, book.rates.task_spread), step.wait_min,
        )  # fmt: skip
