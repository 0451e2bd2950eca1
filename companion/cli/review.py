"""``kerfside review``: sessions, each cut against its plan, mishaps; and the journal's upkeep."""

from __future__ import annotations

import argparse
import gc
import shutil
import sys
import time
from collections.abc import Callable
from pathlib import Path

from companion.cli import common, recorded
from companion.cli.ahead import half_ahead
from companion.cli.calibrate import add_calibrate_arguments, run_calibrate
from companion.cli.wrapping import show
from companion.devices.paths import journal_file, resolve_project
from companion.errors import EXIT_FINE, JournalError, KerfsideError, UsageError
from companion.journal.model import Event
from companion.journal.store import Journal
from companion.planner.project import load_project
from companion.review.advice import in_short_lines
from companion.review.build import review
from companion.review.correct import correction
from companion.review.digest import summary
from companion.review.export import event_lines, review_json, steps_csv
from companion.review.facts import plan_or_none
from companion.review.insight import latest_by_project
from companion.review.model import Review
from companion.review.names import names_nobody
from companion.review.text import mishap_line, review_lines, run_lines, when
from companion.review.text_charts import chart_lines
from companion.sentence import sentence
from companion.shop import checks
from companion.shop.model import Settings
from companion.words import Words

PROJECTS_SHOWN = 6
"""Projects shown closely on a page over everything."""
Seen = Callable[[Review], Review]
"""What is done to a review before it is shown."""


