"""A review as lines for the terminal: a table beside each figure, oldest first."""

from __future__ import annotations

import re
import time
from collections.abc import Sequence
from textwrap import wrap

from companion.planner.plan import Minutes
from companion.review.build import curve_names, newest_curves
from companion.review.model import SHARES, MishapSeen, Review, RunSeen, SessionSeen, Share, Totals
from companion.shop import checks
from companion.units import MM_PER_INCH
from companion.words import Words

SESSIONS_SHOWN = 12
"""Newest sessions listed; the JSON lists all."""
RUNS_SHOWN = 6
CURVES_SHOWN = 6
"""Works whose runs are listed, the last ones worked on."""
CURVE_RUNS = 12
"""Newest runs listed of each."""
MISHAPS_SHOWN = 20
"""Newest mishaps listed, and notes."""
_TIED = re.compile(r"(?<=\d) (?=%|mm\b|min\b|in\b)|(?<=[^\W\d]) (?=\d)")
"""Blanks at which no line is parted: a number stays with its unit, and with what it counts."""
WIDTH = 79
"""Of a line: the least terminal has 80 columns."""


def share_names(words: Words) -> dict[Share, str]:
    """What each share is called."""
    return {
        "cutting": words.say("cutting"), "threading": words.say("threading"),
        "other": words.say("other steps"), "checks": words.say("checks"),
        "paused": words.say("paused"), "stopped": words.say("stopped"),
    }  # fmt: skip


def mishap_name(key: str, words: Words) -> str:
    """What a kind of mishap is called; one that the table no longer knows, by its key.

    >>> from companion.words import ENGLISH
    >>> mishap_name("wandered", ENGLISH), mishap_name("old-kind", ENGLISH)
    ('off the line', 'old kind')
    """
    names = {kind.key: kind.name for kind in checks.mishaps()}
    return words.say(names.get(key, key.replace("-", " ")))


def when(wall_s: float, utc_offset_min: int | None = None) -> str:
    """Local date and time, in the offset of the session or else of this machine."""
    if utc_offset_min is None:
        return time.strftime("%Y-%m-%d %H:%M", time.localtime(wall_s))
    return time.strftime("%Y-%m-%d %H:%M", time.gmtime(wall_s + utc_offset_min * 60))


def shares_text(shares: dict[Share, float], words: Words) -> str:
    """``cutting 45 %, threading 12 %``: those that are seen at all, in their fixed order.

    >>> from companion.words import ENGLISH
    >>> shares_text({"cutting": 3.0, "paused": 1.0}, ENGLISH)
    'cutting 75 %, paused 25 %'
    """
    whole = sum(shares.values())
    names = share_names(words)
    return ", ".join(
        f"{names[s]} {100 * shares[s] / whole:.0f} %"
        for s in SHARES
        if shares.get(s, 0.0) >= 0.005 * whole > 0.0
    )


def review_lines(found: Review, words: Words) -> list[str]:
    """The whole review; one line when nothing is logged."""
    if not found.sessions and not found.runs:
        return [words.say("Nothing is logged yet.")]
    lines = [words.say("Sessions")]
    lines += left_out(len(found.sessions) - SESSIONS_SHOWN, words)
    for session in found.sessions[-SESSIONS_SHOWN:]:
        lines += _session(session, words)
    shown = [r for r in found.runs if not r.superseded]
    lines += ["", words.say("Runs")] + left_out(len(shown) - RUNS_SHOWN, words)
    for run in shown[-RUNS_SHOWN:]:
        lines += run_lines(run, words)
    lines += _learning(found.runs, words)
    if found.mishaps:
        projects = {r.run: r.project for r in found.runs}
        if len(set(projects.values())) == 1:
            projects = {}
        lines += ["", words.say("Mishaps")]
        lines += left_out(len(found.mishaps) - MISHAPS_SHOWN, words)
        for m in found.mishaps[-MISHAPS_SHOWN:]:
            lines.append(mishap_line(m, words, projects.get(m.run, "")))
    if found.notes:
        lines += ["", words.say("Notes"), *left_out(len(found.notes) - MISHAPS_SHOWN, words)]
        lines += [f"  {when(n.wall_s)}  {n.text}" for n in found.notes[-MISHAPS_SHOWN:]]
    lines += ["", *_totals(found.totals, words)]
    return [part for line in lines for part in _fitted(line)]


