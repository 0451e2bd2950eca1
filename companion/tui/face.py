"""What the screen shows at a moment, as plain data: one thing to do, and what stands round it.

Pure: machine, state and clock in, a :class:`Face` out. So every screen can be tested
and looked at without running one, and the widgets need not know the session. Words and
figures come from :mod:`companion.session.view`, the same that the plain walk prints.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from itertools import groupby
from typing import cast

from companion.draw.board import Moment
from companion.planner.plan import Minutes, Plan, SizedHole, Stage, Technique
from companion.session.drilling import drilled_before
from companion.session.machine import Machine
from companion.session.model import State
from companion.session.view import View, view
from companion.tui.actions import ActionId
from companion.tui.palette import Tone
from companion.words import Words

STAGE_WORDS: dict[Stage, str] = {
    "prepare": "PREPARE", "drill": "DRILL", "thread": "THREAD", "cut": "CUTTING",
    "lip": "CLEAN UP", "clear": "CLEAR", "blade": "BLADE", "clamp": "CLAMP", "rest": "REST",
    "vacuum": "VACUUM", "free": "FREE", "finish": "FINISH",
}  # fmt: skip
PARTED = "  "
"""What stands between the parts of a place."""
TOO_QUICK = "Too quick. Look, then tap."
TURNS_COUNTED: dict[Technique, tuple[str, str]] = {
    "spin": ("{n} spin", "{n} spins"),
    "back-out": ("{n} back-out", "{n} back-outs"),
    "loop": ("{n} loop", "{n} loops"),
}
WORK_KEYS: tuple[ActionId, ...] = (
    "pedal", "again", "back", "pause", "stop", "mishap", "note", "why", "zoom", "voice",
    "help", "leave",
)  # fmt: skip

DRILL_KEYS: tuple[ActionId, ...] = tuple(k if k != "zoom" else "holes" for k in WORK_KEYS)
"""The drill round's map is the whole board; it is gone hole by hole or all at once."""


@dataclass(frozen=True, slots=True)
class Line:
    """One line of a list."""

    mark: str
    """``x`` confirmed, ``>`` the one to do, ``!`` to be minded, empty: to come."""
    text: str


@dataclass(frozen=True, slots=True)
class Clock:
    """Time worked on a step against its plan."""

    spent_s: float
    planned: Minutes
    running: bool
    of: str
    """The planned time in words."""
    span: str
    """Its range in words, for where there is room."""


@dataclass(frozen=True, slots=True)
class Face:
    """Everything one screen says."""

    tone: Tone
    word: str
    """The state in capitals."""
    place: str = ""
    """Where in the work: step and what is left, in parts; of those without room the last goes
    first."""
    short_place: str = ""
    """The same in fewer letters, part by part; empty: as it is."""
    power: str = ""
    """What the saw must be."""
    head: str = ""
    """The one thing to do, for the large letters."""
    say: str = ""
    """The sentence that is spoken."""
    why: str = ""
    """The reason; empty when hidden."""
    hint: str = ""
    """A small answer of the moment, e.g. that a tap came too soon."""
    lines: tuple[Line, ...] = ()
    clock: Clock | None = None
    next: str = ""
    """What comes after, in small."""
    keys: tuple[ActionId, ...] = WORK_KEYS
    moment: Moment | None = None
    """What the map shows; None: no map."""
    picture: str = ""
    """Page of reasons whose picture stands in the map's place; empty: none."""
    close_up: bool = False
    """Whether the map shows the current cut close up by itself."""
    alarm: bool = False
    """The whole screen is the STOP sign."""
    details: tuple[str, ...] = ()
    """Small lines of second rank: turns ahead, speed."""


def clock_text(seconds: float) -> str:
    """Minutes and seconds; hours when there are any.

    >>> clock_text(75.4), clock_text(3600)
    ('1:15', '1:00:00')
    """
    whole = int(max(0.0, seconds))
    hours, rest = divmod(whole, 3600)
    minutes, secs = divmod(rest, 60)
    return f"{hours}:{minutes:02}:{secs:02}" if hours else f"{minutes}:{secs:02}"


def minutes_text(minutes: float, words: Words) -> str:
    """Minutes for people: rounded, never ``0 minutes``."""
    if minutes < 1.0:
        return words.say("under 1 min")
    return words.duration(minutes)


