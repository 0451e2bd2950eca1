"""What is said while the blade runs, without being asked.

A scroll saw tells no position, so place is reckoned from time: the share of the
planned minutes that has been worked is taken as the share of the line that has been
cut. Each announcement is made once; turns come in the order of the line, and those
that follow each other closely are told together, since a hint that comes while the
one before is still spoken helps nobody.

Half and the last tenth are shares of the planned time. Lead and grouping are our own
choice, to be judged by ear: no published source.
"""

from __future__ import annotations

import bisect
from dataclasses import dataclass, replace
from typing import Literal

from companion.findings import Point
from companion.planner.plan import Cut, Plan, Technique
from companion.planner.timing import cut_features, feed_amount, rates_for
from companion.session.model import Cue, Effect, Say, State
from companion.shop.model import Skill
from companion.words import Words

LEAD_S = 8.0
"""A turn is told this long before it is due."""
GROUP_S = 6.0
"""Turns due within this time of the first are told with it."""
HALF = 0.5
LAST_TENTH = 0.9

TOLD: dict[Technique, tuple[str, str]] = {
    "spin": ("{n} spin ahead.", "{n} spins ahead."),
    "back-out": ("{n} back-out ahead.", "{n} back-outs ahead."),
    "loop": ("{n} loop ahead.", "{n} loops ahead."),
}
REASON: dict[Technique, str] = {
    "spin": "Stop feeding, turn the work on the spot, go on.",
    "back-out": "Cut into the corner, back out, come at it from the other side.",
    "loop": "Run past the point into the waste and come round.",
}


ROUNDED = 0.02
"""A turn so near to a stretch's end, as a share of the stretch, is the one it ends with.

The kept plan rounds where its legs end.
"""


@dataclass(frozen=True, slots=True)
class Leg:
    """The stretch of a cut that one powered step covers."""

    cut: Cut
    done_from: float
    """Share of the cut's work done before this step, 0 to 1."""
    done_to: float
    """Share done after it."""
    line_from: float
    """Where on the cut's line it begins, 0 to 1."""
    line_to: float
    """Where it ends; before its beginning when it runs against the line's direction."""
    likely_s: float
    """Planned seconds of the step; 0 when the plan does not know."""
    high_s: float
    due_s: tuple[float, ...]
    """When each turn of the stretch is due, seconds into the step, ascending."""
    techniques: tuple[Technique, ...]
    """What each of these turns is."""

    def _part(self, active_s: float) -> float:
        return min(1.0, active_s / self.likely_s) if self.likely_s > 0 else 0.0

    def share(self, active_s: float) -> float:
        """Share of the cut reckoned as done after so many seconds of this step, 0 to 1."""
        return self.done_from + self._part(active_s) * (self.done_to - self.done_from)

    def along(self, active_s: float) -> float:
        """Where on the line the blade is reckoned to be, 0 to 1 from its start."""
        return self.line_from + self._part(active_s) * (self.line_to - self.line_from)

    def place_mm(self, active_s: float) -> Point:
        """The same place in board mm."""
        return along(self.cut, self.along(active_s))


def along(cut: Cut, share: float) -> Point:
    """The point at a share of a cut's line; its start for a line of no length."""
    line = cut.line_mm
    lengths = [
        ((b[0] - a[0]) ** 2 + (b[1] - a[1]) ** 2) ** 0.5
        for a, b in zip(line, line[1:], strict=False)
    ]
    left = max(0.0, min(1.0, share)) * sum(lengths)
    for (a, b), length in zip(zip(line, line[1:], strict=False), lengths, strict=True):
        if 0.0 < left <= length:
            t = left / length
            return (a[0] + t * (b[0] - a[0]), a[1] + t * (b[1] - a[1]))
        left -= length
    return cut.start_mm if share < HALF or not line else line[-1]


def leg_of(plan: Plan, index: int, powered: frozenset[str]) -> Leg | None:
    """The stretch a step covers; None when the step is not powered or has no cut.

    Of several powered steps of one cut each goes on where the one before it ends; when a
    cut is made in two runs, the second goes from the start the other way, to where the
    first one stopped.
    """
    step = plan.steps[index]
    if step.stage not in powered or step.cut is None or not 1 <= step.cut <= len(plan.cuts):
        return None
    cut = plan.cuts[step.cut - 1]
    legs = _same_cut(plan, index, powered)
    total = sum(m for _, m in legs)
    before = sum(m for i, m in legs if i < index)
    likely_s = step.minutes.likely * 60.0
    done = (0.0, 1.0)
    if total > 0:
        done = (before / total, (before + step.minutes.likely) / total)
    behind = [i for i, _ in legs if i < index]
    line = (plan.steps[behind[-1]].line_to if behind else 0.0, step.line_to)
    if cut.meet_along_mm is not None and cut.length_mm > 0:
        meet = cut.meet_along_mm / cut.length_mm
        line = (0.0, meet) if index == legs[0][0] else (1.0, meet)
    due = _turns_due(cut, line, likely_s)
    if cut.comes_back:
        # its turns all lie on the way out; the way back is drawn, not sawn
        whole = cut_features(cut, plan.board)
        rates = rates_for("practised")
        out_s = feed_amount(replace(whole, back_mm=0.0), rates).seconds
        share = out_s / (feed_amount(whole, rates).seconds or 1.0)
        due = [(min(2.0 * share * s, likely_s), t) for s, t in due]
    return Leg(
        cut, *done, *line, likely_s, step.minutes.high * 60.0,
        tuple(s for s, _ in due), tuple(t for _, t in due),
    )  # fmt: skip


