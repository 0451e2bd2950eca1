"""Charts for the terminal: bars of blocks beside the numbers they stand for."""

from __future__ import annotations

from collections.abc import Sequence

from companion.review.build import curve_names, newest_curves
from companion.review.insight import Person, latest_by_project, people
from companion.review.model import Review
from companion.review.text import CURVE_RUNS, CURVES_SHOWN, left_out
from companion.review.worktime import learning_rate
from companion.words import Words

CELLS = 30
PARTS = " ▏▎▍▌▋▊▉"


def bar(value: float, most: float, cells: int = CELLS) -> str:
    """A bar to an eighth of a cell.

    >>> bar(1.0, 2.0, 4), bar(2.0, 2.0, 4), bar(0.0, 2.0, 4), bar(1.25, 4.0, 2)
    ('██', '████', '', '▋')
    """
    eighths = round(8 * cells * value / most) if most > 0.0 else 0
    return "█" * (eighths // 8) + (PARTS[eighths % 8] if eighths % 8 else "")


def chart_lines(found: Review, words: Words) -> list[str]:
    """Stages of the newest run, the learning curve, streaks, sawyers side by side."""
    lines: list[str] = []
    names = curve_names(found.runs)
    for run in latest_by_project(found.runs, 1):
        stages = run.stages
        if stages:
            lines += ["", words.say("Stages of {project}: planned over taken, minutes",
                                    project=names[run.work, run.sawyer])]  # fmt: skip
            most = max(max(s.planned_min, s.took_min) for s in stages)
            for s in stages:
                name = words.say(s.stage)
                lines.append(
                    f"  {name:<10}{words.number(s.planned_min):>7} {bar(s.planned_min, most)}"
                )
                lines.append(f"  {'':<10}{words.number(s.took_min):>7} {bar(s.took_min, most)}")
    every = people(found)
    lines += _curves(found, words) + _people(every, words)
    return lines + _rows_of_days(every, words)


def _rows_of_days(every: Sequence[Person], words: Words) -> list[str]:
    """Each sawyer's own: nobody practises in another's row."""
    lines = []
    for p in every:
        row = p.practice
        if row.days > 1:
            told = words.say(
                "Days with work: {days}, longest row {row}; weeks in a row: {weeks}, "
                "longest {most}", days=row.days, row=row.longest_days, weeks=row.current_weeks,
                most=row.longest_weeks,
            )  # fmt: skip
            who = f"{p.name or words.say('(no name)')}: " if len(every) > 1 else ""
            lines.append(f"{who}{told}")
    return ["", *lines] if lines else []


def _curves(found: Review, words: Words) -> list[str]:
    names = curve_names(found.runs)
    lines: list[str] = []
    for work, times in newest_curves(found.runs, CURVES_SHOWN).items():
        fit = learning_rate(times)
        if fit is None:
            continue
        lines += ["", words.say("{project}: each doubling of the runs takes {rate} % of the time",
                                project=names[work], rate=f"{100 * fit[1]:.0f}")]  # fmt: skip
        lines += left_out(len(times) - CURVE_RUNS, words) + _numbered(times, words)
    return lines


def _numbered(times: Sequence[float], words: Words) -> list[str]:
    most = max(times)
    every = [f"  {i:4}{words.number(m):>9} {bar(m, most)}" for i, m in enumerate(times, 1)]
    return every[-CURVE_RUNS:]


def _people(every: Sequence[Person], words: Words) -> list[str]:
    if len(every) < 2:
        return []
    lines = ["", words.say("Sawyers side by side: sessions, minutes, against plan")]
    most = max(p.minutes for p in every)
    for p in every:
        against = "-" if p.against_plan is None else f"{100 * (p.against_plan - 1):+.0f} %"
        name = p.name or words.say("(no name)")
        lines.append(f"  {name:<16}{p.sessions:5}{words.number(p.minutes):>9}{against:>8} "
                     f"{bar(p.minutes, most)}")  # fmt: skip
    return lines
