"""The steps: one thing to do at a time, told so that no screen is needed.

Order: sheet and stack, all holes (one drill after the other), then each cut as
thread, cut, lip, clear or free, and the finishing at the end. Blade changes,
re-clamping, vacuuming and rests stand between cuts, never within one. A prompt
starts with its verb, names the hole, and then the one thing to watch.
"""

from __future__ import annotations

from dataclasses import dataclass, field

from companion.planner.plan import BladeWay, Cut, Minutes, Stage, Step
from companion.planner.prompts import (
    Work,
    cut_why,
    grave_watch,
    leg_end,
    leg_words,
    legs_of,
    nested,
    runs_of,
    tape_needed,
    thin_legs,
    turns_in_order,
    turns_why,
    watch,
    way_prompt,
)
from companion.planner.rounds import Round, drill_rounds, round_amount
from companion.planner.timing import (
    Amount,
    Features,
    Rates,
    feed_amount,
    leg_features,
    spread_amount,
    task,
    together,
)
from companion.planner.trims import trim_steps
from companion.shop import tables
from companion.shop.finishing import finishing, pieces_worth
from companion.words import ENGLISH, Words

MOST_LISTED = 4
"""Holes named in one prompt; more would not be kept in mind, and are counted."""


@dataclass(slots=True)
class _Book:
    """Steps written so far, with their times."""

    rates: Rates
    steps: list[Step] = field(default_factory=list)
    amounts: list[Amount] = field(default_factory=list)

    def write(
        self, stage: Stage, cut: int | None, title: str, say: str, why: str, amount: Amount,
        wait_min: float = 0.0, line_to: float = 1.0,
    ) -> None:  # fmt: skip
        minutes = amount.minutes(self.rates.common_spread)
        number = len(self.steps) + 1
        self.steps.append(Step(number, stage, cut, title, say, why, minutes, wait_min, line_to))
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
    _trim(book, work, words)
    _drill(book, work, words)
    rhythm = _Rhythm(work, rates)
    set_up: BladeWay = ""
    for cut, features in zip(work.cuts, work.features, strict=True):
        rhythm.before(book, cut, features, words)
        if cut.blade != set_up:
            _set_blade(book, work, cut, set_up, words)
            set_up = cut.blade
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
    spirals = [str(c.number) for c in work.cuts if c.blade == "spiral"]
    if spirals:
        book.write(
            "prepare", None, words.say("Spiral blade"),
            words.say("Lay out a spiral blade too, and a spare."),
            words.count("Cut {list} needs it: the board cannot be turned there.",
                        "Cuts {list} need it: the board cannot be turned there.", len(spirals),
                        list=", ".join(spirals)),
            task(book.rates, "clamp"),
        )  # fmt: skip
    book.write(
        "prepare", None, words.say("Sheet on the board"),
        words.say("Glue the sheet on: corner to corner, or in the middle."),
        words.say("Holes and lines are numbered on it; a crooked sheet wastes the margin."),
        task(book.rates, "glue"),
    )  # fmt: skip
    if work.board.stack > 1:
        if work.pins:
            say = words.count(
                "Pin the stack at the {n} mark on the sheet.",
                "Pin the stack at the {n} marks on the sheet.", work.pins,
            )  # fmt: skip
        else:
            say = words.say("Bind the stack with tape around all four edges.")
        book.write(
            "prepare", None, words.say("Stack of {n}", n=work.board.stack), say,
            words.say("The boards must not creep; the marks stand clear of every cut. No point "
                      "may stand out below: it catches on the saw's table.")
            if work.pins
            else words.say("The boards must not creep."),
            task(book.rates, "stack"),
        )  # fmt: skip


def _trim(book: _Book, work: Work, words: Words) -> None:
    """What is sawn off the board first, so that it clears the frame; one thing a step."""
    named = [n for n, r in sorted(work.resorts.items()) if r.trim is not None]
    found = next((r.trim for r in work.resorts.values() if r.trim is not None), None)
    if found is None:
        return
    why = words.count(
        "Untrimmed, the board meets the saw's frame in cut {list}.",
        "Untrimmed, the board meets the saw's frame in cuts {list}.", len(named),
        list=", ".join(map(str, named)),
    )  # fmt: skip
    for say in trim_steps(found, words):
        book.write("prepare", None, words.say("Trim the board"), say, why, task(book.rates, "trim"))