def done_cuts(plan: Plan, step: int) -> frozenset[int]:
    """Cuts whose waste or piece is out of the board before the step at this index.

    A cut is made when its cutting lies behind, and what it freed is gone when no step
    that clears it lies ahead.
    """
    behind = {s.cut for s in plan.steps[:step] if s.stage == "cut" and s.cut is not None}
    ahead = {
        s.cut
        for s in plan.steps[step:]
        if s.cut is not None and s.stage in ("cut", "clear", "free")
    }
    return frozenset(behind - ahead)


@dataclass(frozen=True, slots=True)
class _Scene:
    """What all faces are made of."""

    machine: Machine
    state: State
    v: View

    @property
    def words(self) -> Words:
        return self.machine.words

    @property
    def place(self) -> str:
        """Run, step, and the time that is left."""
        return self._place(brief=False)

    @property
    def short_place(self) -> str:
        """The same in fewer letters."""
        return self._place(brief=True)

    def _place(self, *, brief: bool) -> str:
        say, v = self.words.say, self.v
        parts = []
        if v.runs > 1:
            run = {"n": v.run, "total": v.runs}
            parts.append(
                say("run {n}/{total}", **run) if brief else say("run {n} of {total}", **run)
            )
        step = {"n": v.step, "total": v.steps}
        parts.append(
            say("step {n}/{total}", **step) if brief else say("step {n} of {total}", **step)
        )
        if v.stage == "drill" and v.items and v.mode == "step":
            hole = {"n": v.item, "total": v.items}
            parts.append(
                say("hole {n}/{total}", **hole) if brief else say("hole {n} of {total}", **hole)
            )
        return PARTED.join([*parts, self._time_left])

    @property
    def _time_left(self) -> str:
        left = minutes_text(self.v.left.likely, self.words)
        return self.words.say("{minutes} left", minutes=left)

    @property
    def hint(self) -> str:
        if self.state.hurried and self.state.mode in ("checklist", "guard", "mishap", "stop"):
            return self.words.say(TOO_QUICK)
        return ""

    @property
    def moment(self) -> Moment:
        """What the map shows."""
        plan = self.machine.plan
        done = done_cuts(plan, self.state.step)
        leg = self.machine.leg(self.state.step)
        part = None if leg is None else (leg.line_from, leg.line_to)
        if part == (0.0, 1.0):
            part = None
        # turns and holding places belong to the cut itself; what is thin, to handling as well
        holding = self.v.stage not in ("thread", "drill", "lip", "clear")
        hole, drilling = self.machine.hole_at(self.state), self.v.stage == "drill"
        drilled = drilled_before(plan, self.state.step, self.state.drilled) if drilling else ()
        return Moment(
            done, self.v.cut, drilling, hole.number if hole else None,
            frozenset(h.number for h in drilled), holding, part,
        )  # fmt: skip

    @property
    def clock(self) -> Clock:
        low, likely, high = (
            clock_text(getattr(self.v.planned, end) * 60.0) for end in ("low", "likely", "high")
        )
        return Clock(
            self.v.elapsed_s, self.v.planned, self.state.since_s is not None,
            self.words.say("of {planned}", planned=likely),
            self.words.say("({low} to {high})", low=low, high=high),
        )  # fmt: skip

    def then(self, title: str) -> str:
        return self.words.say("then: {title}", title=title) if title else ""


def face_of(machine: Machine, state: State, now_s: float) -> Face:
    """The screen for a state.

    Args:
        machine: it knows the plan, the lists and the words.
        state: where the session stands.
        now_s: the machine's clock.
    """
    scene = _Scene(machine, state, view(machine, state, now_s))
    if state.mode == "stop":
        return _stop(scene)
    if state.mode == "checklist":
        return _checklist(scene)
    if state.mode == "guard":
        return _guard(scene)
    if state.mode == "mishap":
        return _mishap(scene)
    if state.mode == "pause":
        return _pause(scene)
    if state.mode == "step":
        return _step(scene)
    return _summary(scene)


def _listing(items: list[str], at: int) -> tuple[Line, ...]:
    return tuple(Line("x" if i < at else ">" if i == at else "", t) for i, t in enumerate(items))


def _checklist(s: _Scene) -> Face:
    say, texts = s.words.say, s.machine.texts
    items = [say(i.say) for i in texts.checklist]
    at = s.v.item - 1
    return Face(
        "care", say("CHECKLIST"), place=say("{n} of {total}", n=s.v.item, total=s.v.items),
        power=say("saw off"), head=s.v.prompt,
        say=_signalled(s), hint=s.hint, lines=_listing(items, at),
        next=say(texts.precedence) if texts.precedence else "",
        keys=("pedal", "again", "back", "stop", "voice", "help", "leave"),
    )  # fmt: skip