def _turns_due(
    cut: Cut, line: tuple[float, float], likely_s: float
) -> list[tuple[float, Technique]]:
    """When the turns on a stretch come, seconds into it; a turn at its very end belongs to it."""
    begin, end = line
    if cut.length_mm <= 0 or begin == end:
        return []
    parts = [((t.along_mm / cut.length_mm - begin) / (end - begin), t) for t in cut.turns]
    # no leg ends before the first: what lies near the cut's own start is not cut off
    least = 1e-6 if begin in (0.0, 1.0) else ROUNDED
    found = [(p * likely_s, t.technique) for p, t in parts if least < p <= 1.0 + ROUNDED]
    return sorted(found, key=lambda d: d[0])


def _same_cut(plan: Plan, index: int, powered: frozenset[str]) -> list[tuple[int, float]]:
    """Powered steps of one cut, which stand near each other: index and likely minutes."""
    cut, steps = plan.steps[index].cut, plan.steps
    first = last = index
    while first > 0 and steps[first - 1].cut == cut:
        first -= 1
    while last + 1 < len(steps) and steps[last + 1].cut == cut:
        last += 1
    return [
        (i, steps[i].minutes.likely) for i in range(first, last + 1) if steps[i].stage in powered
    ]


Flag = Literal["half", "last-tenth", "overdue"]


def _flags(leg: Leg, active_s: float) -> list[Flag]:
    """What the clock alone says is due, in the order in which it comes."""
    found: list[Flag] = []
    if leg.likely_s > 0:
        share = leg.share(active_s)
        if leg.done_from < HALF <= share < LAST_TENTH:
            found.append("half")
        if leg.cut.side == "outside" and share >= LAST_TENTH:
            found.append("last-tenth")
        if active_s > max(leg.high_s, leg.likely_s):
            found.append("overdue")
    return found


def forget(state: State, leg: Leg | None, now_s: float) -> State:
    """Mark as made what lies behind already, so that a return does not say it again.

    The last tenth is not marked: whoever comes back to it must hear it.
    """
    if leg is None:
        return replace(state, announced=frozenset(), turns_said=0)
    active_s = state.active_s(now_s)
    behind = frozenset[str](f for f in _flags(leg, active_s) if f != "last-tenth")
    return replace(state, announced=behind, turns_said=bisect.bisect_left(leg.due_s, active_s))


def announce(
    state: State, leg: Leg, now_s: float, skill: Skill, words: Words
) -> tuple[State, list[Effect]]:
    """What has become due in a running cut.

    Args:
        state: a powered state in mode ``step``.
        leg: the stretch of the present step.
        now_s: the clock.
        skill: a terse sawyer hears only the last tenth and overdue; a beginner also hears,
            once a cut, how each kind of turn is made.
        words: the sentences.
    """
    active_s = state.active_s(now_s)
    effects: list[Effect] = []
    for flag in _flags(leg, active_s):
        if flag in state.announced:
            continue
        state = replace(state, announced=state.announced | {flag})
        effects += _flag_effects(flag, skill, words, bool(leg.cut.hold_mm))
    due = bisect.bisect_right(leg.due_s, active_s + LEAD_S)
    if due > state.turns_said:
        first_s = leg.due_s[state.turns_said]
        upto = max(due, bisect.bisect_right(leg.due_s, first_s + GROUP_S))
        told, before = leg.techniques[state.turns_said : upto], leg.techniques[: state.turns_said]
        state = replace(state, turns_said=upto)
        if skill != "terse":
            new = tuple(t for t in dict.fromkeys(told) if t not in before)
            reasons = [words.say(REASON[t]) for t in new] if skill == "beginner" else []
            effects.append(Say(" ".join([_turns(told, words), *reasons]), "ahead"))
    return state, effects


def _flag_effects(flag: Flag, skill: Skill, words: Words, held: bool) -> list[Effect]:
    if flag == "last-tenth":
        if not held:  # no place on it is far enough from the blade for a finger
            return [Cue("last-tenth"), Say(words.say("Last tenth. Fingers clear."), "guard")]
        return [Cue("last-tenth"), Say(words.say("Last tenth. Hold what is free."), "guard")]
    if flag == "overdue":
        return [Say(words.say("Past the planned time. No hurry."), "ahead")]
    if skill == "terse":
        return []
    return [Cue("halfway"), Say(words.say("Half of the cut."), "ahead")]


def _turns(told: tuple[Technique, ...], words: Words) -> str:
    """``2 spins ahead. 1 loop ahead.``: runs of the same technique, in order."""
    runs: list[tuple[Technique, int]] = []
    for technique in told:
        if runs and runs[-1][0] == technique:
            runs[-1] = (technique, runs[-1][1] + 1)
        else:
            runs.append((technique, 1))
    return " ".join(words.count(*TOLD[technique], n) for technique, n in runs)
