"""``kerfside review PROJECT --cost COPIES``: what a batch costs, from plan, log and own prices."""

from __future__ import annotations

import argparse
import sys
from collections.abc import Sequence
from pathlib import Path

from companion.cli import common
from companion.cli.prices import ask_prices
from companion.cli.wrapping import show
from companion.devices.paths import config_folder, resolve_project
from companion.errors import EXIT_BAD_INPUT, EXIT_FINE, UsageError
from companion.planner.blades import stack_limit
from companion.planner.plan import Plan
from companion.planner.project import ProjectSpec, load_project
from companion.planner.timing import rates_for
from companion.review.build import learning
from companion.review.cost import Job, Quote, one_more, quote, typical_minutes
from companion.review.model import RunSeen
from companion.review.quote_text import (
    one_more_lines,
    quote_csv,
    quote_lines,
    quote_rows,
    rounding_note,
)
from companion.sentence import sentence
from companion.session.resume import work_key
from companion.shop import tables
from companion.shop.finishing import finishing
from companion.shop.model import FinishStep, Settings
from companion.shop.prices import EXAMPLE, NAME, load_prices
from companion.words import Words

FORMS = (".txt", ".csv", ".pdf")
SUMS = 4
"""Rows of sums at the end of a full quote."""


def run_cost(
    args: argparse.Namespace, runs: Sequence[RunSeen], settings: Settings, words: Words
) -> int:
    """Quote.

    Args:
        args: as given.
        runs: what the log knows of the project, of one sawyer.
        settings: the user's.
        words: the language.

    Returns:
        2 when a price is missing: then all lines are shown, and no sum.

    Raises:
        UsageError: no project, a number or a file's name that will not do.
        ShopError: the prices cannot be read.
    """
    if args.project is None:
        raise UsageError("--cost needs a project", "", "Name its folder or file.")
    if not 1 <= args.cost <= 100_000:
        raise UsageError(
            sentence("--cost {cost}", cost=args.cost), "out of range", "Give 1 to 100000."
        )
    if args.quote is not None and args.quote.suffix.lower() not in FORMS:
        raise UsageError(
            sentence("{quote}", quote=args.quote),
            "no such form",
            sentence("End it in {known}.", known=", ".join(FORMS)),
        )
    spec = load_project(resolve_project(Path(args.project)))
    plan = common.planned(spec, settings, words, common.progress_line())
    finished = [m for (work, _), m in learning(runs).items() if work == work_key(plan)]
    minutes, from_log = typical_minutes(plan, finished[0] if finished else [])
    job = Job(plan, args.cost, minutes, from_log, finish_steps(spec, plan))
    prices = load_prices(config_folder() / NAME)
    made = quote(job, prices, words)
    if args.prices or (made.missing and sys.stdin.isatty() and sys.stdout.isatty()):
        prices = ask_prices(words, [(plan.board.material, plan.board.thickness_mm)])
        made = quote(job, prices, words)
    rates = rates_for(settings.skill, common.calibration(settings))
    more = one_more(job, rates)
    limit = stack_limit(plan.board.thickness_mm, settings)
    notes = [rounding_note(words)]
    if made.cost is not None:
        notes += one_more_lines(made, quote(more, prices, words), limit, words)
    show("\n".join([*quote_lines(made, words), "", *notes]))
    if args.quote is not None:
        _write(args.quote, made, notes, words)
    if made.missing:
        _tell_missing(made, words)
        return EXIT_BAD_INPUT
    return EXIT_FINE


def finish_steps(spec: ProjectSpec, plan: Plan) -> tuple[FinishStep, ...]:
    """How the plan's pieces are finished."""
    return finishing(
        tables.material(plan.board.material).family, spec.finish, plan.board.stack > 1,
        openings=plan.openings > 0,
    )  # fmt: skip


def _tell_missing(made: Quote, words: Words) -> None:
    place = config_folder() / NAME
    show(words.count(
        "{n} price is not told, so there is no sum. Write it into {file}; 0: it costs nothing.",
        "{n} prices are not told, so there is no sum. Write them into {file}; 0: free.",
        len(made.missing), file=place,
    ))  # fmt: skip
    show(words.say("kerfside review --prices asks for them one by one."))
    if not place.exists():
        show(words.say("It may hold:"))
        show("\n".join(f"    {line}" for line in EXAMPLE.splitlines()))


def _write(to: Path, made: Quote, notes: list[str], words: Words) -> None:
    form = to.suffix.lower()
    if form == ".csv":
        content = quote_csv(made, words).encode()
    elif form == ".txt":
        content = "\n".join([*quote_lines(made, words), "", *notes, ""]).encode()
    else:
        from companion.draw.quote_page import quote_page

        rows = quote_rows(made, words)
        bold = range(len(rows) - SUMS, len(rows)) if made.cost is not None else ()
        # what one more in the stack would change is the sawyer's business, not the buyer's
        content = quote_page(made.job.plan.project.name, rows, notes[:1], bold, words=words)
    common.write_whole(to, content)
