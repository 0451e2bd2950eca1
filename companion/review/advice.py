"""What a review comes down to, in a few sentences.

Where the time goes, what one piece takes, what costs more than it should and what helps, and
how to learn what to charge. The hints are common practice, no published source.
"""

from __future__ import annotations

import math
from collections import Counter, defaultdict
from collections.abc import Mapping, Sequence
from itertools import islice
from statistics import median
from textwrap import wrap

from companion.review.build import learning
from companion.review.model import SHARES, Review, RunSeen, SessionSeen
from companion.review.text import mishap_name
from companion.review.worktime import hodges_lehmann
from companion.words import Words

PARTS_SHOWN = 6
NEWEST_CUTS = 150
"""From so many the typical difference is taken: older ones are another hand's."""
ENOUGH_CUTS = 5
ENOUGH_STEPS = 3
WORTH_TELLING = 0.08
"""Share by which a difference must be off before it is one."""


def in_short(found: Review, words: Words, sawyer: str = "", own: bool = True) -> list[str]:
    """The sentences, most telling first; none when nothing real was done.

    Args:
        found: all that is told.
        words: the language.
        sawyer: of several, the one to whom it is said; nothing is said when there are
            several and this is none of them.
        own: it is the reader's log; of a recorded rehearsal nothing follows for the reader's
            own minutes and prices.
    """
    every = [r for r in found.runs if not r.rehearsed]
    sessions = [s for s in found.sessions if not s.rehearsed]
    if len({r.sawyer for r in every} | {s.sawyer for s in sessions}) > 1:
        every = [r for r in every if r.sawyer == sawyer]
        sessions = [s for s in sessions if s.sawyer == sawyer]
    runs = [r for r in every if not r.superseded]
    if sum(s.minutes for s in sessions) <= 0.0 or not runs:
        return []
    told = [
        *_hour(sessions, runs, words), *_one(runs, words), *_over(runs, words),
        *_mishaps(found, every, words),
    ]  # fmt: skip
    return [*told, *_typical(runs, words), *_charge(runs, words)] if own else told


def _hour(sessions: Sequence[SessionSeen], runs: Sequence[RunSeen], words: Words) -> list[str]:
    """An hour at the saw, the steps beside cutting and threading told by their stage."""
    shares: dict[str, float] = {k: sum(s.shares[k] for s in sessions) for k in SHARES}
    whole = sum(s.minutes for s in sessions)
    stages: defaultdict[str, float] = defaultdict(float)
    for run in runs:
        for s in run.stages:
            if s.stage not in ("cut", "thread"):
                stages[s.stage] += s.took_min
    other, told = shares.pop("other", 0.0), sum(stages.values())
    names = {
        "cutting": words.say("cutting"), "threading": words.say("threading"),
        "checks": words.say("checks"), "paused": words.say("paused"),
        "stopped": words.say("stopped"),
    }  # fmt: skip
    parts = [(names[share], minutes) for share, minutes in shares.items()]
    if told > 0.0:
        parts += [(words.say(stage), other * m / told) for stage, m in stages.items() if stage]
    parts.sort(key=lambda part: -part[1])
    hour = [(name, 60.0 * minutes / whole) for name, minutes in parts]
    listed = ", ".join(f"{name} {minutes:.0f}" for name, minutes in hour[:PARTS_SHOWN]
                       if minutes >= 0.5)  # fmt: skip
    return [words.say("Minutes of an hour at the saw: {parts}.", parts=listed)]


def _one(runs: Sequence[RunSeen], words: Words) -> list[str]:
    """Minutes of one piece of the newest work that was finished."""
    done = [r for r in runs if r.state == "done"]
    if not done:
        return []
    last = max(done, key=lambda r: r.begun_s)
    times = learning(runs)[last.work, last.sawyer]
    newest = times[-5:]
    told = words.count(
        "One {project} took {minutes} min.",
        "One {project} takes {minutes} min, the middle of the last {n}; the first took {first}.",
        len(newest), project=last.project, minutes=f"{median(newest):.0f}", first=f"{times[0]:.0f}",
    )  # fmt: skip
    if last.stack > 1:
        told += " " + words.say("That is {n} boards at once.", n=last.stack)
    return [told]


