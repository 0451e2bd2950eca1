"""A recorded rehearsal: a journal in a demo's folder, so that a review has something to show.

Rules kept here:

* it is read into a journal in memory, never into the sawyer's own: no sum, no
  calibration and no practice level ever sees it;
* a file with a session or run that is not marked as a rehearsal is refused;
* it is shown against the plan of today; when its steps are not that plan's, it is refused.
"""

from __future__ import annotations

import json
from collections.abc import Iterable, Iterator
from dataclasses import replace
from pathlib import Path
from typing import Any

from companion.cli import common
from companion.devices.paths import resolve_project, shipped
from companion.errors import JournalError, UsageError
from companion.journal.model import Entry
from companion.journal.store import Journal
from companion.planner.plan import Plan
from companion.planner.project import load_project
from companion.planner.timing import NO_CALIBRATION
from companion.review.build import together
from companion.review.model import Review
from companion.review.runs import RunsSeen
from companion.sentence import sentence
from companion.shop.settings import default_settings
from companion.words import Words

FILE = "rehearsal.jsonl"
"""One event a line, as ``review --events`` writes them; keys that hold nothing may be left out."""


def open_recorded(project: Path, language: str, words: Words) -> tuple[Journal, str]:
    """A project's recorded rehearsal as a journal in memory, its plan kept in it.

    Args:
        project: folder, its project.toml, or a demo's name.
        language: of the plan's titles.
        words: the same, for them.

    Returns:
        The open journal, and the project's name as logged.

    Raises:
        UsageError: nothing is recorded there.
        JournalError: what is recorded cannot be used.
    """
    spec = load_project(resolve_project(project))
    file = spec.folder / FILE
    if not file.is_file():
        raise UsageError(
            sentence("{project} holds no recorded rehearsal", project=project),
            "",
            sentence("The demos do: {known}.", known=", ".join(_demos())),
        )
    entries = list(read(file))
    # recorded with the settings as delivered, so shown against the plan that these give
    settings = replace(default_settings(), language=language)
    plan = common.planned(
        spec, settings, words, common.progress_line(), calibrated=NO_CALIBRATION
    )  # fmt: skip
    must_fit(entries, plan, file)
    journal = Journal(None)
    for key in sorted({str(e.data["plan"]) for e in entries if e.kind == "run-start"}):
        journal.keep_plan(key, plan.to_json())
    journal.append(entries)
    return journal, spec.name


def _demos() -> list[str]:
    return sorted(f.parent.name for f in shipped("demo_projects").glob(f"*/{FILE}"))


def read(file: Path) -> Iterator[Entry]:
    """The events of a recorded rehearsal, in the order of writing.

    Raises:
        JournalError: a line is no event, or the file is not marked as a rehearsal.
    """
    try:
        lines = file.read_text(encoding="utf-8").splitlines()
    except (OSError, UnicodeDecodeError) as error:
        raise JournalError(
            sentence("{file} cannot be read", file=file), str(error), "Install Kerfside again."
        ) from error
    for number, line in enumerate(lines, 1):
        try:
            entry = _entry(json.loads(line))
        except (ValueError, KeyError, TypeError) as error:
            raise JournalError(
                sentence("{file}: line {number} is no event", file=file, number=number),
                repr(error),
                "Install Kerfside again.",
            ) from error
        if entry.kind in ("session-start", "run-start") and entry.data.get("rehearsed") is not True:
            raise JournalError(
                sentence(
                    "{file}: line {number} is not marked as a rehearsal", file=file, number=number
                ),
                "",
                "Take in a real journal with kerfside review --take-in.",
            )
        yield entry


def _entry(told: dict[str, Any]) -> Entry:
    return Entry(
        float(told["wall_s"]), float(told["mono_s"]), str(told["session"]), str(told["kind"]),
        dict(told["data"]), told.get("run"), told.get("step"), told.get("cut"), told.get("stage"),
    )  # fmt: skip


def must_fit(entries: Iterable[Entry], plan: Plan, file: Path) -> None:
    """See that each event's step is the plan's step of that number.

    Minutes may have changed since; which steps there are, and of which cuts, may not.

    Raises:
        JournalError: another plan was walked.
    """
    known = {s.number: (s.stage, s.cut) for s in plan.steps}
    for entry in entries:
        if entry.step is not None and known.get(entry.step) != (entry.stage, entry.cut):
            raise JournalError(
                sentence("{file} was recorded with another plan", file=file),
                sentence("step {step} is not the same", step=entry.step),
                "Review a project of your own, or install Kerfside again.",
            )


def shown(found: Review, words: Words) -> Review:
    """The same review for a reader: rehearsals counted, and each said to be one by its name.

    Everywhere else rehearsals are in no sum. Here nothing but rehearsals is looked at, so
    the sums are theirs, and the mark has to stand wherever the project is named.
    """

    def marked(project: str) -> str:
        return f"{project} {words.say('(rehearsal)')}"

    sessions = tuple(replace(s, project=marked(s.project), rehearsed=False) for s in found.sessions)
    runs = tuple(replace(r, project=marked(r.project), rehearsed=False) for r in found.runs)
    return together(sessions, RunsSeen(runs, found.mishaps, found.notes))


def told(words: Words) -> str:
    """The line that stands before such a review."""
    return words.say("A recorded rehearsal: sawyer and clock are made up. It is not in your log.")