def _set_blade(book: _Book, work: Work, cut: Cut, before: BladeWay, words: Words) -> None:
    """Another blade, or the same turned, before a cut at which the board meets the frame."""
    n = cut.hole
    if cut.blade == "spiral":
        title, say = (
            words.say("Spiral blade"),
            words.say("Unplug; fit a spiral blade before hole {n}.", n=n),
        )
        why = words.say(
            "The board cannot be turned past the saw's frame; a spiral blade cuts every way with "
            "the board held at one heading. Its edge is rougher: file it afterwards."
        )
    elif cut.blade:
        title = words.say("Turn the blade")
        say = (
            words.say("Unplug; turn the blade before hole {n}: teeth to the left.", n=n)
            if cut.blade == "left"
            else words.say("Unplug; turn the blade before hole {n}: teeth to the right.", n=n)
        )
        why = words.say(
            "Teeth to the front, the board would meet the saw's frame; fed sideways it clears. "
            "If your saw's clamps do not turn, do not begin this cut."
        )
    else:
        title = words.say("Blade as before")
        say = words.say("Unplug; set blade {blade} before hole {n}: teeth front, down.", n=n,
                        blade=work.blade.number)  # fmt: skip
        why = words.say("From here on the board clears the frame in the usual way.")
    book.write("blade", None, title, say, why, task(book.rates, "blade_change"))


def _drill(book: _Book, work: Work, words: Words) -> None:
    """One step a round, thin to thick: the fewest changes, and thin holes while eyes are fresh."""
    for one in drill_rounds((*work.holes, *work.to_size)):
        told = _to_size if one.to_size else _entry_holes
        title, say, why = told(one, words.drill(one.drill_name, one.drill_mm), words)
        book.write("drill", None, title, say, why, round_amount(one, book.rates))


def _entry_holes(one: Round, drill: str, words: Words) -> tuple[str, str, str]:
    """Title, prompt and reason where the blade will go in."""
    n = len(one.holes)
    say = words.say("Drill {n} holes with {drill}, backing board under.", n=n, drill=drill)
    if n <= MOST_LISTED:
        say = words.count("Drill hole {list} with {drill}, upright.",
                          "Drill holes {list} with {drill}, upright.", n,
                          list=", ".join(map(str, one.numbers)), drill=drill)  # fmt: skip
    return (
        words.say("Drill {drill}", drill=drill),
        say,
        words.say(
            "All holes come first, while the board is whole and lies flat; a backing board "
            "keeps the underside from tearing. Rub off the burr below, or the board rocks on the "
            "saw's table."
        ),
    )


def _to_size(one: Round, drill: str, words: Words) -> tuple[str, str, str]:
    """The same where the hole is the finished edge; a larger bit catches."""
    n = len(one.holes)
    say = words.say("Clamp board and backing; drill {n} holes to size, {drill}.", n=n, drill=drill)
    if n <= MOST_LISTED:
        say = words.count("Clamp board and backing; drill hole {list} to size, {drill}.",
                          "Clamp board and backing; drill holes {list} to size, {drill}.", n,
                          list=", ".join(map(str, one.numbers)), drill=drill)  # fmt: skip
    return (
        words.say("To size {drill}", drill=drill),
        say,
        words.say(
            "The drill makes the whole opening: nothing is threaded or sawn there. Punch the "
            "centre, clamp board and backing: a larger bit catches as it breaks through, and spins "
            "a board that is only held. Rub off the burr below. Speed and feed are those of the "
            "drill's manual."
        ),
    )


# -------------------------------------------------------- what lies between