def _fitted(line: str) -> list[str]:
    """A line that is too long for the terminal, parted between words."""
    if len(line) <= WIDTH:
        return [line]
    indent = line[: len(line) - len(line.lstrip())]
    whole = _TIED.sub("\u00a0", line.strip())
    parts = wrap(whole, WIDTH, initial_indent=indent, subsequent_indent=f"{indent}    ")
    return [part.replace("\u00a0", " ") for part in parts]


def left_out(n: int, words: Words) -> list[str]:
    """A line about those that are not shown; none when all are."""
    if n <= 0:
        return []
    return ["  " + words.count("{n} earlier one; --json lists it.",
                               "{n} earlier ones; --json lists them.", n)]  # fmt: skip


def _session(s: SessionSeen, words: Words) -> list[str]:
    ends = {"left": words.say("left"), "cut off": words.say("cut off or still going on")}
    made_up = " " + words.say("(rehearsal)") if s.rehearsed else ""
    who = f", {s.sawyer}" if s.sawyer else ""
    steps = words.count("{n} step done", "{n} steps done", s.steps_done)
    head = words.say("{minutes} min, {steps}, {ending}", minutes=f"{s.minutes:.1f}",
                     steps=steps, ending=ends[s.ending])  # fmt: skip
    lines = [f"  {when(s.begun_s, s.utc_offset_min)}  {s.project}{who}{made_up}: {head}"]
    if s.minutes > 0:
        lines.append(f"      {shares_text(s.shares, words)}")
    if s.mishaps:
        lines.append("      " + words.count("{n} mishap", "{n} mishaps", s.mishaps))
    if s.asleep_min > 0:
        asleep = words.say("asleep {n} min, not counted", n=f"{s.asleep_min:.0f}")
        lines.append(f"      {asleep}")
    return lines


def run_lines(r: RunSeen, words: Words) -> list[str]:
    """One run with each of its cuts."""
    states = {
        "done": words.say("done"),
        "open": words.say("open at step {n} of {total}", n=r.at, total=r.step_count),
        "dropped": words.say("dropped at step {n} of {total}", n=r.at, total=r.step_count),
    }
    made_up = " " + words.say("(rehearsal)") if r.rehearsed else ""
    of = words.say(" run {n} of {total}", n=r.number, total=r.runs) if r.runs > 1 else ""
    who = f", {r.sawyer}" if r.sawyer else ""
    lines = [
        f"  {when(r.begun_s)}  {r.project}{who}{of}{made_up}: {states[r.state]}",
        "      " + words.say("worked {took} min, planned {planned}", took=f"{r.took_min:.1f}",
                             planned=_range(r.planned, words)),
    ]  # fmt: skip
    if r.corrections:
        lines.append("      " + words.count(
            "{n} correction was made afterwards; the log keeps what was written first too.",
            "{n} corrections were made afterwards; the log keeps what was written first too.",
            r.corrections,
        ))  # fmt: skip
    begun = [c for c in r.cuts if c.took_min or c.thread_took_min or c.done or c.mishaps]
    if begun:
        lines.append("  " + words.say(
            " cut  side      length  planned min          taken  to plan  threading"
        ))  # fmt: skip
    for c in begun:
        side = {"inside": words.say("inside"), "outside": words.say("outside")}.get(c.side, "")
        taken = words.number(c.took_min) if c.took_min or c.done else "-"
        against = "-" if c.ratio is None else f"{100 * (c.ratio - 1):+.0f} %"
        marks = [words.count("{n} mishap", "{n} mishaps", c.mishaps)] if c.mishaps else []
        marks += [words.say("corrected")] if c.corrected else []
        planned = _range(c.planned, words)
        lines.append(
            f"  {c.number:4}  {side:<8}{words.length(c.length_mm, 0):>8}  {planned:<19}{taken:>7}"
            f"{against:>9}{words.number(c.thread_took_min):>11}"
        )
        if marks:
            lines.append(f"        {', '.join(marks)}")
    left = len(r.cuts) - len(begun)
    if left and r.state == "open":
        lines.append("       " + words.count("{n} cut not begun", "{n} cuts not begun", left))
    return lines


