"""A calibration as the sawyer reads it: his own times beside the tables'."""

from __future__ import annotations

import math
import time

from companion.planner.plan import Z80
from companion.planner.timing import Rates, rates_for
from companion.review.calibrate import SURE, Found, Learnt
from companion.review.worktime import readings_needed
from companion.shop import tables
from companion.shop.model import Skill
from companion.units import MM_PER_INCH
from companion.words import Words

HARDLY = 0.5
"""Beyond this error a figure would only pretend that something is known."""
OUTLIERS_SHOWN = 20
COUNTED = ("spin", "back_out", "loop", "drill")
"""Known by their own number; the others wait rather for further days than further cuts."""


def found_lines(found: Found, skill: Skill, words: Words, asked: bool = False) -> list[str]:
    """Factors with their ranges, then what lies far out.

    Args:
        found: what the log teaches.
        skill: whose table values are meant.
        words: the language.
        asked: what lay far out has been left out already; what does so now is left in.
    """
    shown = [one for one in found.learnt if one.seen]
    # as wide as the names: with short ones a line fits a terminal of 80 columns
    wide = max((len(technique_name(one.technique, words)) for one in shown), default=0)
    lines = [
        words.count("From {n} session", "From {n} sessions", found.sessions)
        + words.count(", {n} timed step:", ", {n} timed steps:", found.used),
        words.say("  {what}{own:>12}  {range:<14}{table:>12}{seen:>6}",
                  what=words.say("technique").ljust(wide), own=words.say("yours"),
                  range=words.say("four in five"), table=words.say("table"),
                  seen=words.say("seen")),
    ]  # fmt: skip
    lines += [_one(one, found.material, wide, skill, words) for one in shown]
    lines += _feed(found, skill, words) + _trend(found, words) + _unsure(found, words)
    if found.outliers:
        head = words.say("Far from what your hand does otherwise:")
        if asked:
            head = words.say("Now far out, and left in; calibrate again to be asked about them:")
        lines += ["", head]
        lines += [_outlier(found, i, words) for i in range(min(len(found.outliers),
                                                               OUTLIERS_SHOWN))]  # fmt: skip
        rest = len(found.outliers) - OUTLIERS_SHOWN
        if rest > 0:
            lines.append("  " + words.count("and {n} more", "and {n} more", rest))
    return lines


def _one(one: Learnt, usual: str, wide: int, skill: Skill, words: Words) -> str:
    low, high = (one.factor * math.exp(side * Z80 * one.spread) for side in (-1.0, 1.0))
    table, unit = _table(one.technique, usual, rates_for(skill), words)
    if one.technique == "feed":  # a speed: the factor is on time
        own, low_v, high_v = table / one.factor, table / high, table / low
    else:
        own, low_v, high_v = table * one.factor, table * low, table * high
    digits = 0 if table >= 100 else 2 if unit == "x" else 1
    spread = words.say("{low} to {high}", low=words.number(low_v, digits),
                       high=words.number(high_v, digits))  # fmt: skip
    return words.say(
        "  {what}{own:>12}  {range:<14}{table:>12}{seen:>6}",
        what=technique_name(one.technique, words).ljust(wide),
        own=f"{words.number(own, digits)} {unit}",
        range=spread, table=f"{words.number(table, digits)} {unit}", seen=one.seen,
    )  # fmt: skip


def _table(technique: str, usual: str, rates: Rates, words: Words) -> tuple[float, str]:
    """The table's value and its unit; ``x``: time against straight lines, or the usual board."""
    if technique == "feed":
        feed = rates.feed_mm_per_min * (tables.material(usual).feed_factor if usual else 1.0)
        return (feed / MM_PER_INCH if words.inch else feed), f"{words.unit}/min"
    if technique == "curved":
        return 1.0 / rates.curved_factor, "x"
    if technique == "tight":
        return 1.0 / rates.tight_factor, "x"
    if technique in ("thread", "spin", "back_out", "loop", "clear"):
        return rates.seconds[technique], "s"
    if technique == "drill":
        return rates.seconds["drill_hole"], "s"
    return tables.material(usual).feed_factor / tables.material(technique).feed_factor, "x"


def technique_name(technique: str, words: Words) -> str:
    """What a technique, or a material, is called.

    Args:
        technique: of ``TECHNIQUES``, or a material's key.
        words: the language.
    """
    names = {
        "thread": words.say("thread a blade"), "feed": words.say("straight lines"),
        "curved": words.say("curves, times straight"),
        "tight": words.say("tight curves, times straight"), "spin": words.say("a spin"),
        "back_out": words.say("a back-out"), "loop": words.say("a loop"),
        "clear": words.say("clear waste or a lip"), "drill": words.say("drill a hole"),
    }  # fmt: skip
    if technique in names:
        return names[technique]
    # as with curves: in which board straight lines are meant is told below
    return words.say("{material}, times straight",
                     material=words.say(tables.material(technique).name))  # fmt: skip


def _feed(found: Found, skill: Skill, words: Words) -> list[str]:
    """In which board the feed is meant."""
    if not found.material:
        return []
    return [words.say("Straight lines are those in {depth:.0f} mm of {material}.",
                      depth=rates_for(skill).reference_mm,
                      material=words.say(tables.material(found.material).name))]  # fmt: skip


def _trend(found: Found, words: Words) -> list[str]:
    if found.sessions < 3:
        return []
    percent = 100.0 * 2.0**found.trend
    return ["", words.say("Your trend: with twice the sessions a step takes {percent} % of the "
                          "time.", percent=f"{percent:.0f}")]  # fmt: skip


def _unsure(found: Found, words: Words) -> list[str]:
    """Techniques the log has too little of, with how much more it takes."""
    lines = []
    for one in found.learnt:
        error = one.error
        if one.seen and not one.sure:
            what = technique_name(one.technique, words)
            off = f"{100 * error:.0f}"
            if error > HARDLY:
                line = words.say("  {what}: hardly known yet", what=what)
            else:
                line = words.say("  {what}: give or take {error} %", what=what, error=off)
            if one.technique in COUNTED:
                # what one observation tells, from how well this many told it
                each = one.spread * math.sqrt(one.seen)
                more = readings_needed(Z80, each, math.log1p(SURE), 1.0) - one.seen
                line += words.say("; if each new one tells as much, {more} more for 10 %",
                                  more=more)  # fmt: skip
            lines.append(line)
    return ["", words.say("Not sure yet:"), *lines] if lines else []


def _outlier(found: Found, i: int, words: Words) -> str:
    one = found.outliers[i]
    when = time.strftime("%Y-%m-%d %H:%M", time.localtime(one.wall_s))
    what = words.say(one.stage)
    if one.cut is not None:
        cut = words.say("cut {n}", n=one.cut)
        what = cut if one.stage == "cut" else f"{cut}, {what}"
    return words.say(
        "  {when}  {what}: {took} s, expected {expected} s", when=when,
        what=what, took=f"{one.seconds:.0f}",
        expected=f"{found.expected_s[one.key]:.0f}",
    )  # fmt: skip