class _Rhythm:
    """Counts minutes, and writes what is due before the next cut.

    Blades, clamps and dust go by the minutes of sawing; hands and eyes tire at the threading,
    the clearing and the looking too, so a rest goes by all minutes at the saw.
    """

    def __init__(self, work: Work, rates: Rates) -> None:
        self.work = work
        self.rates = rates
        self.since = {"blade": 0.0, "clamp": 0.0, "vacuum": 0.0}
        self.rested_at: int | None = None
        """Steps written when the last rest ended or the first cut began; None: before it."""
        self.rest_min = tables.number("timing", "rhythm.rest_min", 1, 600)
        self.every = {
            "blade": work.blade_life_min,
            **{
                name: tables.number("timing", f"rhythm.{key}", 1, 600)
                for name, key in (
                    ("clamp", "clamp_check_min"),
                    ("vacuum", "vacuum_min"),
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
        if self.rested_at is None:
            self.rested_at = len(book.amounts)
        if sum(a.seconds for a in book.amounts[self.rested_at :]) > self.rest_min * 60.0:
            _between(book, "rest", cut, self.work, words)
            self.rested_at = len(book.amounts)
        for name in ("vacuum", "blade", "clamp"):
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
            words.say("Unplug; change the blade before hole {n}: size {blade}, teeth down.", n=n,
                      blade=work.blade.number),
            words.say("A dull blade is pushed, wanders and burns; between cuts nothing is lost."),
            task(book.rates, "blade_change"),
        )  # fmt: skip
    else:
        book.write(
            "clamp", None, words.say("Check the clamps"),
            words.say("Check blade clamps and tension before hole {n}, saw off.", n=n),
            words.say("A blade creeps in its clamps and slackens as it warms."),
            task(book.rates, "clamp"),
        )  # fmt: skip


# ----------------------------------------------------------------- one cut


def _one_cut(book: _Book, work: Work, cut: Cut, features: Features, words: Words) -> None:
    n = cut.hole
    if tape_needed(cut):
        book.write(
            "prepare", cut.number, words.say("Tape at {n}", n=n),
            words.say("Tape the line of hole {n}, saw off; leave the hole open.", n=n),
            words.say("Piece {p} is too small to hold {finger} mm from the blade: clear tape "
                      "over its line holds it in the frame when it comes free.", p=cut.piece,
                      finger=f"{work.settings.finger_distance_mm:.0f}"),
            task(book.rates, "tape"),
        )  # fmt: skip
    inside = cut.side == "inside"
    if inside:
        say = words.say("Thread the blade at hole {n}, saw off, teeth down.", n=n)
    elif nested(cut):
        say = words.say("Thread at hole {n}, in the waste around piece {p}, saw off.", n=n,
                        p=cut.piece)  # fmt: skip
    else:
        say = words.say("Thread at hole {n}, outside the piece, saw off.", n=n)
    book.write(
        "thread", cut.number, words.say("Thread hole {n}", n=n), say,
        cut.reason or words.say("Inside before outside: the board is still whole around it."),
        task(book.rates, "thread"),
    )  # fmt: skip
    if cut.is_vein:
        book.write(
            "cut", cut.number, words.say("Vein {n}", n=n),
            words.say("Cut the vein from hole {n}; {watch}.", n=n, watch=watch(work, cut, words))
            if cut.blade
            else words.say("Cut the vein from hole {n} to its end; back out.", n=n),
            cut_why(work, cut, words), feed_amount(features, book.rates),
        )  # fmt: skip
        return
    if cut.meet_along_mm is not None:
        _two_runs(book, work, cut, features, words)
    elif tables.skill_rules(work.settings.skill).per_leg and cut.turns:
        _legs(book, work, cut, features, words)
    else:
        say = way_prompt(cut, words, watch(work, cut, words))
        title = words.say("Cut {n}", n=n)
        amount = feed_amount(features, book.rates)
        book.write("cut", cut.number, title, say, cut_why(work, cut, words), amount)
    book.write(
        "lip", cut.number, words.say("Lip at {n}", n=n),
        words.say("Stop the saw; look for a lip at hole {n}.", n=n),
        words.say("Where the end meets the start a nub may stay; now it is easy to shave."),
        task(book.rates, "lip"),
    )  # fmt: skip
    _after(book, work, cut, words)


def _two_runs(book: _Book, work: Work, cut: Cut, features: Features, words: Words) -> None:
    """A cut that clears the saw only piecewise: out and back to the hole, then the other way."""
    there, back = runs_of(cut)
    parts = leg_features(cut, work.board, (cut.meet_along_mm or 0.0, cut.length_mm))
    seconds = [feed_amount(f, book.rates).seconds for f in parts]
    share = seconds[0] / (sum(seconds) or 1.0)
    whole = feed_amount(features, book.rates)
    first = Amount(whole.seconds * share, whole.variance * share)
    rest = Amount(whole.seconds * (1 - share), whole.variance * (1 - share))
    why = words.say("In one run the board would meet the saw's frame; from both sides it clears.")
    book.write(
        "cut", cut.number, words.say("Cut {n}, first run", n=cut.hole),
        way_prompt(there, words, words.say("stop at the meeting mark")),
        _sentences(why, turns_in_order(there, words), cut_why(work, cut, words)), first,
    )  # fmt: skip
    book.write(
        "thread", cut.number, words.say("Back to hole {n}", n=cut.hole),
        words.say("Draw back to hole {n}, saw off.", n=cut.hole), why,
        task(book.rates, "thread"),
    )  # fmt: skip
    book.write(
        "cut", cut.number, words.say("Cut {n}, second run", n=cut.hole),
        way_prompt(back, words, words.say("until the kerfs meet")),
        _sentences(why, turns_in_order(back, words)), rest,
    )  # fmt: skip


def _sentences(*told: str) -> str:
    """Sentences one after the other, empty ones left out."""
    return " ".join(s for s in told if s)


def _after(book: _Book, work: Work, cut: Cut, words: Words) -> None:
    n = cut.hole
    if cut.side == "inside":
        book.write(
            "clear", cut.number, words.say("Clear {n}", n=n),
            words.say("Lift the waste of hole {n} out, saw off.", n=n),
            words.say("Loose waste jams between blade and work and snaps thin parts."),
            task(book.rates, "clear"),
        )  # fmt: skip
        return
    if nested(cut):
        why = words.say("It would rattle in its opening and be caught by the blade.")
    else:
        why = words.say("The frame pinches; lift the frame off the piece, not the piece out of it.")
    if tape_needed(cut):
        say = words.say("Slit the tape, saw off, and lift piece {n} out.", n=cut.piece)
    else:
        say = words.say("Slide piece {n} free, saw off; support its thin parts.", n=cut.piece)
    book.write(
        "free", cut.number, words.say("Free piece {n}", n=cut.piece), say, why,
        task(book.rates, "free"),
    )  # fmt: skip


# -------------------------------------------------------------------- legs


def _legs(book: _Book, work: Work, cut: Cut, features: Features, words: Words) -> None:
    """One step a leg; the cut's time is shared out by what each leg holds: line, bends, turns."""
    legs = legs_of(cut)
    whole = feed_amount(features, book.rates)
    ends = [cut.turns[leg[-1]].along_mm if leg else cut.length_mm for leg in legs]
    seconds = [feed_amount(f, book.rates).seconds for f in leg_features(cut, work.board, ends)]
    scale = sum(seconds) or 1.0
    thin = thin_legs(work, cut, ends)
    for k, (leg, end) in enumerate(zip(legs, ends, strict=True), 1):
        share = seconds[k - 1] / scale
        amount = Amount(whole.seconds * share, whole.variance * share)
        if k == 1:
            # what is grave is graver than the leg's own turn, which the clock announces anyway
            first = grave_watch(work, cut, words, thin=thin[0]) or leg_end(cut, leg, words)
            say = way_prompt(cut, words, first)
            why = _sentences(cut_why(work, cut, words), turns_why(cut, leg, words))
        else:
            say, why = leg_words(work, cut, leg, words, thin=thin[k - 1])
        title = words.say("Cut {n}, leg {k} of {legs}", n=cut.hole, k=k, legs=len(legs))
        line_to = min(1.0, end / max(cut.length_mm, 1e-9))
        book.write("cut", cut.number, title, say, why, amount, line_to=line_to)


# --------------------------------------------------------------- finishing


def _finish(book: _Book, work: Work, words: Words) -> None:
    lines: dict[int, float] = {}
    for cut in work.cuts:
        lines[cut.piece] = lines.get(cut.piece, 0.0) + cut.length_mm
    for hole in work.to_size:
        lines[hole.piece] = lines.get(hole.piece, 0.0) + hole.around_mm
    pieces = pieces_worth(list(lines.values()), work.board.stack)
    given = finishing(
        work.material.family, work.finish, work.board.stack > 1,
        openings=bool(work.to_size) or any(c.opening is not None for c in work.cuts),
    )  # fmt: skip
    for step in given:
        why = words.say(step.why)
        if step.wait_min:
            why += " " + _drying(step.wait_min, words)
        book.write(
            "finish", None, words.say(step.title), words.say(step.say), why,
            spread_amount(60.0 * step.worked_min(pieces), book.rates.task_spread), step.wait_min,
        )  # fmt: skip


def _drying(wait_min: float, words: Words) -> str:
    if wait_min < 30.0:
        # a soak or a damp cloth: nothing that a label tells of
        return words.say("Wait {n} min.", n=f"{wait_min:g}")
    if wait_min < 120.0:
        return words.say("Let it dry {n} min, or as its label says.", n=f"{wait_min:g}")
    return words.say("Let it dry {n} h, or as its label says.", n=f"{wait_min / 60.0:g}")
