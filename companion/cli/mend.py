"""``kerfside check --thicken``, ``--hold``, ``--bridge``: writes the pattern that would hold.

The new drawing stands beside the old one and never replaces it: true size, dark is
kept, read with ``--shaded piece``.
"""

from __future__ import annotations

import argparse
import re
import shlex
from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from companion.cli.common import length_given, planned, progress_line, write_whole
from companion.errors import EXIT_FINE, EXIT_STOP_FINDING, UsageError
from companion.planner.project import ProjectSpec
from companion.sentence import sentence
from companion.shop import tables
from companion.shop.model import Settings
from companion.units import NEWTON_PER_GRAM, plain_number
from companion.words import Words

if TYPE_CHECKING:
    from companion.pattern.model import Pattern
    from companion.planner.bridges import Bridged
    from companion.planner.thicken import Change, Thickened

ROWS = 20
"""Lines of the table before the rest is only counted."""
_FORCE = re.compile(r"^\s*([\d.,]*\d[.,]?)\s*(n|g|kg)?\s*$", re.IGNORECASE)


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

    Raises:
        UsageError: not a force, or nothing.
    """
    match = _FORCE.match(text)
    number = 0.0 if match is None else float(plain_number(match[1]))
    if match is None or number == 0.0:
        raise UsageError(
            sentence("not a force: {text!r}", text=text),
            "",
            "Write newtons as in 5N, or a weight as in 500g.",
        )
    unit = (match[2] or "n").lower()
    return number * {"n": 1.0, "g": NEWTON_PER_GRAM, "kg": 1000.0 * NEWTON_PER_GRAM}[unit]


def run(args: argparse.Namespace, spec: ProjectSpec, settings: Settings, words: Words) -> int:
    """Write the mended pattern and tell what changed.

    Returns:
        1 when a neck or an island could not be mended as wanted, else 0.
    """
    from companion.pattern.reader import read_pattern
    from companion.planner.bridges import bridges
    from companion.planner.pattern_svg import pattern_svg
    from companion.planner.thicken import thicken

    width = None if args.thicken is None else length_given(args.thicken)
    force = None if args.hold is None else force_n(args.hold)
    bars = None if args.bridge is None else length_given(args.bridge)
    if width is not None and force is not None:
        raise UsageError("--thicken and --hold exclude each other", "", "Give one of them.")
    pattern = read_pattern(spec.pattern, spec.options)
    lines: list[str] = []
    code = EXIT_FINE
    if bars is not None:
        tied = bridges(pattern, bars)
        pattern, lines = tied.pattern, _bridge_lines(tied, words)
        code = EXIT_STOP_FINDING if tied.loose else code
    if width is not None or force is not None:
        blade = tables.blade(
            spec.blade or planned(spec, settings, words, progress_line()).blade.number
        )
        done = thicken(
            pattern, tables.material(spec.material), spec.thickness_mm, blade,
            wanted_mm=width, wanted_n=force, everywhere=args.everywhere,
        )  # fmt: skip
        pattern = done.pattern
        lines += _thicken_lines(done, words)
        code = EXIT_STOP_FINDING if done.unmet else code
    target = args.output or _beside(spec.pattern, "bridged" if width is force is None else "holds")
    if target.resolve() == spec.pattern.resolve():
        raise UsageError(
            "the new pattern would replace the old one", str(target), "Give another -o FILE."
        )
    write_whole(target, pattern_svg(pattern, spec.name).encode())
    print("\n".join([*lines, *_written(pattern, spec, target, words)]))
    return code


def _beside(pattern: Path, what: str) -> Path:
    return pattern.with_name(f"{pattern.stem}-{what}.svg")


def _written(pattern: Pattern, spec: ProjectSpec, target: Path, words: Words) -> list[str]:
    """What was written, and how to go on with it on the same boards."""
    x0, _, x1, _ = pattern.bounds_mm
    flags = [
        "--shaded", "piece", "--material", spec.material,
        "--thickness", f"{spec.thickness_mm:g}mm", "--stack", str(spec.stack),
        *(("--blade", spec.blade) if spec.blade else ()),
    ]  # fmt: skip
    return [
        words.say(
            "Wrote {file}: true size, {width} mm wide, dark is kept. Plan it with:",
            file=target, width=f"{x1 - x0:.2f}",
        ),
        shlex.join(["kerfside", "plan", str(target), *flags]),
    ]  # fmt: skip


def _bridge_lines(tied: Bridged, words: Words) -> list[str]:
    if not tied.bridges and not tied.loose:
        return [words.say("There is no island to tie.")]
    lines = [
        words.say(
            "Island {island}: a bar {length} mm long from {x}, {y} to {u}, {v} mm.",
            island=b.island, length=f"{b.length_mm:.1f}", x=f"{b.from_mm[0]:.1f}",
            y=f"{b.from_mm[1]:.1f}", u=f"{b.to_mm[0]:.1f}", v=f"{b.to_mm[1]:.1f}",
        )
        for b in tied.bridges
    ]  # fmt: skip
    return lines + [
        words.say("Island {island}: no straight bar reaches it.", island=n) for n in tied.loose
    ]


def _thicken_lines(done: Thickened, words: Words) -> list[str]:
    if not done.changes:
        return [words.say("Every neck is as wanted already.")]
    head = words.say("at x, y mm        thickness mm       snap force N")
    lines = [head, *(_row(c) for c in done.changes[:ROWS])]
    if len(done.changes) > ROWS:
        lines.append(words.count("and {n} more", "and {n} more", len(done.changes) - ROWS))
    lines += _unmet(done, words)
    lines.append(words.say("Wood added: {area} mm2.", area=f"{done.added_mm2:.0f}"))
    return lines


def _row(change: Change) -> str:
    def force(value: float | None) -> str:
        return "-" if value is None else f"{value:.1f}"

    x, y = change.at_mm
    return (
        f"{x:7.1f}, {y:6.1f}   {change.before_mm:5.2f} -> {change.after_mm:5.2f}"
        f"   {force(change.before_n):>6} -> {force(change.after_n):>6}"
    )


def _unmet(done: Thickened, words: Words) -> Sequence[str]:
    return [
        words.say(
            "The neck at {x}, {y} mm stays {thick} mm thick: the blade needs the waste on both "
            "sides.", x=f"{n.at_mm[0]:.1f}", y=f"{n.at_mm[1]:.1f}", thick=f"{n.thickness_mm:.2f}",
        )
        for n in done.unmet
    ]  # fmt: skip