def _signalled(s: _Scene) -> str:
    """The reason of a checklist item behind its signal word (ANSI Z535.4)."""
    texts = s.machine.texts
    listed = texts.checklist if s.state.mode == "checklist" else s.machine.guard(s.state)
    item = listed[s.v.item - 1]
    return f"{s.words.say(item.signal)}: {s.words.say(item.why)}"


def _guard(s: _Scene) -> Face:
    say = s.words.say
    items = [say(i.say) for i in s.machine.guard(s.state)]
    step = s.machine.step_at(s.state)
    after = step.title if step else ""
    if s.v.item < s.v.items:
        after = items[s.v.item]
    elif s.state.ground == "checklist":
        after = say("the checklist, from its first item")
    return Face(
        "care", say("POWER-ON CHECK"), place=s.place, short_place=s.short_place,
        power=say("saw off until all is checked"),
        head=s.v.prompt, say=_signalled(s), hint=s.hint, lines=_listing(items, s.v.item - 1),
        next=s.then(after),
        keys=("pedal", "again", "back", "stop", "mishap", "note", "zoom", "voice", "help", "leave"),
        moment=s.moment, close_up=True,
    )  # fmt: skip


def _step(s: _Scene) -> Face:
    cutting = s.state.powered
    stage, terse = cast(Stage, s.v.stage), s.machine.skill == "terse"
    return Face(
        "go" if cutting else "calm", s.words.say(STAGE_WORDS[stage]), place=s.place,
        short_place=s.short_place, power=_power(s),
        head=s.v.title, say=s.v.prompt, why=s.v.why,
        hint=_told(s) if cutting else "",
        clock=s.clock, next=s.then(s.v.next_title or s.words.say("all done")),
        moment=s.moment, close_up=stage in ("cut", "lip", "clear"),
        details=_details(s) if stage in ("cut", "thread", "drill") and not terse else (),
        keys=DRILL_KEYS if stage == "drill" else WORK_KEYS,
    )  # fmt: skip


def _power(s: _Scene) -> str:
    """The saw as it must be; just after a powered step it still has to be switched off."""
    if s.state.powered:
        return s.words.say("saw on")
    before = s.machine.step_at(replace(s.state, step=s.state.step - 1)) if s.state.step else None
    if before is not None and before.stage in s.machine.powered_stages:
        return s.words.say("switch the saw off")
    if s.v.stage == "finish":
        # hours of sanding and days of drying follow: the saw does not wait for them live
        return s.words.say("saw off, plug out")
    return s.words.say("saw off")


def _told(s: _Scene) -> str:
    """What the clock has announced aloud stands on the screen too, for who did not hear it."""
    if "last-tenth" in s.state.announced:
        return s.words.say("Last tenth. Hold what is free.")
    if s.v.overdue:
        return s.words.say("Past the planned time. No hurry.")
    return ""


def _details(s: _Scene) -> tuple[str, ...]:
    """Length of what is in hand, way, dial, and its turns by kind, each with its map sign."""
    cuts = s.machine.plan.cuts
    hole = s.machine.hole_at(s.state)
    if hole is not None:
        drill = s.words.drill(hole.drill_name, hole.drill_mm)
        if isinstance(hole, SizedHole):
            told = s.words.say("{drill} drill, upright; its manual has speed and feed", drill=drill)
            return (told,)
        return (s.words.say("{drill} drill, upright, backing board under", drill=drill),)
    if s.v.cut is None or not 1 <= s.v.cut <= len(cuts):
        return ()
    cut, say = cuts[s.v.cut - 1], s.words.say
    way = say("clockwise") if cut.direction == "clockwise" else say("anticlockwise")
    leg = s.machine.leg(s.state.step)
    part = 1.0 if leg is None else abs(leg.line_to - leg.line_from)
    first = say("{length} mm, {way}, dial {dial} of {of}", length=round(part * cut.sawn_mm),
                way=way, dial=f"{cut.speed.dial:g}", of=f"{cut.speed.of:g}")  # fmt: skip
    kinds = [t.technique for t in cut.turns] if leg is None else list(leg.techniques)
    turns = _turns(kinds, s.words)
    return (first, turns) if turns else (first,)


