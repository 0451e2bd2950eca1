"""Plans kept on disk under the hash of everything they depend on.

The drawing's bytes, what is asked, the settings that matter, the tables, and the
planner's own code: change any and the name changes, so a stored plan is never out
of date. What cannot be read back is simply made again. No geometry is imported
here: with a stored plan the saw screen starts without it.
"""

from __future__ import annotations

import contextlib
import hashlib
import json
import os
from dataclasses import asdict
from functools import cache
from pathlib import Path

from companion import __version__
from companion.errors import PlanError
from companion.planner.plan import SCHEMA, Plan, plan_from_json
from companion.planner.project import ProjectSpec
from companion.planner.timing import NO_CALIBRATION, Calibration
from companion.sentence import sentence
from companion.shop import tables
from companion.shop.model import Settings

KEEP = 60
"""Plans kept at most; the longest unused go first."""
MAKERS = ("pattern", "planner", "shop", "words")
"""Packages whose code and data decide what a plan says."""


@cache
def _code_hash() -> str:
    digest = hashlib.sha256()
    root = Path(__file__).parent.parent
    for package in MAKERS:
        for path in sorted((root / package).rglob("*")):
            if path.suffix in {".py", ".toml", ".mo"}:
                digest.update(str(path.relative_to(root)).encode() + b"\0" + path.read_bytes())
    return digest.hexdigest()


def plan_key(
    spec: ProjectSpec, settings: Settings, calibration: Calibration = NO_CALIBRATION
) -> str:
    """Hash of all that the plan depends on, hex.

    Raises:
        PlanError: the drawing cannot be read.
    """
    try:
        drawing = hashlib.sha256(spec.pattern.read_bytes()).hexdigest()
    except OSError as error:
        raise PlanError(
            sentence("{pattern} cannot be read", pattern=spec.pattern),
            str(error),
            "Check the file and its rights.",
        ) from error
    asked = asdict(spec)
    # where the project lies does not change its plan
    del asked["folder"], asked["pattern"]
    known = {
        "drawing": drawing,
        "asked": asked,
        "saw": asdict(settings.saw),
        "drills": [asdict(d) for d in settings.drills],
        "sawyer": [settings.skill, settings.finger_distance_mm, settings.language, settings.inch],
        "calibration": asdict(calibration),
        "tables": tables.tables_hash(),
        "code": [__version__, SCHEMA, _code_hash()],
    }
    return hashlib.sha256(json.dumps(known).encode()).hexdigest()


def cached_plan(
    spec: ProjectSpec,
    settings: Settings,
    folder: Path,
    calibration: Calibration = NO_CALIBRATION,
) -> Plan | None:
    """The stored plan, or None when there is none that can be read.

    Args:
        spec: what is asked.
        settings: the user's.
        folder: where plans are kept; need not exist.
        calibration: from the log.

    Raises:
        PlanError: the drawing cannot be read.
    """
    path = _path(folder, plan_key(spec, settings, calibration))
    try:
        check, _, text = path.read_text(encoding="utf-8").partition("\n")
        if hashlib.sha256(text.encode()).hexdigest() != check:
            return None
        plan = plan_from_json(text)
    except (OSError, UnicodeDecodeError, PlanError):
        return None
    with contextlib.suppress(OSError):
        os.utime(path)
    return plan


def store_plan(
    plan: Plan,
    spec: ProjectSpec,
    settings: Settings,
    folder: Path,
    calibration: Calibration = NO_CALIBRATION,
) -> bool:
    """Keep a plan, whole or not at all.

    Returns:
        False when the folder cannot be written: then plans are made each time.
    """
    path = _path(folder, plan_key(spec, settings, calibration))
    text = plan.to_json()
    try:
        folder.mkdir(parents=True, exist_ok=True)
        part = path.with_suffix(f".{os.getpid()}.part")
        part.write_text(f"{hashlib.sha256(text.encode()).hexdigest()}\n{text}", encoding="utf-8")
        part.replace(path)
        _prune(folder)
    except OSError:
        return False
    return True


def _path(folder: Path, key: str) -> Path:
    return folder / f"{key[:40]}.plan.json"


def _prune(folder: Path) -> None:
    stored = sorted(folder.glob("*.plan.json"), key=lambda p: p.stat().st_mtime, reverse=True)
    for old in stored[KEEP:]:
        with contextlib.suppress(OSError):
            old.unlink()
