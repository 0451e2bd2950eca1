"""The plain walk: one line in for each input, lines out that a screen reader can read.

Same machine, same log as the full screen. An empty line is the pedal's tap.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence

from companion.cli.lines import Lines
from companion.cli.listing import minutes_text
from companion.cli.wrapping import show
from companion.errors import EXIT_FINE, EXIT_INTERRUPTED
from companion.planner.plan import Plan
from companion.session import model as m
from companion.session.view import View
from companion.session.walk import Shown, Walk
from companion.shop.model import Mishap as Recovery
from companion.words import ENGLISH, Words

TICK_S = 1.0
"""How often the clock is looked at while no line comes."""

_LETTERS: dict[str, m.Input] = {
    "": m.Done(), "a": m.Again(), "b": m.Back(), "p": m.Pause(), "x": m.Stop(),
    "w": m.Why(), "h": m.Holes(), "q": m.Leave(),
}  # fmt: skip

HELP = (
    "Empty line: done. a: say it again. b: back. p: pause, go on. x: STOP. "
    "m KIND: mishap. n TEXT: note. w: reasons on, off. h: drill hole by hole, or at once. "
    "q: leave."
)


def understood(line: str, mishaps: Sequence[Recovery], words: Words = ENGLISH) -> m.Input | None:
    """What a line asks for; None when it is not understood.

    A kind of mishap may be given by its number in the list, its key, its name in English
    or in the user's language, or the beginning of any of them.

    >>> from companion.session.texts import shop_texts
    >>> from companion.words import words_for
    >>> saw = shop_texts().recoveries_at(None)
    >>> understood("m blade br", saw)
    Mishap(kind='blade-broke')
    >>> understood("m 2", saw)
    Mishap(kind='blade-broke')
    >>> understood("m brand", saw, words_for("de"))
    Mishap(kind='burning')
    """
    letter, _, rest = line.strip().partition(" ")
    letter, rest = letter.lower(), rest.strip()
    if letter in _LETTERS and not rest:
        return _LETTERS[letter]
    if letter == "n" and rest:
        return m.Note(rest)
    if letter == "m" and rest:
        wanted = rest.lower()
        names = {
            r.key: (
                str(n),
                r.key,
                r.key.replace("-", " "),
                r.name.lower(),
                words.say(r.name).lower(),
            )
            for n, r in enumerate(mishaps, 1)
        }
        exact = [key for key, forms in names.items() if wanted in forms]
        begun = [k for k, forms in names.items() if any(f.startswith(wanted) for f in forms)]
        found = exact or begun
        return m.Mishap(found[0]) if len(found) == 1 else None
    return None


def left_text(walk: Walk, words: Words) -> str:
    """Where the work stands as the sawyer leaves it."""
    state, total = walk.state, len(walk.machine.plan.steps)
    if state.step < total:
        return words.say(
            "Left at step {n} of {total}. The run stays open; the next saw goes on there.",
            n=state.step + 1, total=total,
        )  # fmt: skip
    if state.run < state.runs:
        return words.say("Left after run {run} of {runs}.", run=state.run, runs=state.runs)
    return words.say("All {total} steps are done.", total=total)


def run_plain(walk: Walk, lines: Lines, out: Callable[[str], None] | None = None) -> int:
    """Walk until the input ends, the sawyer leaves, or the program is interrupted.

    Args:
        walk: not begun yet.
        lines: what is typed.
        out: takes one line; None: standard output.

    Raises:
        JournalError: the log cannot be begun, or its end could not be written.
    """
    page = _Page(walk, out or show)
    page.head()
    code = EXIT_FINE
    try:
        page.tell(walk.begin())
        for line in lines.each(TICK_S):
            if line is None:
                page.hints(walk.take(m.Tick()))
                continue
            page.answer(line)
            if walk.state.mode == "left":
                break
    except KeyboardInterrupt:
        code = EXIT_INTERRUPTED
    finally:
        walk.close()
    page.foot()
    return code


class _Page:
    """Puts what the walk shows into lines."""

    def __init__(self, walk: Walk, out: Callable[[str], None]) -> None:
        self.walk, self.out = walk, out
        self.words: Words = walk.machine.words
        self._heading = ""
        self._stage = ""

    def head(self) -> None:
        """Name the work and the letters."""
        plan: Plan = self.walk.machine.plan
        self.out(
            self.words.count(
                "{project}: {n} cut, {steps} steps, {minutes}.",
                "{project}: {n} cuts, {steps} steps, {minutes}.",
                len(plan.cuts), project=plan.project.name, steps=len(plan.steps),
                minutes=minutes_text(plan.minutes, self.words),
            )
        )  # fmt: skip
        self.out(self.words.say("Plan {hash}.", hash=plan.short_hash))
        if self.walk.machine.notice:
            self.out(self.walk.machine.notice)
        if self.walk.rehearsed:
            self.out(self.words.say("A rehearsal: the clock is made up, and the log says so."))
        self.out(self.words.say(self.walk.machine.texts.precedence))
        self.out(self.words.say(HELP))

    def answer(self, line: str) -> None:
        """Do what a line asks for and show what came of it."""
        machine = self.walk.machine
        mishaps = machine.texts.recoveries_at(machine.step_at(self.walk.state))
        event = understood(line, mishaps, self.words)
        if event is None:
            listed = enumerate(mishaps, 1)
            kinds = ", ".join(f"{n} {self.words.say(r.name)}" for n, r in listed)
            self.out(self.words.say("Not understood: {line}", line=line.strip()[:60]))
            self.out(self.words.say(HELP))
            self.out(self.words.say("Kinds of mishap: {kinds}.", kinds=kinds))
            return
        self.tell(self.walk.take(event))
        if isinstance(event, m.Stop):
            self.hints(self.walk.flush())

    def hints(self, shown: Sequence[Shown]) -> None:
        """What is said beside the prompt."""
        prompt = self.walk.machine.prompt(self.walk.state)
        for effect in shown:
            if isinstance(effect, m.Say) and effect.text != prompt:
                self.out(f"* {effect.text}")

    def tell(self, shown: Sequence[Shown]) -> None:
        """Hints, then the prompt when there is a new one, or it was asked for again."""
        self.hints(shown)
        prompt = self.walk.machine.prompt(self.walk.state)
        if any(isinstance(e, m.Say) and e.text == prompt for e in shown):
            self._prompt(self.walk.view())

    def _prompt(self, now: View) -> None:
        heading, mark = self._headings(now)
        if heading != self._heading:
            self.out("")
            self.out(heading)
            self._heading = heading
        signal = f"{self.words.say(now.signal)}: " if now.signal else ""
        if now.mode == "step" and now.stage == "finish" and self._stage != "finish":
            self.out(self.words.say("  Switch off and unplug the saw."))
        self._stage = now.stage
        wait, drying = self._drying(now)
        for line in wait:
            self.out(line)
        self.out(f"{mark}{signal}{now.prompt}")
        for line in drying:
            self.out(line)
        if now.why:
            self.out(self.words.say("  why: {why}", why=now.why))
        if now.mode == "summary":
            for run, seconds in enumerate(now.runs_s, 1):
                self.out(self.words.say("  run {run}: {n} min worked.", run=run,
                                        n=f"{seconds / 60:.1f}"))  # fmt: skip

    def _drying(self, now: View) -> tuple[list[str], list[str]]:
        """What is told of drying before the prompt and after it, the longest first.

        Before a step of finishing the first word is to wait, as on the screen; it is read
        before what is to be done then. It is told, not enforced.
        """
        say = self.words.say
        wet = sorted((w for w in self.walk.drying() if w.left_s > 0.0), key=lambda w: -w.left_s)
        if now.mode not in ("step", "summary"):
            return [], []
        times = [self.words.duration(math.ceil(w.left_s / 60.0)) for w in wet]
        told = [
            say("  still wet: {title}, {left} to go.", title=w.title, left=left)
            for w, left in zip(wet, times, strict=True)
        ]
        if now.mode == "summary" or now.stage != "finish" or not told:
            return [], told
        wait = say("  Wait: {title} is still wet, {left} to go.", title=wet[0].title, left=times[0])
        return [wait], told[1:]

    def _headings(self, now: View) -> tuple[str, str]:
        """The line over the prompt, and what stands before it."""
        if now.mode == "step":
            run = self.words.say("run {run} of {runs}, ", run=now.run, runs=now.runs)
            return (run if now.runs > 1 else "") + self.words.say(
                "step {n} of {total}: {title} ({minutes} min)", n=now.step, total=now.steps,
                title=now.title, minutes=f"{now.planned.likely:.1f}",
            ), "  "  # fmt: skip
        mark = f"[{now.item}/{now.items}] " if now.items else "  "
        return now.title, mark

    def foot(self) -> None:
        """Say where the work stands."""
        self.out("")
        self.out(left_text(self.walk, self.words))
