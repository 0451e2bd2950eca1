"""``kerfside check --thicken``, ``--hold``, ``--bridge``: writes the pattern that would hold.

The new drawing stands beside the old one and never replaces it: true size, dark is
kept, read with ``--shaded piece``.
"""

from __future__ import annotations

import argparse
import math
import re
import shlex
from pathlib import Path
from typing import TYPE_CHECKING

from companion.cli.common import length_given, planned, progress_line, write_whole
from companion.cli.listing import origin_text, point_text
from companion.cli.new import finish_words
from companion.cli.wrapping import show
from companion.errors import EXIT_FINE, EXIT_STOP_FINDING, UsageError
from companion.findings import SAME_PLACE_MM, Point
from companion.planner.plan import neck_name
from companion.planner.project import ProjectSpec
from companion.sentence import sentence
from companion.shop import tables
from companion.shop.model import Settings
from companion.units import GRAMS_PER_OUNCE, NEWTON_PER_GRAM, plain_number
from companion.words import Words

if TYPE_CHECKING:
    from companion.pattern.model import Pattern
    from companion.planner.bridges import Bridged
    from companion.planner.thicken import Change, Thickened

LEAST_MM2 = 0.5
"""Less wood than this is no change of a drawing."""
SWOLLEN = 1.1
"""Times the most that is asked for; what is thicker has grown together with its neighbour."""
ROWS = 20
"""Lines of the table before the rest is only counted."""
_FORCE = re.compile(r"^\s*([\d.,]*\d[.,]?)\s*(n|g|kg|oz|lb)?\s*$", re.IGNORECASE)


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Add the arguments that mend a pattern."""
    group = parser.add_argument_group("write a pattern that holds, beside the old one")
    group.add_argument(
        "--thicken", metavar="LENGTH", help="bring every neck to this thickness, e.g. 2.4mm"
    )
    group.add_argument(
        "--hold", metavar="FORCE", help="bring every neck to this snap force, e.g. 5N or 500g"
    )
    group.add_argument(
        "--everywhere", action="store_true", help="move the whole outline, not the weak places only"
    )
    group.add_argument(
        "--bridge", metavar="LENGTH", help="tie every island with two bars this wide, e.g. 3mm"
    )
    group.add_argument("-o", "--output", metavar="FILE", type=Path, help="where to write it")


def wanted(args: argparse.Namespace) -> bool:
    """Whether a mended pattern was asked for."""
    asked = any(v is not None for v in (args.thicken, args.hold, args.bridge))
    if not asked and (args.output is not None or args.everywhere):
        raise UsageError(
            "nothing to write was asked for", "", "Add --thicken 2.4mm, --hold 5N or --bridge 3mm."
        )
    return asked


def force_n(text: str) -> float:
    """Read a force as people write it.

    >>> force_n("5N"), round(force_n("500 g"), 3), round(force_n("1kg"), 3), force_n("3")
    (5.0, 4.903, 9.807, 3.0)
    >>> round(force_n("1 lb"), 3), round(force_n("8oz"), 3)
    (4.448, 2.224)

    Raises:
        UsageError: not a force, or nothing.
    """
    match = _FORCE.match(text)
    number = 0.0 if match is None else float(plain_number(match[1]))
    if match is None or number == 0.0:
        raise UsageError(
            sentence("not a force: {text!r}", text=text),
            "",
            "Write newtons as in 5N, or a weight as in 500g or 1lb.",
        )
    unit = (match[2] or "n").lower()
    grams = {"g": 1.0, "kg": 1000.0, "oz": GRAMS_PER_OUNCE, "lb": 16.0 * GRAMS_PER_OUNCE}
    return number if unit == "n" else number * grams[unit] * NEWTON_PER_GRAM


def run(args: argparse.Namespace, spec: ProjectSpec, settings: Settings, words: Words) -> int:
    """Write the mended pattern and tell what changed.

    Returns:
        1 when a neck or an island could not be mended as wanted, else 0.
    """
    from companion.pattern.reader import read_pattern
    from companion.planner.bridges import bridges
    from companion.planner.make import place
    from companion.planner.pattern_svg import pattern_svg
    from companion.planner.thicken import thicken

    width = None if args.thicken is None else length_given(args.thicken)
    force = None if args.hold is None else force_n(args.hold)
    bars = None if args.bridge is None else length_given(args.bridge)
    if width is not None and force is not None:
        raise UsageError("--thicken and --hold exclude each other", "", "Give one of them.")
    target = args.output or _beside(spec.pattern, "bridged" if width is force is None else "holds")
    if target.resolve() == spec.pattern.resolve():
        raise UsageError(
            "the new pattern would replace the old one", str(target), "Give another -o FILE."
        )
    drawn = pattern = read_pattern(spec.pattern, spec.options)
    _, shift = place(spec, drawn)
    lines: list[str] = []
    code = EXIT_FINE
    if bars is not None:
        tied = bridges(pattern, bars)
        pattern, lines = tied.pattern, _bridge_lines(tied, shift, words)
        code = EXIT_STOP_FINDING if tied.loose else code
    if width is not None or force is not None:
        blade = tables.blade(
            spec.blade or planned(spec, settings, words, progress_line()).blade.number
        )
        done = thicken(
            pattern, tables.material(spec.material), spec.thickness_mm, blade,
            wanted_mm=width, wanted_n=force, everywhere=args.everywhere,
        )  # fmt: skip
        if bars is not None:
            lines.append(words.say("N1, N2: counted in the drawing with its bars."))
        lines += _thicken_lines(done, pattern.kept_area_mm2, spec, shift, words)
        pattern = done.pattern
        code = EXIT_STOP_FINDING if done.unmet else code
    if pattern.kept_area_mm2 - drawn.kept_area_mm2 < LEAST_MM2:
        lines.append(words.say("The drawing stays as it is; nothing was written."))
    else:
        write_whole(target, pattern_svg(pattern, spec.name).encode())
        lines += [origin_text(words), *_written(pattern, spec, target, words)]
    show("\n".join(lines))
    return code


def _beside(pattern: Path, what: str) -> Path:
    return pattern.with_name(f"{pattern.stem}-{what}.svg")


def _written(pattern: Pattern, spec: ProjectSpec, target: Path, words: Words) -> list[str]:
    """What was written, and how to go on with it on the same boards."""
    x0, _, x1, _ = pattern.bounds_mm
    flags = [
        "--name", spec.name, "--material", spec.material,
        "--thickness", f"{spec.thickness_mm:g}mm", "--stack", str(spec.stack),
        *(("--blade", spec.blade) if spec.blade else ()),
        "--finish", finish_words(spec.finish), "--no-questions",
    ]  # fmt: skip
    return [
        words.say(
            "Wrote {file}: true size, {width} mm wide, dark is kept. Go on with it, on the same "
            "board:",
            file=target, width=f"{x1 - x0:.2f}",
        ),
        shlex.join(["kerfside", "new", str(target), *flags]),
    ]  # fmt: skip


def _bridge_lines(tied: Bridged, shift: Point, words: Words) -> list[str]:
    if not tied.bridges and not tied.loose:
        return [words.say("There is no island to tie.")]
    lines = [
        words.say(
            "Island {island}: a bar {length} mm long from {x}, {y} to {u}, {v} mm.",
            island=b.island, length=f"{b.length_mm:.1f}", x=f"{b.from_mm[0] + shift[0]:.1f}",
            y=f"{b.from_mm[1] + shift[1]:.1f}", u=f"{b.to_mm[0] + shift[0]:.1f}",
            v=f"{b.to_mm[1] + shift[1]:.1f}",
        )
        for b in tied.bridges
    ]  # fmt: skip
    return lines + [
        words.say("Island {island}: no straight bar reaches it.", island=n) for n in tied.loose
    ]


def _thicken_lines(
    done: Thickened, before_mm2: float, spec: ProjectSpec, shift: Point, words: Words
) -> list[str]:
    """The necks before and after, one row a place, and what stays weak."""
    if not done.changes and not done.unmet:
        return [words.say("Every neck is as wanted already.")]
    scale, digits = (25.4, 3) if words.inch else (1.0, 2)

    def thick(value_mm: float) -> str:
        return words.say("{n}", n=f"{value_mm / scale:.{digits}f}")

    def swollen(c: Change) -> bool:
        return c.after_mm > SWOLLEN * max(done.most_mm, c.before_mm)

    def force(value: float | None) -> str:
        return words.say("stout") if value is None else words.say("{n}", n=f"{value:.1f}")

    lines = [
        words.say("neck  at                thickness {unit}       snap force N", unit=words.unit)
    ]
    apart: list[Change] = []
    for c in done.changes:
        if all(math.dist(c.at_mm, other.at_mm) >= SAME_PLACE_MM for other in apart):
            apart.append(c)
    for c in apart[:ROWS]:
        after = words.say("sturdy") if swollen(c) else thick(c.after_mm)
        at = point_text((c.at_mm[0] + shift[0], c.at_mm[1] + shift[1]), words)
        lines.append(
            f"{neck_name(c.number):<5} {at:<16} {thick(c.before_mm):>6} -> {after:>6}"
            f"   {force(c.before_n):>6} -> {force(c.after_n):>6}"
        )
    if len(apart) > ROWS:
        lines.append(words.count("and {n} more", "and {n} more", len(apart) - ROWS))
    if any(swollen(c) for c in apart[:ROWS]):
        lines.append(words.say("sturdy: grown into wood much thicker than the board, no neck"))
    if any(c.before_n is None or c.after_n is None for c in apart[:ROWS]):
        lines.append(words.say("stout: too short and thick to say which push breaks it"))
    lines += _unmet(done, spec.thickness_mm, shift, words)
    share = done.added_mm2 / before_mm2
    lines.append(
        words.say(
            "Wood added: {area} mm2, {share} % of what was there.",
            area=f"{done.added_mm2:.1f}",
            share=f"{100.0 * share:.1f}",
        )
    )
    if share > tables.number("weak", "thicken.told_share"):
        lines.append(
            words.say(
                "The drawing looks different now: compare the two before you go on. A smaller "
                "wish, a thicker board or a larger width changes less."
            )
        )
    return lines


def _unmet(done: Thickened, board_mm: float, shift: Point, words: Words) -> list[str]:
    """What stays weak, and why."""
    from companion.planner.weak import as_thick_as_may_be

    places: dict[bool, list[str]] = {}
    for neck in done.unmet:
        at = point_text((neck.at_mm[0] + shift[0], neck.at_mm[1] + shift[1]), words)
        places.setdefault(as_thick_as_may_be(neck, board_mm), []).append(at)
    lines = []
    if True in places:
        lines.append(
            words.say(
                "Too weak even as thick as the board: {places}. No mend helps there: enlarge the "
                "drawing, take thicker or stronger board, shorten what hangs from there, tie it to "
                "its neighbour, or ask for less.", places=_some(places[True], words),
            )
        )  # fmt: skip
    if False in places:
        lines.append(
            words.say(
                "Thinner than wanted, since the blade needs the waste on both sides: {places}.",
                places=_some(places[False], words),
            )
        )
    return lines


def _some(places: list[str], words: Words) -> str:
    more = len(places) - ROWS
    told = [words.count("and {n} more", "and {n} more", more)] if more > 0 else []
    return ", ".join([*places[:ROWS], *told])