def _range(minutes: Minutes, words: Words) -> str:
    return words.say("{likely:.1f} ({low:.1f} to {high:.1f})", likely=minutes.likely,
                     low=minutes.low, high=minutes.high)  # fmt: skip


def _learning(runs: Sequence[RunSeen], words: Words) -> list[str]:
    names = curve_names(runs)
    lines = []
    for work, curve in newest_curves(runs, CURVES_SHOWN).items():
        told = [words.number(m) for m in curve]
        # a comma that is a decimal mark cannot part two numbers as well
        parting = "; " if "," in told[0] else ", "
        times = parting.join(told if len(told) <= CURVE_RUNS + 1 else told[-CURVE_RUNS:])
        if len(told) > CURVE_RUNS + 1:
            # the first one tells what was learnt since
            times = f"{told[0]} … {times}"
        lines.append("  " + words.say("{project}: {times} min", project=names[work],
                                      times=times))  # fmt: skip
    return ["", words.say("Finished runs of the same work, in order"), *lines] if lines else []


def mishap_line(m: MishapSeen, words: Words, project: str = "") -> str:
    """One mishap, with its number in its run and, where there are several, its project."""
    where = words.say("cut {n}", n=m.cut) if m.cut is not None else words.say(m.stage)
    place = "" if m.at_mm is None else f" ({', '.join(words.length(v, 0) for v in m.at_mm)})"
    end = "" if m.recovered else ", " + words.say("recovery not finished")
    kind = mishap_name(m.kind, words)
    minute = words.say("minute {n}", n=f"{m.minute:.1f}")
    end += ", " + words.say("corrected") if m.corrected else ""
    of = f"{project}, " if project else ""
    return f"  {when(m.wall_s)}  {m.number}. {kind}: {of}{where}{place}, {minute}{end}"


def way_text(cut_mm: float, words: Words) -> str:
    """A long way along lines, in the user's long unit.

    >>> from companion.words import ENGLISH
    >>> way_text(1524.0, ENGLISH), way_text(1524.0, Words(inch=True))
    ('1.52 m', '5.0 ft')
    """
    if words.inch:
        return words.say("{n} ft", n=words.number(cut_mm / (12 * MM_PER_INCH)))
    return words.say("{n} m", n=words.number(cut_mm / 1000, 2))


def _totals(t: Totals, words: Words) -> list[str]:
    lines = [words.say("In all")]
    sessions = words.count("{n} session", "{n} sessions", t.sessions)
    runs = words.count("{n} finished run", "{n} finished runs", t.runs_done)
    lines.append(words.say("  {sessions}, {minutes} min at the saw, {runs}, {length} cut",
                           sessions=sessions, minutes=f"{t.minutes:.1f}", runs=runs,
                           length=way_text(t.cut_mm, words)))  # fmt: skip
    if t.minutes > 0:
        lines.append(f"  {shares_text(t.shares, words)}")
    if t.planned_done_min > 0:
        percent = 100 * (t.took_done_min / t.planned_done_min - 1)
        lines.append(words.say("  steps done: {took} min taken, {planned} planned ({percent} %)",
                               took=f"{t.took_done_min:.1f}",
                               planned=f"{t.planned_done_min:.1f}",
                               percent=f"{percent:+.0f}"))  # fmt: skip
    if t.mishaps:
        kinds = ", ".join(f"{mishap_name(k, words)} {n}" for k, n in t.mishaps.items())
        lines.append(words.say("  mishaps: {kinds}", kinds=kinds))
    if t.rehearsals:
        lines.append("  " + words.count("{n} rehearsal is in none of these sums.",
                                        "{n} rehearsals are in none of these sums.",
                                        t.rehearsals))  # fmt: skip
    return lines