def _as_it_is(found: Review) -> Review:
    return found


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Add the arguments of this verb."""
    parser.add_argument(
        "project", metavar="PROJECT", nargs="?",
        help="only this project: its folder, file, or name as logged",
    )  # fmt: skip
    parser.add_argument(
        "--html", metavar="FILE", type=Path, help="one page with charts, readable without a network"
    )
    parser.add_argument("--json", action="store_true", help="the review as JSON, schema 1")
    parser.add_argument("--csv", metavar="FILE", type=Path, help="one line a step; - for stdout")
    parser.add_argument(
        "--events", metavar="FILE", type=Path, help="the bare events as JSON Lines; - for stdout"
    )
    parser.add_argument(
        "--rehearsed", action="store_true",
        help="the recorded rehearsal in a demo project's folder, instead of your own log",
    )  # fmt: skip
    group = parser.add_argument_group("what was logged wrong")
    group.add_argument(
        "--correct", metavar="WHAT", action="append", default=[],
        help="a new event that sets the log right, as in 'cut 3 took 4:30', 'cut 3 call' "
        "(the telephone rang), 'step 12 took 2 min', 'mishap 2 none', 'cut 3 logged' (undo)",
    )  # fmt: skip
    group.add_argument(
        "--run", metavar="WHEN", help="the run that begins so, as in 2026-05-04; else the newest"
    )
    add_calibrate_arguments(parser)
    group = parser.add_argument_group("what it costs")
    group.add_argument("--cost", metavar="COPIES", type=int, help="quote a batch of so many")
    group.add_argument(
        "--quote", metavar="FILE", type=Path, help="write the quote: .txt, .csv or .pdf"
    )
    group.add_argument("--prices", action="store_true", help="tell your prices, or change them")
    keep = parser.add_argument_group("the journal itself")
    keep.add_argument("--backup", metavar="FILE", type=Path, help="write a whole copy")
    keep.add_argument(
        "--take-in", metavar="FILE", type=Path, help="add another journal's events, no doubles"
    )
    keep.add_argument("--verify", action="store_true", help="look for damage")


def run(args: argparse.Namespace) -> int:
    """Look back.

    Raises:
        JournalError: the journal is damaged, or a file cannot be used.
        UsageError: the log knows no such project.
    """
    # years of events leave no garbage in circles, and to look for it takes a sixth of the time
    was_on = gc.isenabled()
    gc.disable()
    try:
        return _run(args)
    finally:
        if was_on:
            gc.enable()


def _run(args: argparse.Namespace) -> int:
    settings, words = common.user_settings()
    if args.prices and args.cost is None:
        from companion.cli.prices import ask_prices

        ask_prices(words)
        return EXIT_FINE
    if args.rehearsed:
        return _rehearsed(args, settings, words)
    with Journal(journal_file()) as journal:
        if _upkeep(args, journal, words):
            return EXIT_FINE
        if args.correct:
            _correct(args, journal, words)
            return EXIT_FINE
        if args.calibrate or args.uncalibrate:
            return run_calibrate(args, journal, settings, words)
        if args.cost is not None or args.quote is not None:
            return _cost(args, journal, settings, words)
        if args.html is not None:
            common.write_whole(args.html, made_page(args.project, journal, words).encode())
            return EXIT_FINE
        if not (args.events or args.csv or args.json):
            # without single steps: what was worked out before serves
            _show(_summary(args.project, journal), words, _whose(journal))
            return EXIT_FINE
        _tell(args, _events(args.project, journal), journal, words)
    return EXIT_FINE


def _tell(
    args: argparse.Namespace,
    events: list[Event],
    journal: Journal,
    words: Words,
    seen: Seen = _as_it_is,
) -> None:
    """Write the bare events, the steps, the JSON, or lines to read."""
    if args.events:
        _write(args.events, "".join(f"{line}\n" for line in event_lines(events)))
    if args.events and not (args.csv or args.json):
        return
    found = review(events, journal.sources(), journal.plan_text)
    if args.csv:
        _write(args.csv, steps_csv(found.runs))
    if args.json:
        print(review_json(found))
    elif not args.csv:
        _show(seen(found), words, _whose(journal), seen is _as_it_is)


def _whose(journal: Journal) -> str:
    """The sawyer to whom it is said what it comes down to."""
    return journal.sources()[0].sawyer or common.user_settings()[0].sawyer


def _show(found: Review, words: Words, sawyer: str, own: bool = True) -> None:
    """What it comes down to stands last: that is what is left on the screen."""
    lines = [*review_lines(found, words), *chart_lines(found, words)]
    columns = shutil.get_terminal_size((80, 24)).columns
    lines += in_short_lines(found, words, columns, sawyer, own)
    show("\n".join(lines))


def _rehearsed(args: argparse.Namespace, settings: Settings, words: Words) -> int:
    """Look at a demo's recorded rehearsal; the sawyer's own journal stays closed."""
    if args.project is None:
        raise UsageError("whose rehearsal?", "", "Name a demo, as in review quay_number.")
    keeping = (args.calibrate, args.uncalibrate, args.verify, args.take_in, args.backup,
               args.quote, args.cost is not None, args.prices, args.correct)  # fmt: skip
    if any(keeping):
        raise UsageError(
            "a rehearsal is only looked at", "", "Leave --rehearsed away, or the other word."
        )
    journal, name = recorded.open_recorded(Path(args.project), settings.language, words)
    with journal:

        def seen(found: Review) -> Review:
            return recorded.shown(found, words)

        if args.html is not None:
            common.write_whole(args.html, made_page(name, journal, words, seen).encode())
            return EXIT_FINE
        if not (args.events or args.csv or args.json):
            print(recorded.told(words), end="\n\n")
        _tell(args, list(journal.events()), journal, words, seen)
    return EXIT_FINE


def _correct(args: argparse.Namespace, journal: Journal, words: Words) -> None:
    """Write the corrections, all or none, and show the run as it now stands."""
    if args.project is None:
        raise UsageError(
            sentence("--correct needs a project"), "", sentence("Name its folder, file or name.")
        )
    found = review(_events(args.project, journal), journal.sources(), journal.plan_text)
    own = journal.sources()[0].key
    begun = {e.run for e in journal.events(kind="run-start") if e.source == own}
    runs = [
        r for r in found.runs
        if r.run in begun and not r.superseded and when(r.begun_s).startswith(args.run or "")
    ]  # fmt: skip
    if not runs:
        raise UsageError(
            sentence("no run of it begins {when}", when=args.run or "-"), "",
            sentence("kerfside review PROJECT lists them, each with its beginning."),
        )  # fmt: skip
    run = runs[-1]
    kinds = [k.key for k in checks.mishaps()]
    logged = [*found.mishaps, *found.struck]
    entries = [
        e for text in args.correct for e in correction(text, run, logged, kinds, time.time())
    ]
    journal.append(entries)
    now = review(list(journal.events(runs=[run.run])), journal.sources(), journal.plan_text)
    lines = [line for r in now.runs for line in run_lines(r, words)]
    show("\n".join([*lines, *(mishap_line(m, words) for m in now.mishaps)]))


def _cost(args: argparse.Namespace, journal: Journal, settings: Settings, words: Words) -> int:
    if args.cost is None:
        raise UsageError("--quote without --cost", "", "Say how many, as in --cost 10.")
    from companion.cli.cost import run_cost

    try:
        events = _events(args.project, journal) if args.project is not None else []
    except UsageError:
        events = []  # nothing is logged of it yet
    found = review(events, journal.sources(), journal.plan_text)
    own = _whose(journal)
    runs = [r for r in found.runs if r.sawyer == own] or found.runs
    return run_cost(args, runs, settings, words)


def made_page(
    named: str | None, journal: Journal, words: Words, seen: Seen = _as_it_is
) -> str:  # fmt: skip
    """The page of one project, or over everything with the newest run of each project."""
    from companion.review.page import detail_of, review_page

    if named is None:
        found = summary(journal, elsewhere=half_ahead(journal))
        close = [r.run for r in latest_by_project(found.runs, PROJECTS_SHOWN)]
        events = list(journal.events(runs=close))
        near = review(events, journal.sources(), journal.plan_text)
        shown = latest_by_project(near.runs, PROJECTS_SHOWN)
        title = ""
    else:
        events = _events(named, journal)
        found = seen(review(events, journal.sources(), journal.plan_text))
        shown = latest_by_project(found.runs, 1)
        logged = shown[0].project if shown else _logged_name(named)
        title = words.say("Review of {name}", name=logged)
    plans = {
        e.run: plan_or_none(journal.plan_text(str(e.data.get("plan"))))
        for e in events
        if e.kind == "run-start" and e.run and e.run in {r.run for r in shown}
    }
    details = [detail_of(r, found.mishaps, plans) for r in shown]
    return review_page(found, details, words, title, _whose(journal), seen is _as_it_is)


def _upkeep(args: argparse.Namespace, journal: Journal, words: Words) -> bool:
    """Do what is asked of the journal itself; whether anything was."""
    if args.verify:
        damage = journal.check()
        if damage:
            raise JournalError(
                "the journal is damaged", "; ".join(damage[:5]), "Restore the last backup."
            )
        show(words.count("{n} event, no damage.", "{n} events, no damage.", journal.count()))
    if args.take_in:
        before = set(journal.sources())
        n = journal.take_in(args.take_in)
        common.work_out(journal)
        show(words.count("{n} new event taken in.", "{n} new events taken in.", n))
        unnamed = {e.source for e in journal.events(kind="session-start") if names_nobody(e)}
        for source in journal.sources():
            if source not in before and source.key in unnamed:
                show(words.say("Its sittings name nobody: they are shown as those of {name}.",
                               name=source.sawyer))  # fmt: skip
    if args.backup:
        journal.backup(args.backup)
        show(words.count("{n} event copied.", "{n} events copied.", journal.count()))
    return bool(args.verify or args.take_in or args.backup)


def _summary(named: str | None, journal: Journal) -> Review:
    """All there is, or all of one project."""
    if named is None:
        return summary(journal, elsewhere=half_ahead(journal))
    found = summary(journal, (_logged_name(named), named))
    if not (found.sessions or found.runs):
        raise _nothing_of(_logged_name(named), journal)
    return found


def _nothing_of(name: str, journal: Journal) -> UsageError:
    newest_first = reversed([str(e.data.get("project")) for e in journal.events(kind="run-start")])
    known = list(dict.fromkeys(newest_first))[:PROJECTS_SHOWN]
    return UsageError(
        sentence("nothing is logged of {name}", name=name),
        "",
        sentence("Logged last: {known}.", known=", ".join(known)) if known
        else "kerfside review without a project lists all.",
    )  # fmt: skip


def _events(named: str | None, journal: Journal) -> list[Event]:
    """All events, or those of one project."""
    if named is None:
        return list(journal.events())
    name = _logged_name(named)
    starts = [
        e for kind in ("session-start", "run-start")
        for e in journal.events(kind=kind, projects=(name, named))
    ]  # fmt: skip
    if not starts:
        raise _nothing_of(name, journal)
    runs = {e.run for e in starts if e.run is not None}
    events = {e.number: e for e in starts}
    events.update((e.number, e) for e in journal.events(runs=sorted(runs)))
    return [events[number] for number in sorted(events)]


def _logged_name(named: str) -> str:
    """The name a project is logged under; the word itself when it is no project (any more)."""
    path = resolve_project(Path(named))
    if not path.exists():
        return named
    try:
        return load_project(path).name
    except KerfsideError:
        return named


def _write(to: Path, text: str) -> None:
    if str(to) == "-":
        sys.stdout.write(text)
        return
    try:
        # newline as made: CSV ends its lines by its own rule
        with to.open("w", encoding="utf-8", newline="") as out:
            out.write(text)
    except OSError as error:
        raise UsageError(
            sentence("{to} cannot be written", to=to), str(error), "Name another file."
        ) from error
