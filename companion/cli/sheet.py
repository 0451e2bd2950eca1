"""``kerfside sheet``: writes the true-size PDF that is glued to the board."""

from __future__ import annotations

import argparse
from datetime import datetime
from pathlib import Path

from companion.cli.common import (
    add_project_arguments,
    planned,
    progress_line,
    spec_from,
    user_settings,
    write_whole,
)
from companion.cli.wrapping import show
from companion.devices.paths import journal_file, shipped
from companion.draw.hatch import with_hatch
from companion.draw.labels import with_numbers
from companion.draw.paper import find_paper
from companion.draw.printed import Printed, remember_sheet
from companion.draw.scene import build_scene
from companion.draw.sheet import SheetOptions, make_sheet
from companion.draw.svg import svg_text
from companion.errors import EXIT_FINE, EXIT_STOP_FINDING
from companion.planner.plan import Plan
from companion.planner.project import ProjectSpec
from companion.words import Words


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Add the arguments of this verb."""
    add_project_arguments(parser)
    parser.add_argument(
        "-o", "--output", metavar="FILE", type=Path,
        help="where to write the PDF; else sheet.pdf in the project's folder",
    )  # fmt: skip
    parser.add_argument(
        "--svg", metavar="FILE", type=Path,
        help="write the drawing as SVG, for a cutter or a projector; no PDF unless -o is given",
    )  # fmt: skip
    parser.add_argument(
        "--paper", metavar="NAME", default=None,
        help="A4, A3, Letter, Tabloid, or roll:WIDTH as in roll:610mm; else A4, or Letter "
        "when the settings are in inches",
    )  # fmt: skip
    parser.add_argument(
        "--tile", action=argparse.BooleanOptionalAction, default=True,
        help="join several sheets when the board is larger than the paper (so by default); "
        "--no-tile: one page as large as the board",
    )  # fmt: skip
    parser.add_argument(
        "--mirror", action="store_true", help="left and right exchanged, to glue to the back"
    )


def run(args: argparse.Namespace) -> int:
    """Write the sheet and say what was written.

    Returns:
        1 when a finding says stop (the sheet is written all the same), else 0.

    Raises:
        UsageError: no such paper, or the file cannot be written.
    """
    settings, words = user_settings()
    paper = find_paper(args.paper or ("Letter" if settings.inch else "A4"))
    spec = spec_from(args)
    plan = planned(spec, settings, words, progress_line())
    options = SheetOptions(paper, args.tile, args.mirror)
    if args.svg is not None:
        _write_svg(plan, options, args.svg)
        show(words.say("{file} written: the drawing at true size.", file=args.svg))
    if args.svg is None or args.output is not None:
        show(_write_pdf(plan, options, args.output or default_output(spec), words))
    _remember(spec, plan, args.mirror)
    if plan.has_stop:
        show(words.say("The plan holds a finding that says STOP: see kerfside check."))
        return EXIT_STOP_FINDING
    return EXIT_FINE


def default_output(spec: ProjectSpec) -> Path:
    """``sheet.pdf`` beside project.toml, or ``NAME-sheet.pdf`` beside a bare drawing.

    A demo named by its name alone lies inside the program: its sheet goes where one is.
    """
    if spec.folder.parent == shipped("demo_projects") and not spec.folder.is_relative_to(
        Path.cwd()
    ):
        return Path(f"{spec.folder.name}-sheet.pdf")
    if (spec.folder / "project.toml").exists():
        return spec.folder / "sheet.pdf"
    return spec.pattern.with_name(f"{spec.pattern.stem}-sheet.pdf")


def _write_svg(plan: Plan, options: SheetOptions, path: Path) -> None:
    numbered, _ = with_numbers(build_scene(plan, options.mirror))
    write_whole(path, svg_text(with_hatch(numbered), plan.project.name).encode())


def _write_pdf(plan: Plan, options: SheetOptions, path: Path, words: Words) -> str:
    sheet = make_sheet(plan, options, words)
    write_whole(path, sheet.pdf)
    pages = words.count(
        "{n} page of drawing on {paper}", "{n} pages of drawing on {paper}",
        len(sheet.layout.tiles), paper=sheet.layout.paper.name,
    )  # fmt: skip
    return words.say(
        "{file} written: {pages}, {lists} of lists. Print at 100 % and measure the check bars.",
        file=path, pages=pages, lists=sheet.list_pages,
    )  # fmt: skip


def _remember(spec: ProjectSpec, plan: Plan, mirrored: bool) -> None:
    """Note for the saw which plan the sheet shows; a full disk must not spoil the sheet."""
    try:
        when = datetime.now().astimezone().isoformat(timespec="seconds")
        remember_sheet(
            journal_file().parent, spec.pattern, Printed(plan.short_hash, mirrored, when)
        )
    except OSError:
        pass
