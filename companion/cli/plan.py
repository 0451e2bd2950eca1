"""``kerfside plan``: holes, cuts, steps and minutes, as a list or as JSON, schema 1."""

from __future__ import annotations

import argparse

from companion.cli.common import (
    add_project_arguments,
    planned,
    progress_line,
    spec_from,
    user_settings,
)
from companion.cli.listing import (
    after_text,
    finding_lines,
    first_of_all,
    minutes_text,
    origin_text,
    point_text,
    read_text,
)
from companion.cli.wrapping import show
from companion.draw.stops import stops_text
from companion.errors import EXIT_FINE, EXIT_STOP_FINDING
from companion.planner.blades import stack_limit
from companion.planner.plan import Cut, Plan, SizedHole
from companion.shop import checks, tables
from companion.shop.model import Settings
from companion.words import Words


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Add the arguments of this verb."""
    add_project_arguments(parser)
    parser.add_argument("--json", action="store_true", help="the plan as JSON, schema 1")
    parser.add_argument("--steps", action="store_true", help="list every step with its reason")


def run(args: argparse.Namespace) -> int:
    """Make and show the plan.

    Returns:
        1 when a finding says stop, else 0.
    """
    settings, words = user_settings()
    plan = planned(spec_from(args), settings, words, progress_line())
    if args.json:
        print(plan.to_json())
    else:
        show("\n".join(plan_lines(plan, words, settings, args.steps)))
    return EXIT_STOP_FINDING if plan.has_stop else EXIT_FINE


def plan_lines(plan: Plan, words: Words, settings: Settings, steps: bool) -> list[str]:
    """The plan for people."""
    lines = [*_head(plan, words, settings), ""]
    if plan.findings:
        lines += [*finding_lines(plan.findings, words), ""]
    lines.append(
        words.say("cut  hole at        drill          line  way         turns minutes  of")
    )
    lines += [_cut_line(plan, cut, words) for cut in plan.cuts]
    lines += [_sized_line(hole, words) for hole in sorted(plan.to_size, key=lambda h: h.number)]
    if plan.fasteners_mm:
        places = "  ".join(point_text(p, words) for p in plan.fasteners_mm)
        lines += ["", words.say("pins at {places}", places=places)]
    lines += [origin_text(words, names=bool(plan.findings)), ""]
    if steps:
        for step in plan.steps:
            lines.append(f"{step.number:4}  {step.title}: {step.say}")
            lines.append(f"      {step.why}")
    else:
        lines.append(
            words.count(
                "{n} step; --steps lists it.", "{n} steps; --steps lists them.", len(plan.steps)
            )
        )
    lines.append(words.say("In all {minutes}.", minutes=minutes_text(plan.minutes, words)))
    lines += after_text(plan, words)
    lines += first_of_all(plan.findings, words)
    if stop := stops_text(plan.findings, words):
        lines.append(stop)
    lines.append(words.say(checks.checklist().precedence))
    return lines


def _head(plan: Plan, words: Words, settings: Settings) -> list[str]:
    board, blade = plan.board, plan.blade
    size = f"{words.length(board.width_mm)} x {words.length(board.height_mm)}"
    return [
        f"{plan.project.name}  [{plan.short_hash}]",
        words.say(
            "board: {material}, {size}, {thick} thick, stack of {stack} (up to {most} cut true)",
            material=words.say(tables.material(board.material).name), size=size,
            thick=words.length(board.thickness_mm), stack=board.stack,
            most=stack_limit(board.thickness_mm, settings),
        ),
        words.say(
            "blade: No. {number}, kerf {kerf} mm, {needed} needed",
            number=blade.number, kerf=f"{blade.kerf_mm:.2f}", needed=blade.blades_needed,
        ),
        read_text(plan.pieces, plan.openings, words),
    ]  # fmt: skip


def _cut_line(plan: Plan, cut: Cut, words: Words) -> str:
    hole = next(h for h in plan.holes if h.number == cut.hole)
    turned = words.say("clockwise") if cut.direction == "clockwise" else words.say("anticlockwise")
    if cut.is_vein:
        turned = words.say("out and back")
    drill = words.drill(hole.drill_name, hole.drill_mm) if hole.drill_mm > 0.0 else "-"
    length = words.length(cut.sawn_mm)
    # as the pattern, and so a pin in project.toml, numbers them
    of = (
        words.say("opening {n}", n=cut.opening)
        if cut.opening is not None
        else words.say("piece {n}", n=cut.piece)
    )
    minutes = words.say("{n:.1f}", n=cut.minutes.likely)
    # 80 columns; whether the blade runs inside or outside is told by what is cut
    return (
        f"{cut.number:3}  {point_text(hole.at_mm, words):<14} {drill:<9}{length:>10}  "
        f"{turned:<13}{len(cut.turns):>4}{minutes:>8}  {of}"
    )


def _sized_line(hole: SizedHole, words: Words) -> str:
    """An opening that is drilled, in the columns of the cuts: no line, way, turns or minutes."""
    drill = words.drill(hole.drill_name, hole.drill_mm)
    return (
        f"{hole.number:3}  {point_text(hole.at_mm, words):<14} {drill:<9}{'-':>10}  "
        f"{words.say('to size'):<13}{'-':>4}{'-':>8}  {words.say('opening {n}', n=hole.opening)}"
    )
