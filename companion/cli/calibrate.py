"""``kerfside review --calibrate``: learn from the log, on confirmation; or take it back."""

from __future__ import annotations

import argparse
import sys
import time
from typing import TYPE_CHECKING

from companion.cli.wrapping import answer, show
from companion.devices.paths import data_folder
from companion.errors import EXIT_FINE, UsageError
from companion.journal.store import Journal
from companion.review import kept
from companion.sentence import sentence
from companion.shop.model import Settings
from companion.words import Words

if TYPE_CHECKING:
    from companion.review.calibrate import Found
    from companion.review.observed import Timed


def add_calibrate_arguments(parser: argparse.ArgumentParser) -> None:
    """Add the flags."""
    group = parser.add_argument_group("what the log teaches")
    group.add_argument(
        "--calibrate", action="store_true",
        help="learn this sawyer's own times at this saw, for the plans to come",
    )  # fmt: skip
    group.add_argument("--yes", action="store_true", help="leave outliers out and keep, unasked")
    group.add_argument("--uncalibrate", action="store_true", help="take the last calibration back")


def run_calibrate(
    args: argparse.Namespace, journal: Journal, settings: Settings, words: Words
) -> int:
    """Learn and keep, or take back.

    Raises:
        UsageError: both asked for, or the log holds nothing to learn from.
        ShopError: the kept file cannot be used.
    """
    if args.calibrate and args.uncalibrate:
        raise UsageError("--calibrate and --uncalibrate", "both given", "Give one of them.")
    # numbers are crunched only here: a plain review starts without
    from companion.review.observed import timed_steps

    who = kept.who_of(settings)
    if args.uncalibrate:
        return _take_back(who, words)
    before = kept.kept(data_folder(), who)
    left_out = set(before[-1].left_out) if before else set()
    timed = timed_steps(journal, settings.skill, settings.saw.name, settings.sawyer)
    found = _told(timed, left_out, settings, words, journal)
    if found.outliers and _yes(args, words.say("Leave these out? [y/N] ")):
        left_out |= {t.key for t in found.outliers}
        found = _told(timed, left_out, settings, words, journal, asked=True)
    if not _yes(args, words.say("Use this for the plans to come? [y/N] ")):
        show(words.say("Nothing was kept."))
        return EXIT_FINE
    one = kept.Kept(
        found.calibration, settings.skill, time.time(), found.sessions, found.used,
        tuple(sorted(left_out & {t.key for t in timed})),
    )  # fmt: skip
    kept.keep(data_folder(), who, one)
    show(words.say("Kept. review --uncalibrate takes it back."))
    return EXIT_FINE


def _told(
    timed: list[Timed], left_out: set[str], settings: Settings, words: Words, journal: Journal,
    asked: bool = False,
) -> Found:  # fmt: skip
    from companion.review.calibrate import calibrate
    from companion.review.calibration_text import found_lines

    found = calibrate(timed, left_out)
    if found is None:
        raise _nothing(journal, settings)
    show("\n".join(found_lines(found, settings.skill, words, asked)))
    return found


def _nothing(journal: Journal, settings: Settings) -> UsageError:
    own = journal.sources()[0].key
    pairs = dict.fromkeys(
        (str(e.data["sawyer"] or "-"), str(e.data["saw"] or "-"))
        for e in journal.events(kind="session-start")
        if e.source == own and not e.data.get("rehearsed") and {"sawyer", "saw"} <= e.data.keys()
    )
    known = ", ".join(f"{sawyer} / {saw}" for sawyer, saw in pairs)
    return UsageError(
        sentence(
            "nothing is timed yet of {sawyer} at {name}",
            sawyer=settings.sawyer,
            name=settings.saw.name,
        ),
        "rehearsals, other saws and other people do not count",
        sentence("The log knows these sawyers and saws: {known}. Set yours with kerfside setup "
                 "--sawyer NAME --saw NAME.", known=known) if known
        else "Walk a plan with kerfside saw first.",
    )  # fmt: skip


def _yes(args: argparse.Namespace, question: str) -> bool:
    if args.yes:
        return True
    if not sys.stdin.isatty():
        return False
    return answer(question).strip().lower() in ("y", "yes", "j", "ja")


def _take_back(who: str, words: Words) -> int:
    if kept.take_back(data_folder(), who) is None:
        show(words.say("There is nothing to take back."))
        return EXIT_FINE
    left = kept.kept(data_folder(), who)
    show(words.say("Taken back."))
    if left:
        show(words.count("What was learnt from {n} session is in force again.",
                          "What was learnt from {n} sessions is in force again.",
                          left[-1].sessions))  # fmt: skip
    else:
        show(words.say("Minutes come from the tables again."))
    return EXIT_FINE