def _over(runs: Sequence[RunSeen], words: Words) -> list[str]:
    """The stage that takes most beyond its plan, and the one that saves most."""
    sums: dict[str, list[float]] = {}
    for run in runs:
        for s in run.stages:
            own = sums.setdefault(s.stage, [0.0, 0.0, 0.0])
            own[0] += s.steps
            own[1] += s.planned_min
            own[2] += s.took_min
    known = {k: v for k, v in sums.items() if v[0] >= ENOUGH_STEPS and v[1] > 0.0}
    if not known:
        return []
    lines = []
    worst = max(known, key=lambda k: known[k][2] - known[k][1])
    steps, planned, took = known[worst]
    if took > planned * (1.0 + WORTH_TELLING):
        told = words.say(
            "Most beyond the plan: {stage}, {took} min a step where {planned} were planned; "
            "{more} min a run.", stage=words.say(worst), took=f"{took / steps:.1f}",
            planned=f"{planned / steps:.1f}", more=f"{(took - planned) / len(runs):.1f}",
        )  # fmt: skip
        hint = _stage_hints(words).get(worst)
        lines.append(f"{told} {hint}" if hint else told)
    best = min(known, key=lambda k: known[k][2] - known[k][1])
    steps, planned, took = known[best]
    if took < planned * (1.0 - WORTH_TELLING):
        lines.append(words.say(
            'Quicker than planned: the steps of "{stage}" took {percent} % less time.',
            stage=words.say(best), percent=f"{100.0 * (1.0 - took / planned):.0f}",
        ))  # fmt: skip
    return lines


def _stage_hints(words: Words) -> Mapping[str, str]:
    return {
        "thread": words.say("Lay blade, key and light within reach before you sit down; kerfside "
                            "practice threading drills it."),
        "cut": words.say("A fresh blade and the right speed come first; kerfside practice has a "
                         "level for corners, waves and points."),
        "drill": words.say("Punch all centres first; a sharp drill over a backing board saves "
                           "the time."),
        "lip": words.say("Start on a straight stretch and meet the start on the line: then there "
                         "is no lip to shave."),
        "prepare": words.say("Glue several sheets and tape several stacks in one go."),
    }  # fmt: skip


def _mishaps(found: Review, runs: Sequence[RunSeen], words: Words) -> list[str]:
    own = {r.run: r for r in runs}
    seen = [m for m in found.mishaps if m.run in own]
    if len(seen) < 2:
        return []
    (kind, times), *_ = Counter(m.kind for m in seen).most_common()
    line = words.say("Most frequent mishap: {kind}, {n} of {total}.", n=times, total=len(seen),
                     kind=mishap_name(kind, words))  # fmt: skip
    # what was gone on with under another plan numbered its cuts in another way
    places = Counter((own[m.run].project, m.cut) for m in seen
                     if m.kind == kind and m.cut and not own[m.run].superseded)  # fmt: skip
    if places:
        (project, cut), n = places.most_common(1)[0]
        if n > 1:
            line += " " + words.say("{n} of them in cut {cut} of {project}.", n=n, cut=cut,
                                    project=project)  # fmt: skip
    hints = {
        "blade-broke": words.say("Feed less, look at the tension, and change the blade sooner."),
        "blade-slipped": words.say("Clean the clamps and the blade's ends, and pluck the blade "
                                   "before each power-on."),
        "wandered": words.say("Feed less, and let the blade cut; a dull or slack blade wanders."),
        "burning": words.say("A fresh blade, a lower speed, and tape over the line."),
    }  # fmt: skip
    return [f"{line} {hints[kind]}" if kind in hints else line]


def _typical(runs: Sequence[RunSeen], words: Words) -> list[str]:
    """How far this hand is from the plan, cut by cut: no single bad cut moves it."""
    newest_first = sorted(runs, key=lambda r: -r.begun_s)
    ratios = (c.ratio for r in newest_first for c in reversed(r.cuts))
    logs = [math.log(ratio) for ratio in islice(filter(None, ratios), NEWEST_CUTS)]
    if len(logs) < ENOUGH_CUTS:
        return []
    off = math.expm1(hodges_lehmann(logs))
    percent = f"{100.0 * abs(off):.0f}"
    if off > WORTH_TELLING:
        told = words.say("Your cuts typically take {percent} % longer than planned.",
                         percent=percent)  # fmt: skip
    elif off < -WORTH_TELLING:
        told = words.say("Your cuts typically take {percent} % less time than planned.",
                         percent=percent)  # fmt: skip
    else:
        return [words.say("Your cuts typically take as long as planned.")]
    return [told + " " + words.say("kerfside review --calibrate makes the plan's minutes yours.")]


def _charge(runs: Sequence[RunSeen], words: Words) -> list[str]:
    """Of the newest run that is done: before one is, there is nothing to charge for."""
    done = [r for r in runs if r.state == "done"]
    if not done:
        return []
    last = max(done, key=lambda r: r.begun_s)
    return [words.say('What to charge for ten: kerfside review FOLDER --cost 10, where FOLDER is '
                      'the project "{project}".', project=last.project)]  # fmt: skip


def in_short_lines(
    found: Review, words: Words, width: int, sawyer: str = "", own: bool = True
) -> list[str]:
    """The sentences under their heading, for a terminal of so many columns."""
    sentences = in_short(found, words, sawyer, own)
    if not sentences:
        return []
    wrapped = [wrap(s, max(20, width - 1), initial_indent="  ", subsequent_indent="    ")
               for s in sentences]  # fmt: skip
    return ["", words.say("In short"), *(line for lines in wrapped for line in lines)]