def _turns(kinds: list[Technique], words: Words) -> str:
    """In their order, as the prompt of a leg names them; many, only counted by their kind."""
    runs = [(kind, len(list(same))) for kind, same in groupby(kinds)]
    if len(runs) > len(TURNS_COUNTED):
        runs = [(kind, kinds.count(kind)) for kind in TURNS_COUNTED if kind in kinds]
    told = [words.count(*TURNS_COUNTED[kind], n) for kind, n in runs]
    return words.say("Turns: {list}", list=", ".join(told)) if told else ""


def _pause(s: _Scene) -> Face:
    say = s.words.say
    step = s.machine.step_at(s.state)
    return Face(
        "wait", say("PAUSED"), place=s.place, short_place=s.short_place,
        power=say("saw off"), head=say("Paused"),
        say=say("The clock stands. Switch the saw off."),
        clock=s.clock,
        next=say("Tap: on with {title}", title=step.title if step else ""),
        keys=("pedal", "pause", "stop", "mishap", "note", "zoom", "voice", "help", "leave"),
        moment=s.moment, close_up=True,
    )  # fmt: skip


def _stop(s: _Scene) -> Face:
    say = s.words.say
    return Face(
        "stop", say("STOP"), power=say("SAW OFF"), head=say("STOP"), hint=s.hint,
        say=say("Switch the saw off. Hands away until the blade stands still."),
        next=say("All well again? Tap: to the power-on check.") if s.state.mishap is None
        else say("All well again? Tap: on with what to do after the mishap."),
        keys=("pedal", "again", "mishap", "note", "help", "leave"), alarm=True,
    )  # fmt: skip


def _mishap(s: _Scene) -> Face:
    say = s.words.say
    found = s.machine.texts.recovery(s.state.mishap)
    steps = [say(t) for t in found.steps] if found else []
    at_saw = s.machine.needs_power(s.state)
    off = say("saw off") if s.v.item > 1 or not at_saw else say("switch the saw off")
    last = say("the power-on check") if at_saw else say("on with the step")
    return Face(
        "stop", say("MISHAP"), place=s.place, short_place=s.short_place, power=off,
        head=s.v.prompt, say=s.v.title, hint=s.hint, lines=_listing(steps, s.v.item - 1),
        next=s.then(steps[s.v.item] if s.v.item < len(steps) else last),
        keys=("pedal", "again", "back", "stop", "note", "zoom", "voice", "help", "leave"),
        moment=s.moment, close_up=True,
    )  # fmt: skip


def learning(state: State, words: Words) -> list[str]:
    """The finished runs of a batch: how long each took, and how much less than the first."""
    if state.runs < 2:
        return []
    told = []
    for n, spent_s in enumerate(state.runs_s, 1):
        saved_s = state.runs_s[0] - spent_s
        text = words.say("run {n}: {spent}", n=n, spent=clock_text(spent_s))
        if n > 1 and saved_s >= 1.0:
            text = words.say("run {n}: {spent}, {saved} less than the first", n=n,
                             spent=clock_text(spent_s), saved=clock_text(saved_s))  # fmt: skip
        elif n > 1 and saved_s <= -1.0:
            text = words.say("run {n}: {spent}, {more} more than the first", n=n,
                             spent=clock_text(spent_s), more=clock_text(-saved_s))  # fmt: skip
        told.append(text)
    return told


def _summary(s: _Scene) -> Face:
    say, plan, state = s.words.say, s.machine.plan, s.state
    cut_s = sum(t for t, step in zip(state.spent_s, plan.steps, strict=False) if step.cut)
    told = [
        say("worked {spent}, planned {planned}", spent=clock_text(sum(state.spent_s)),
            planned=clock_text(plan.minutes.likely * 60)),
        say("of it on the cuts {spent}", spent=clock_text(cut_s)),
        s.words.count("{n} cut made", "{n} cuts made", len(plan.cuts)),
    ]  # fmt: skip
    told += learning(state, s.words)
    more = state.run < state.runs
    return Face(
        "done", say("DONE"), place=say("run {n} of {total}", n=state.run, total=state.runs)
        if state.runs > 1 else "", power=say("saw off"),
        head=say("All done") if not more else say("Run {n} done", n=state.run),
        say=say("Switch off and unplug the saw.") if not more else s.v.prompt,
        lines=tuple(Line("", t) for t in told),
        next=say("Tap: the next run.") if more else say("q: leave. kerfside review shows it all."),
        keys=("pedal", "back", "note", "voice", "help", "leave"),
        moment=Moment(frozenset(c.number for c in plan.cuts), holding=False),
    )  # fmt: skip
