"""Remembers which plan each project's last sheet was printed from.

A small JSON file beside the journal, ``sheets.json``: project path -> short hash,
whether mirrored, when. At the saw the plan's hash is compared with it: holes on a
sheet of another plan bear other numbers, and that must be said before the first cut.
"""

from __future__ import annotations

import json
import os
from dataclasses import dataclass
from pathlib import Path

from companion.words import ENGLISH, Words

NAME = "sheets.json"


@dataclass(frozen=True, slots=True)
class Printed:
    """A sheet that was written."""

    short_hash: str
    """Of the plan it shows."""
    mirrored: bool
    when: str
    """ISO 8601, as given by the caller's clock."""


def remember_sheet(folder: Path, project: Path, printed: Printed) -> None:
    """Note that a sheet was written; earlier notes of the project are replaced.

    Args:
        folder: the data folder, made when missing.
        project: the project's file or folder; its full path is the key.
        printed: what was written.

    Raises:
        OSError: the file cannot be written.
    """
    folder.mkdir(parents=True, exist_ok=True)
    notes = _read(folder)
    notes[str(project.resolve())] = {
        "short_hash": printed.short_hash,
        "mirrored": printed.mirrored,
        "when": printed.when,
    }
    beside = folder / f"{NAME}.{os.getpid()}.part"
    beside.write_text(json.dumps(notes, indent=1, sort_keys=True), encoding="utf-8")
    beside.replace(folder / NAME)


def last_sheet(folder: Path, project: Path) -> Printed | None:
    """The project's last sheet, or None when none is known.

    An unreadable file counts as none: the note is a help, not a record.
    """
    note = _read(folder).get(str(project.resolve()))
    if not isinstance(note, dict):
        return None
    try:
        return Printed(str(note["short_hash"]), bool(note["mirrored"]), str(note["when"]))
    except KeyError:
        return None


def sheet_warning(folder: Path, project: Path, short_hash: str, words: Words = ENGLISH) -> str:
    """What the sawyer must know about the last sheet; empty when all is well or none is known.

    Args:
        folder: the data folder.
        project: as given to :func:`remember_sheet`.
        short_hash: of the plan about to be walked.
        words: the language.
    """
    printed = last_sheet(folder, project)
    if printed is None:
        return ""
    if printed.short_hash != short_hash:
        return words.say(
            "The last sheet shows plan {hash}, not this one. Print it again.",
            hash=printed.short_hash,
        )
    if printed.mirrored:
        return words.say("The sheet is mirrored: clockwise here is anticlockwise on it.")
    return ""


def _read(folder: Path) -> dict[str, object]:
    try:
        found = json.loads((folder / NAME).read_text(encoding="utf-8"))
    except (OSError, ValueError):
        return {}
    return found if isinstance(found, dict) else {}
