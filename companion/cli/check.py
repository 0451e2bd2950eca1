"""``kerfside check``: what was found in a pattern, before any wood is touched."""

from __future__ import annotations

import argparse
import json
from collections import Counter
from dataclasses import replace
from pathlib import Path

from companion.cli import mend, thickness
from companion.cli.common import (
    add_project_arguments,
    planned,
    progress_line,
    spec_from,
    user_settings,
    write_whole,
)
from companion.cli.listing import (
    finding_lines,
    first_of_all,
    origin_text,
    read_text,
)
from companion.cli.wrapping import show
from companion.draw.stops import stops_text
from companion.errors import EXIT_FINE, EXIT_STOP_FINDING, KerfsideError, UsageError
from companion.findings import Finding
from companion.planner.plan import Plan
from companion.planner.project import ProjectSpec
from companion.words import Words


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Add the arguments of this verb."""
    add_project_arguments(parser)
    parser.add_argument("--json", action="store_true", help="the findings as JSON")
    parser.add_argument(
        "--svg", metavar="FILE", type=Path,
        help="write a picture of what was read: pieces, openings, waste, numbers, true size",
    )  # fmt: skip
    parser.add_argument(
        "--thickness-svg", metavar="FILE", type=Path,
        help="write a picture of the thickness everywhere and the weakest necks, ten at most",
    )  # fmt: skip
    parser.add_argument(
        "--show-thickness", action="store_true",
        help="show the same picture on the terminal",
    )  # fmt: skip
    mend.add_arguments(parser)


def run(args: argparse.Namespace) -> int:
    """List the findings.

    Returns:
        1 when a finding says stop, or a mend was not reached, else 0.
    """
    settings, words = user_settings()
    spec = spec_from(args)
    if mend.wanted(args):
        if args.svg is not None or args.thickness_svg is not None or args.show_thickness:
            raise UsageError(
                "a mend writes a pattern, no picture", "",
                "Ask for the picture in a command of its own, of the file that was written.",
            )  # fmt: skip
        return mend.run(args, spec, settings, words)
    try:
        plan = planned(spec, settings, words, progress_line())
    except KerfsideError:
        if args.svg is not None:
            # the picture helps most when no plan can be made
            _write_picture(spec, args.svg, None, words)
        raise
    if args.svg is not None:
        _write_picture(spec, args.svg, plan, words)
    if args.thickness_svg is not None or args.show_thickness:
        thickness.run(args.thickness_svg, args.show_thickness, spec, plan, words)
    if args.json:
        print(findings_json(plan))
    else:
        show("\n".join([*finding_lines(plan.findings, words), _summary(plan, words)]))
        if any(f.at_mm for f in plan.findings):
            show(origin_text(words))
        pictures = [str(f) for f in (args.svg, args.thickness_svg) if f is not None]
        if pictures:
            show(words.say("{file} written.", file=", ".join(pictures)))
        for line in first_of_all(plan.findings, words):
            show(line)
        if plan.findings:
            code = plan.findings[0].code
            show(words.say("Why, with a picture: kerfside practice --why {code}", code=code))
        if stop := stops_text(plan.findings, words):
            show(stop)
    return EXIT_STOP_FINDING if plan.has_stop else EXIT_FINE


def _write_picture(spec: ProjectSpec, path: Path, plan: Plan | None, words: Words) -> None:
    """Draw what was read, with the plan's findings or, without a plan, the reader's."""
    from companion.draw.pattern_picture import pattern_picture
    from companion.pattern.reader import read_pattern
    from companion.planner.make import place

    pattern = read_pattern(spec.pattern, spec.options)
    found = None
    if plan is not None:
        _, (dx, dy) = place(spec, pattern)
        found = [_moved(f, -dx, -dy) for f in plan.findings]
    write_whole(path, pattern_picture(pattern, spec.name, found, words).encode())


def _moved(finding: Finding, dx: float, dy: float) -> Finding:
    at = finding.at_mm
    return finding if at is None else replace(finding, at_mm=(at[0] + dx, at[1] + dy))


def findings_json(plan: Plan) -> str:
    """The findings and what was read, as JSON."""
    whole = json.loads(plan.to_json())
    keys = ("schema", "project", "pieces", "openings", "kept_area_mm2", "findings", "necks")
    found = {key: whole[key] for key in keys}
    return json.dumps(found, ensure_ascii=False, indent=1)


def _summary(plan: Plan, words: Words) -> str:
    read = read_text(plan.pieces, plan.openings, words)
    if not plan.findings:
        return words.say("{read}: nothing found, ready to plan.", read=read)
    counts = Counter(f.severity for f in plan.findings)
    kinds = (
        words.count("{n} stop", "{n} stops", counts["stop"]),
        words.count("{n} warning", "{n} warnings", counts["warn"]),
        words.count("{n} note", "{n} notes", counts["note"]),
    )
    return f"{read}: {', '.join(kinds)}."
