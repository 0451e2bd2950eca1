"""Calibrations that were accepted, per saw and per person, the newest in force.

A small JSON file beside the journal, ``calibration.json``; older ones stay below the newest,
so that it can be taken back. Light: the saw's start reads it.
"""

from __future__ import annotations

import json
import os
from collections.abc import Sequence
from dataclasses import asdict, dataclass, fields, replace
from pathlib import Path
from typing import Any

from companion.errors import ShopError
from companion.planner.timing import NO_CALIBRATION, Calibration
from companion.sentence import sentence
from companion.shop import tables
from companion.shop.model import Settings, Skill

NAME = "calibration.json"
SCHEMA = 1
MOST_KEPT = 50
"""Of one sawyer at one saw; the oldest go first."""


@dataclass(frozen=True, slots=True)
class Kept:
    """One accepted calibration."""

    calibration: Calibration
    skill: Skill
    """The level whose table values it stands on."""
    when_s: float
    """Unix time."""
    sessions: int
    used: int
    """Observations it was made of."""
    left_out: tuple[str, ...] = ()
    """Keys of the observations that were left out as outliers."""


def who_of(settings: Settings) -> str:
    """The saw and the person, as one key."""
    return json.dumps([settings.saw.name, settings.sawyer], ensure_ascii=False)


def kept(folder: Path, who: str) -> tuple[Kept, ...]:
    """All that are kept of one sawyer at one saw, oldest first.

    Raises:
        ShopError: the file is there but cannot be read.
    """
    return tuple(_read(folder).get(who, ()))


def in_force(folder: Path, settings: Settings) -> Calibration:
    """The newest, turned to the level now set; none: the tables as they are.

    Raises:
        ShopError: the file is there but cannot be read.
    """
    found = kept(folder, who_of(settings))
    if not found:
        return NO_CALIBRATION
    return for_skill(found[-1].calibration, found[-1].skill, settings.skill)


def for_skill(calibration: Calibration, was: Skill, now: Skill) -> Calibration:
    """The same hand's factors on another level's table values."""
    if was == now:
        return calibration
    old, new = (tables.number("timing", f"skill.{s}", 0.1, 10) for s in (was, now))
    return replace(calibration, **{
        name: round(getattr(calibration, name) * old / new, 4)
        for name in ("thread", "feed", "turn", "clear", "drill")
    })  # fmt: skip


def keep(folder: Path, who: str, one: Kept) -> None:
    """Put one in force.

    Raises:
        ShopError: the file cannot be read or written.
    """
    every = _read(folder)
    every[who] = [*every.get(who, ()), one][-MOST_KEPT:]
    _write(folder, every)


def take_back(folder: Path, who: str) -> Kept | None:
    """Drop the newest; the one before comes into force again.

    Returns:
        What was dropped; None when there was none.

    Raises:
        ShopError: the file cannot be read or written.
    """
    every = _read(folder)
    own = list(every.get(who, ()))
    if not own:
        return None
    last = own.pop()
    every[who] = own
    _write(folder, every)
    return last


def _read(folder: Path) -> dict[str, Sequence[Kept]]:
    path = folder / NAME
    if not path.exists():
        return {}
    try:
        raw = json.loads(path.read_text(encoding="utf-8"))
        if raw["schema"] != SCHEMA:
            raise ValueError(f"schema {raw['schema']}")
        return {who: [_kept(v) for v in row] for who, row in raw["kept"].items()}
    except (OSError, ValueError, KeyError, TypeError, AttributeError) as error:
        raise ShopError(
            sentence('the calibration in {path} cannot be read', path=path), repr(error),
            "Delete the file and run kerfside review --calibrate; the log is all it needs.",
        ) from error  # fmt: skip


def _kept(value: dict[str, Any]) -> Kept:
    raw = dict(value["calibration"])
    raw["materials"] = tuple((str(m), float(f)) for m, f in raw["materials"])
    known = {f.name for f in fields(Calibration)}
    calibration = Calibration(**{k: v for k, v in raw.items() if k in known})
    for name, factor in asdict(calibration).items():
        if name not in ("materials", "depth_power") and not 0.01 <= float(factor) <= 100:
            raise ValueError(f"{name} {factor}")
    if value["skill"] not in tables.SKILLS:
        raise ValueError(value["skill"])
    return Kept(
        calibration, value["skill"], float(value["when_s"]), int(value["sessions"]),
        int(value["used"]), tuple(value["left_out"]),
    )  # fmt: skip


def _write(folder: Path, every: dict[str, Sequence[Kept]]) -> None:
    path = folder / NAME
    body = {"schema": SCHEMA, "kept": {w: [asdict(k) for k in row] for w, row in every.items()}}
    try:
        folder.mkdir(parents=True, exist_ok=True)
        beside = path.with_name(f"{NAME}.{os.getpid()}.part")
        beside.write_text(json.dumps(body, ensure_ascii=False, indent=1), encoding="utf-8")
        beside.replace(path)
    except OSError as error:
        raise ShopError(
            sentence("the calibration cannot be written to {path}", path=path),
            str(error),
            "Check the folder's rights.",
        ) from error
