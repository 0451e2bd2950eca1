"""``kerfside saw``: the companion at the saw, full screen or line by line."""

from __future__ import annotations

import argparse
import gc
import sys
from collections.abc import Callable
from typing import TYPE_CHECKING

from companion.cli import common
from companion.cli.wrapping import show
from companion.devices.paths import cache_folder, journal_file, shipped
from companion.draw.printed import last_sheet, sheet_warning
from companion.errors import EXIT_FINE, EXIT_STOP_FINDING, PlanError, UsageError
from companion.journal.lease import Lease
from companion.journal.store import Journal
from companion.planner.cache import cached_plan
from companion.planner.plan import Plan
from companion.planner.project import ProjectSpec
from companion.sentence import counted, sentence
from companion.session.clock import MadeUpClock, SystemClock
from companion.session.machine import QUIET_S, Machine
from companion.session.texts import shop_texts
from companion.session.walk import Walk
from companion.shop.model import Settings
from companion.words import Words

if TYPE_CHECKING:
    from companion.tui.voice_port import Voice

REHEARSAL_SPEED = 60.0
"""A full-screen rehearsal's clock makes a minute of each second."""


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Add the arguments of this verb."""
    common.add_project_arguments(parser)
    parser.add_argument(
        "--plain", action="store_true", help="line by line on standard input and output"
    )
    parser.add_argument(
        "--rehearse", action="store_true", help="on a made-up clock; marked so in the log"
    )
    parser.add_argument(
        "--seed", type=int, default=1, metavar="N", help="of a rehearsal's spread of times"
    )
    parser.add_argument(
        "--copies", type=int, metavar="N", help="how many are wanted; a stack makes several a run"
    )
    parser.add_argument(
        "--anew", action="store_true", help="begin anew instead of going on with an open run"
    )
    parser.add_argument(
        "--anyway", action="store_true", help="walk although the plan holds a stop finding"
    )
    parser.add_argument(
        "--theme", choices=("dark", "light", "contrast", "terminal"),
        help="colours of the full screen; as set up, otherwise",
    )  # fmt: skip
    parser.add_argument("--silent", action="store_true", help="no speech and no sounds")


def run(args: argparse.Namespace) -> int:
    """Open a session.

    Returns:
        1 when a finding says stop (then only ``--anyway`` or a rehearsal walks),
        130 when interrupted, else 0.
    """
    if args.copies is not None and not 1 <= args.copies <= 10_000:
        raise UsageError(
            sentence("--copies {copies}", copies=args.copies), "out of range", "Give 1 to 10000."
        )
    settings, words = common.user_settings()
    try:
        code = (_plain if args.plain else _full)(args, settings, words)
    finally:
        gc.enable()
    _remind(args, words)
    return code


def _remind(args: argparse.Namespace, words: Words) -> None:
    """After a practice piece: how to mark it."""
    name = common.spec_from(args).name
    if name.startswith("Practice: "):
        from companion.cli.practice import reminder

        line = reminder(name, words)
        if line:
            show(line)


def _runs(args: argparse.Namespace, plan: Plan) -> int | None:
    """Runs that give the copies wanted; None: as the open run says."""
    return None if args.copies is None else -(-args.copies // max(1, plan.board.stack))


class StopFinding(PlanError):
    """The plan says: do not cut this."""

    exit_code = EXIT_STOP_FINDING


def _refuse_stop(args: argparse.Namespace, plan: Plan) -> None:
    """Raise what forbids cutting, unless it was overruled or no wood is cut.

    Raises:
        StopFinding: a finding says stop.
    """
    if plan.has_stop and not (args.anyway or args.rehearse):
        stops = [f for f in plan.findings if f.severity == "stop"]
        raise StopFinding(
            counted(
                "do not cut this yet, a finding says stop",
                "do not cut this yet, {n} findings say stop; the first", len(stops),
            ),
            stops[0].text.rstrip("."),
            "kerfside check tells what to do; --anyway overrules.",
        )  # fmt: skip


def _voice(args: argparse.Namespace, settings: Settings) -> Voice | None:
    if args.silent or not settings.speech:
        return None
    from companion.cli.hear import voice_settings
    from companion.devices.voice.client import Voice as Speaker
    from companion.devices.voice.client import helper_command

    how = voice_settings(settings)
    return Speaker(helper_command(shipped("sounds")), how)


def _sheet_notice(spec: ProjectSpec, plan: Plan, words: Words) -> str:
    """What to know about the sheet last printed of this project."""
    folder = journal_file().parent
    if last_sheet(folder, spec.pattern) is None:
        return ""  # to name a large plan takes a quarter of the time to its first frame
    return sheet_warning(folder, spec.pattern, plan.short_hash, words)


def _plain(args: argparse.Namespace, settings: Settings, words: Words) -> int:
    from companion.cli.lines import Lines
    from companion.cli.plain import run_plain

    spec = common.spec_from(args)
    plan = common.planned(spec, settings, words, common.progress_line())
    _refuse_stop(args, plan)
    with Lease(journal_file(), plan.project.name), Journal(journal_file()) as journal:
        lines = Lines()
        machine = Machine(
            plan, shop_texts(), settings.skill, words, QUIET_S if lines.by_hand else 0.0,
            notice=_sheet_notice(spec, plan, words),
            # without a map the holes are named only where that is asked for
            each_hole=settings.drilling == "each",
        )  # fmt: skip
        walk = Walk(
            machine, journal, MadeUpClock() if args.rehearse else SystemClock(),
            runs=_runs(args, plan), anew=args.anew, ticking=True, seed=args.seed,
            marks=common.marks(settings),
        )  # fmt: skip
        code = run_plain(walk, lines)
        common.work_out(journal)
    return EXIT_STOP_FINDING if code == EXIT_FINE and plan.has_stop else code


def _full(args: argparse.Namespace, settings: Settings, words: Words) -> int:
    # the screen library writes on standard error, so that is what must be a terminal
    if not (sys.stdin.isatty() and sys.stderr.isatty()):
        raise UsageError(
            "the full screen needs a terminal", "", "Use saw --plain for lines in and out."
        )
    # what is made before the first frame stays: to look for garbage in it only holds that up.
    # The screen turns it on again with its first frame, a plan still to be made at once.
    gc.disable()
    from companion.tui import launch

    spec = common.spec_from(args)
    lease = Lease(journal_file(), spec.name)
    found = cached_plan(spec, settings, cache_folder(), common.calibration(settings))
    if found is None:
        gc.enable()

    def make(should_stop: Callable[[], bool], progress: Callable[[str], None]) -> Plan:
        return common.planned(
            spec, settings, words, lambda _share, doing: progress(doing), should_stop
        )

    walked: list[Walk] = []
    with lease, Journal(journal_file()) as journal:

        def walk(plan: Plan) -> Walk:
            _refuse_stop(args, plan)
            notice = _sheet_notice(spec, plan, words)
            machine = Machine(
                plan, shop_texts(), settings.skill, words, notice=notice,
                each_hole=settings.each_hole,
            )  # fmt: skip
            clock = MadeUpClock(speed=REHEARSAL_SPEED) if args.rehearse else SystemClock()
            made = Walk(
                machine, journal, clock, runs=_runs(args, plan), anew=args.anew,
                ticking=True, seed=args.seed, marks=common.marks(settings),
            )  # fmt: skip
            walked.append(made)
            return made

        code = launch.run(
            found or make, walk, settings, words, voice=_voice(args, settings), theme=args.theme
        )
        common.work_out(journal)
    if walked and walked[0].state.spent_s:  # begun
        from companion.cli.plain import left_text

        show(left_text(walked[0], words))
    return code
